"""A car whose owner changed nothing for two weeks: whatever way its drives are split, nothing must be claimed.

The seven drives are public recordings, see INDEX.md beside them; without them this is skipped. Mixed gears, no
weather, no temperatures: about the worst that people bring.
"""

import datetime
from pathlib import Path

import pytest

from pullproof.analysis.comparison import compare_records
from pullproof.analysis.comparison.outings import part_outings
from pullproof.car import Boost, Car, Engine
from pullproof.computed_channels import record_pull
from pullproof.conditions import Conditions, ConditionsSheet
from pullproof.pulls import find_pulls
from pullproof.reading import read_log

LOGS = Path(__file__).parents[4] / "shared" / "logs" / "turbo-petrol-a"
pytestmark = pytest.mark.skipif(not LOGS.is_dir(), reason="the published logs are not beside the repository")

CAR = Car("turbo petrol", engine=Engine(2.5, 4, 6700.0, "petrol", "turbo"), boost=Boost(100.0))
SPLITS = range(1, 64, 4)
"""Every fourth way of giving the seven drives to two sides; bit i gives drive i to the side after."""


@pytest.fixture(scope="module")
def drives():
    """Pulls of each drive, with the date and hour that its file name tells."""
    paths = sorted(LOGS.glob("*.csv"))
    entries = {path.name: Conditions(path.name, when=_started(path)) for path in paths}
    logs = [read_log(path, CAR) for path in paths]
    pulls = [
        [record_pull(log, pull, CAR, entries[log.file]) for pull in find_pulls(log, CAR) if pull.used] for log in logs
    ]
    return pulls, ConditionsSheet(entries)


def _started(path):
    return datetime.datetime.strptime(path.stem, "%Y%m%d%H%M")  # noqa: DTZ007  (local time, as in the name)


@pytest.mark.parametrize("split", SPLITS)
def test_nothing_is_claimed_where_nothing_was_changed(drives, split):
    """No measure is called lower or higher, whichever drives are called before and after."""
    pulls, sheet = drives
    sides = [[record for i, drive in enumerate(pulls) if split >> i & 1 == side for record in drive] for side in (0, 1)]
    records = part_outings((*sides[0], *sides[1]), sheet)
    comparison = compare_records(records[: len(sides[0])], records[len(sides[0]) :], car=CAR)
    assert {
        measure.id: measure.verdict for measure in comparison.measures if measure.verdict in ("lower", "higher")
    } == {}
