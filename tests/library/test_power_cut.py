"""A power cut at any moment loses nothing that was acknowledged: a real import is killed again and again.

SIGKILL leaves what the kernel holds, so it stands for the process dying, not for the disk losing power; that what was
told of had been flushed is asked in `test_files` and `test_opening`.
"""

from collections.abc import Callable
from pathlib import Path

import pytest
from tests.library.power_cut import run_import, trial
from tests.library.small_logs import SHEET, log_text

KILLS = 16


@pytest.fixture(scope="module")
def place(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Logs and a car sheet."""
    place = tmp_path_factory.mktemp("power")
    (place / "logs").mkdir()
    for number in range(30):
        (place / "logs" / f"{number:02}.csv").write_text(log_text(number))
    (place / "car.toml").write_text(SHEET)
    return place


def test_nothing_that_was_told_of_is_lost(place: Path) -> None:
    """After each kill every file that was told of is there, row and bytes, and the next import goes on."""
    trial(place, place / "logs", place / "car.toml", KILLS, seed=1, more=["--workers", "0"])


def test_readers_do_not_outlive_their_import(tmp_path: Path, place: Path) -> None:
    """Reading processes of an import that was killed end by themselves."""
    psutil = pytest.importorskip("psutil", reason="psutil shows which processes are left")

    process = run_import(place / "logs", place / "car.toml", tmp_path / "library", ["--workers", "2"])
    assert process.stdout is not None
    process.stdout.readline()
    readers = psutil.Process(process.pid).children(recursive=True)
    assert readers
    process.kill()
    process.communicate()
    _, alive = psutil.wait_procs(readers, timeout=20)
    assert not alive


def test_a_catalogue_in_postgresql_loses_nothing_either(
    place: Path, tmp_path: Path, new_database: Callable[[], str]
) -> None:
    """Killed imports into PostgreSQL leave rows and files that agree."""
    address = new_database()
    more = ["--workers", "0", "--database", address]
    trial(tmp_path, place / "logs", place / "car.toml", 3, seed=3, more=more, database=address)
