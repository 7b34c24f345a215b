"""Check: what is missing or changed is found and named, what can be made again is, and clutter is no damage."""

import datetime
import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from pullproof.library import Library, catalogue, open_library
from pullproof.library.checking import check_library, repair_library
from pullproof.library.files import keep_bytes, original_path, samples_path
from pullproof.library.importing import import_logs
from pullproof.library.schema import CarRow, ChangeRow, LogRow, PhotoRow

Write = Callable[..., Path]
EVER = datetime.datetime(2026, 1, 1)  # noqa: DTZ001  clock on the wall


@pytest.fixture
def filled(library: Library, tmp_path: Path, write_log: Write, sheet: str) -> tuple[Library, list[LogRow]]:
    """A library with three logs and a photo."""
    for number in range(3):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    photo = keep_bytes(library.folder, b"\xff\xd8\xff photo")
    with library.transaction() as session:
        car = catalogue.add_car(session, sheet)
        change = catalogue.add(session, ChangeRow(car_id=car.id, what="pipe", fitted=EVER))
        row = PhotoRow(change_id=change.id, hash=photo.hash, size=photo.size, file="pipe.jpg", media_type="image/jpeg")
        catalogue.add(session, row)
    list(import_logs(library, car.id, [tmp_path / "logs"], workers=0))
    with library.reading() as session:
        return library, catalogue.logs(session, car.id)


def test_a_whole_library_is_clean(filled: tuple[Library, list[LogRow]]) -> None:
    """Where nothing is wrong nothing is found, and every file was looked at."""
    library, logs = filled
    seen: list[tuple[int, int]] = []
    check = check_library(library, lambda done, total: seen.append((done, total)))
    assert check.sound
    assert check.findings == ()
    assert (check.logs, check.photos, check.files) == (3, 1, 7)
    assert check.size == sum(log.size + log.samples_size for log in logs) + len(b"\xff\xd8\xff photo")
    assert seen == [(done, 7) for done in range(1, 8)]


def test_one_changed_bit_is_found(filled: tuple[Library, list[LogRow]]) -> None:
    """An original in which a single bit turned is damage, and the sentence names the log."""
    library, logs = filled
    path = original_path(library.folder, logs[1].hash)
    content = bytearray(path.read_bytes())
    content[100] ^= 1
    path.write_bytes(content)
    check = check_library(library)
    (finding,) = check.findings
    assert not check.sound
    assert (finding.kind, finding.log_id, finding.damage) == ("original changed", logs[1].id, True)
    assert finding.file == f"originals/{logs[1].hash[:2]}/{logs[1].hash[2:]}"
    assert "1.csv: other bytes than before. Restore a backup" in finding.sentence


def test_missing_files_are_found(filled: tuple[Library, list[LogRow]]) -> None:
    """A missing original and a missing photo are damage; missing or changed samples are not, they can be made again."""
    library, logs = filled
    original_path(library.folder, logs[0].hash).unlink()
    samples_path(library.folder, logs[1].hash, logs[1].reading_key).unlink()
    samples_path(library.folder, logs[2].hash, logs[2].reading_key).write_bytes(b"cut off")
    for path in (library.folder / "originals").rglob("*"):
        if path.is_file() and path.read_bytes().startswith(b"\xff\xd8\xff"):
            path.unlink()
    found = {(finding.kind, finding.log_id): finding for finding in check_library(library).findings}
    assert set(found) == {
        ("original missing", logs[0].id), ("original missing", None), ("samples missing", logs[1].id),
        ("samples changed", logs[2].id),
    }  # fmt: skip
    assert [finding.damage for finding in found.values()].count(True) == 2
    assert "7 bytes instead of" in found["samples changed", logs[2].id].sentence


def test_repair_makes_samples_anew(filled: tuple[Library, list[LogRow]]) -> None:
    """What can be made from originals is, and what cannot be is said; nothing else is touched."""
    library, logs = filled
    for log in logs[:2]:
        samples_path(library.folder, log.hash, log.reading_key).unlink()
    original_path(library.folder, logs[0].hash).unlink()
    failed = repair_library(library, check_library(library))
    assert len(failed) == 1
    assert "0.csv" in failed[0]
    left = {(finding.kind, finding.log_id) for finding in check_library(library).findings}
    assert left == {("original missing", logs[0].id), ("samples missing", logs[0].id)}


def test_clutter_is_no_damage_and_goes_when_it_is_old(filled: tuple[Library, list[LogRow]]) -> None:
    """A file that no row names is named; repair removes it only once no import can need it."""
    library, _ = filled
    stray = original_path(library.folder, keep_bytes(library.folder, b"stray").hash)
    (library.folder / "incoming" / "new-x").write_bytes(b"half")
    check = check_library(library)
    assert check.sound
    assert sorted(finding.kind for finding in check.findings) == ["file not named", "left in incoming"]
    repair_library(library, check)
    assert stray.exists()
    for path in (stray, library.folder / "incoming" / "new-x"):
        os.utime(path, (time.time() - 3 * 86_400,) * 2)
    repair_library(library, check)
    assert check_library(library).findings == ()


def test_a_file_that_cannot_be_opened_is_found(filled: tuple[Library, list[LogRow]]) -> None:
    """A folder in the place of an original is damage like any other, not an error."""
    library, logs = filled
    path = original_path(library.folder, logs[0].hash)
    path.unlink()
    path.mkdir()
    assert [finding.kind for finding in check_library(library).findings] == ["original changed"]


def test_a_damaged_catalogue_is_found(tmp_path: Path, sheet: str) -> None:
    """A row that points nowhere, which only damage or a stranger's hand can make, is found."""
    with open_library(tmp_path) as library, library.transaction() as session:
        catalogue.add_car(session, sheet)
    with sqlite3.connect(tmp_path / "catalogue.sqlite") as connection:
        connection.execute("INSERT INTO days (car_id, label, date, place, fuel, notes, build_stated, made_at) "
                           "VALUES (77, 'x', '2026-05-09', '', '', '', 0, '2026-05-09 10:00:00')")  # fmt: skip
    connection.close()
    with open_library(tmp_path) as library:
        (finding,) = check_library(library).findings
        with library.reading() as session:
            assert session.get(CarRow, 77) is None
    assert (finding.kind, finding.damage) == ("catalogue damaged", True)
    assert "days" in finding.sentence
