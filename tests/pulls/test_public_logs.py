"""Full-load runs in logs that others published, read off by eye and written down by hand.

The logs are recordings by people who do not know of this project; where each is from stands in the INDEX.md beside
them. They are not part of this repository, so without them these tests are skipped. Times are those of the logger;
engine speeds are its own samples at the first and last row with full throttle (pedal where there is one).
"""

from functools import cache
from pathlib import Path

import pytest

from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log

LOGS = Path(__file__).parents[3] / "shared" / "logs"
pytestmark = pytest.mark.skipif(not LOGS.is_dir(), reason="the published logs are not beside the repository")

# file, start s, end s, rpm at the start, rpm at the end. INDEX.md: 15 full-throttle spans of 1500 rpm or more, in file
# order 2, 1, 2, 1, 4, 4, 1; one full pull in the other car.
FULL_THROTTLE = [
    ("turbo-petrol-a/201607211200.csv", 302.98, 306.49, 3424, 6769),
    ("turbo-petrol-a/201607211200.csv", 440.86, 442.55, 3856, 5588),
    ("turbo-petrol-a/201607220800.csv", 363.19, 365.67, 3196, 5957),
    ("turbo-petrol-a/201607250900.csv", 367.56, 368.27, 4780, 6516),
    ("turbo-petrol-a/201607250900.csv", 369.41, 371.96, 4050, 6383),
    ("turbo-petrol-a/201607251200.csv", 893.26, 899.15, 3415, 5000),
    ("turbo-petrol-a/201607251500.csv", 461.16, 462.93, 3656, 5470),
    ("turbo-petrol-a/201607251500.csv", 626.31, 630.29, 3074, 6404),
    ("turbo-petrol-a/201607251500.csv", 1304.01, 1306.77, 2972, 4478),
    ("turbo-petrol-a/201607251500.csv", 1517.63, 1521.04, 2955, 5725),
    ("turbo-petrol-a/201607270830.csv", 131.18, 131.97, 4673, 6762),
    ("turbo-petrol-a/201607270830.csv", 134.53, 136.58, 3744, 5764),
    ("turbo-petrol-a/201607270830.csv", 388.32, 389.19, 3621, 6147),
    ("turbo-petrol-a/201607270830.csv", 391.09, 393.38, 3718, 6010),
    ("turbo-petrol-a/201608030800.csv", 441.63, 445.21, 2368, 5952),
    ("turbo-petrol-b/201704061900.csv", 668.53, 670.46, 3820, 6320),
]

# Truck: first second at full throttle and second of the highest engine speed, of the 15 rises of 1000 rpm (the last
# one 1050 rpm from just below full throttle), and whether the road speed is zero all along.
TRUCK = "heavy-truck/2015-04-12.csv"
TRUCK_RISES = [
    (3364, 3368, True), (3462, 3466, False), (4044, 4053, False), (4739, 4746, False), (4792, 4798, True),
    (4859, 4864, False), (7725, 7733, False), (8638, 8643, True), (8743, 8749, False), (10359, 10363, True),
    (12794, 12801, False), (13558, 13563, True), (14461, 14469, False), (15112, 15116, True), (15171, 15175, False),
]  # fmt: skip

NO_PULL = [
    "diesel-round-robin/2017-07-13.csv",
    "diesel-round-robin/2017-08-07.csv",
    "diesel-round-robin/2018-02-26.csv",
    "diesel-long-format/2019-02-22_08-03-05.csv",
    "diesel-long-format/2019-03-05_22-17-15.csv",
    "diesel-long-format/2019-03-06_19-32-34.csv",
    "one-hertz/drive.csv",
    "turbo-petrol-b/201704070800.csv",
    "unit-row/2025-12-08_17.22.53.csv",
    "unit-row/2026-02-28_18.10.43.csv",
]


@cache
def pulls_of(file: str) -> tuple[Pull, ...]:
    return find_pulls(read_log(LOGS / file))


@pytest.mark.parametrize(("file", "start", "end", "low", "high"), FULL_THROTTLE)
def test_a_full_throttle_span_is_found_and_used(file: str, start: float, end: float, low: int, high: int) -> None:
    """Each span that a person reads off the log is a used pull, its ends right to 0.2 s."""
    near = [pull for pull in pulls_of(file) if abs(pull.start_s - start) < 0.2 and abs(pull.end_s - end) < 0.2]
    assert len(near) == 1
    assert near[0].used, near[0].reason
    # 0.2 s at up to 2600 rpm/s in first gear.
    assert near[0].rpm_start == pytest.approx(low, abs=520)
    assert near[0].rpm_end == pytest.approx(high, abs=520)


@pytest.mark.parametrize(
    ("file", "count"),
    [
        ("201607211200", 2), ("201607220800", 1), ("201607250900", 2), ("201607251200", 1), ("201607251500", 4),
        ("201607270830", 4), ("201608030800", 1),
    ],
)  # fmt: skip
def test_no_more_wide_spans_than_there_are(file: str, count: int) -> None:
    """The used pulls that cover 1500 rpm or more are those of the list, and no others."""
    pulls = pulls_of(f"turbo-petrol-a/{file}.csv")
    assert sum(pull.used and pull.rpm_end - pull.rpm_start >= 1500 for pull in pulls) == count


@pytest.mark.parametrize(("start", "end", "stands"), TRUCK_RISES)
def test_a_truck_is_found_by_its_own_range(start: int, end: int, stands: bool) -> None:
    """Every rise of 1000 rpm is listed; with zero road speed it drives nothing, else first gear is used.

    The truck sets off with a slipping converter, so a used pull begins where engine and road speed keep step.
    """
    held = [pull for pull in pulls_of(TRUCK) if start - 1 <= pull.start_s < pull.end_s <= end + 1]
    assert len(held) == 1
    (pull,) = held
    assert pull.used is not stands, pull.reason
    assert pull.end_s == pytest.approx(end, abs=1.0)
    if stands:
        assert "stands still" in (pull.reason or "")
    else:
        # 13.0 km/h by 8 mph at 1686 rpm in second, about 1.35 times as much per km/h in first.
        assert pull.gear in (None, 1)
        assert pull.rpm_per_kmh == pytest.approx(172.0, rel=0.18)


@pytest.mark.parametrize("file", NO_PULL)
def test_driving_without_a_pull_has_none(file: str) -> None:
    """Cruising, slow full-pedal climbs on a motorway, stabs and noise give nothing to use."""
    assert not any(pull.used for pull in pulls_of(file))


def test_the_motorway_runs_are_called_too_slow() -> None:
    """Full pedal in top gear is listed with the reason that the run is too slow."""
    listed = [pull for file in NO_PULL[:3] for pull in pulls_of(file)]
    assert sum("too slow" in (pull.reason or "") for pull in listed) >= 5


def test_a_pedal_that_ends_at_65_percent_is_a_doubt_on_a_used_pull() -> None:
    """The one brisk run of the second diesel, 61 to 91 km/h at the pedal's stop, is used, and the stop is said."""
    (pull,) = pulls_of("diesel-long-format/2019-02-19_19-10-45.csv")
    assert pull.used
    assert pull.start_s == pytest.approx(134.79, abs=0.2)
    assert pull.end_s == pytest.approx(138.98, abs=0.3)
    assert any("65 %" in text for text in pull.assumptions)


def test_a_log_without_engine_speed_is_said_to_be_one() -> None:
    """A dozen rows without engine speed cannot be answered."""
    with pytest.raises(CannotAnswer, match="no engine speed"):
        pulls_of("diesel-long-format/2019-03-06_16-46-53.csv")
