"""Import: each file told of once it is safe, what is there passed over, what fails named, stopped and gone on with."""

import datetime
import importlib
import os
import time
from collections.abc import Callable, Sequence
from pathlib import Path

import pytest
from sqlalchemy import event, select
from tests.library.test_samples import assert_same

from pullproof.errors import CannotAnswer, CannotRead, WrongUse
from pullproof.library import Library, catalogue, importing, readers
from pullproof.library.checking import check_library
from pullproof.library.files import original_path, samples_path
from pullproof.library.importing import FileOutcome, begin_import, find_files, import_logs, run_import
from pullproof.library.jobs import ask_to_stop, was_interrupted
from pullproof.library.readers import read_all
from pullproof.library.readings import log_of
from pullproof.library.samples import read_samples
from pullproof.library.schema import CarRow, DayRow, JobRow, LogRow, PullRow
from pullproof.pulls import find_pulls
from pullproof.reading import read_log

Write = Callable[..., Path]


@pytest.fixture
def car(library: Library, sheet: str) -> CarRow:
    """A car in the library."""
    with library.transaction() as session:
        return catalogue.add_car(session, sheet)


@pytest.fixture
def plain_car(plain_library: Library, sheet: str) -> CarRow:
    """A car in the library on SQLite."""
    with plain_library.transaction() as session:
        return catalogue.add_car(session, sheet)


def take(library: Library, car: CarRow, *paths: Path, **more: object) -> list[FileOutcome]:
    return list(import_logs(library, car.id, paths, **{"workers": 0, **more}))  # type: ignore[arg-type]


def rows(library: Library, car: CarRow) -> list[LogRow]:
    with library.reading() as session:
        return catalogue.logs(session, car.id)


def kinds(outcomes: Sequence[FileOutcome]) -> list[str]:
    return [outcome.outcome for outcome in outcomes]


def test_an_imported_log_is_what_reading_gives(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """The original is kept byte for byte, the samples are those of `read_log`, the pulls those of `find_pulls`."""
    path = write_log(tmp_path / "logs" / "drive.csv")
    (outcome,) = take(library, car, path)
    (row,) = rows(library, car)
    assert (outcome.outcome, outcome.log_id, outcome.hash) == ("imported", row.id, row.hash)
    assert original_path(library.folder, row.hash).read_bytes() == path.read_bytes()
    log = read_log(path, catalogue.car_of(car))
    kept = read_samples(samples_path(library.folder, row.hash, row.reading_key))
    assert (kept.file, kept.columns, list(kept.traces)) == (log.file, log.columns, list(log.traces))
    pulls = find_pulls(log, catalogue.car_of(car))
    assert len(pulls) == outcome.pulls == 1
    assert outcome.used == 1
    with library.reading() as session:
        (pull,) = session.scalars(select(PullRow).where(PullRow.log_id == row.id))
    assert (pull.start_s, pull.end_s, pull.used) == (pulls[0].start_s, pulls[0].end_s, True)
    assert check_library(library).findings == ()


def test_what_is_there_is_passed_over(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """A second import reads nothing, and a copy under another name is the same log."""
    write_log(tmp_path / "logs" / "a.csv", 1)
    write_log(tmp_path / "logs" / "b.csv", 2)
    assert kinds(take(library, car, tmp_path / "logs")) == ["imported", "imported"]
    write_log(tmp_path / "logs" / "copy of a.csv", 1)
    write_log(tmp_path / "logs" / "c.csv", 3)
    again = take(library, car, tmp_path / "logs")
    assert [(Path(o.path).name, o.outcome) for o in again] == [
        ("a.csv", "there"), ("b.csv", "there"), ("c.csv", "imported"), ("copy of a.csv", "there"),
    ]  # fmt: skip
    assert again[0].log_id == again[3].log_id
    assert len(rows(library, car)) == 3


def test_twins_in_one_folder_are_one_log(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Two copies that are met in one import end as one log."""
    for name in ("a.csv", "b.csv"):
        write_log(tmp_path / "logs" / name, 1)
    assert sorted(kinds(take(library, car, tmp_path / "logs", workers=2))) == ["imported", "there"]
    assert len(rows(library, car)) == 1


def test_logs_of_one_name_are_told_apart(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Files that a logger calls by one name get names of their own in the library: pulls and days go by them."""
    for number in range(3):
        write_log(tmp_path / str(number) / "log.csv", number)
    take(library, car, tmp_path / "0", tmp_path / "1", tmp_path / "2")
    assert sorted(row.name for row in rows(library, car)) == ["log (2).csv", "log (3).csv", "log.csv"]
    assert {row.file for row in rows(library, car)} == {"log.csv"}


def test_each_car_has_its_own_logs(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """One file may belong to two cars; each has its row, the original lies there once."""
    path = write_log(tmp_path / "drive.csv")
    with library.transaction() as session:
        other = catalogue.add_car(session, 'name = "red van"')
    assert kinds([*take(library, car, path), *take(library, other, path)]) == ["imported", "imported"]
    assert len([entry for entry in (library.folder / "originals").rglob("*") if entry.is_file()]) == 1
    assert check_library(library).findings == ()


def test_a_bad_file_costs_only_itself(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """A file that is no log is reported in one sentence with its name, leaves nothing behind, and the rest is taken."""
    write_log(tmp_path / "logs" / "a.csv", 1)
    (tmp_path / "logs" / "b.csv").write_bytes(b"%PDF-1.7 something")
    (tmp_path / "logs" / "c.csv").write_text("speed,load\n1,2\n3,4\n")
    (tmp_path / "logs" / "d.csv").write_bytes(b"")
    write_log(tmp_path / "logs" / "e.csv", 2)
    outcomes = take(library, car, tmp_path / "logs")
    assert kinds(outcomes) == ["imported", "failed", "failed", "failed", "imported"]
    for outcome in outcomes[1:4]:
        name = Path(outcome.path).name
        assert outcome.sentence.startswith(f"{name}:") or name in outcome.sentence
        assert str(library.folder) not in outcome.sentence
    assert check_library(library).findings == ()
    with library.reading() as session:
        (job,) = catalogue.jobs(session)
        files = catalogue.job_files(session, job.id)
    assert [entry.sentence for entry in files] == [outcome.sentence for outcome in outcomes]
    assert (job.state, job.done, job.total) == ("done", 5, 5)


def test_a_file_that_vanishes_is_reported(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """A file that goes away between the search and its turn is one that failed, no more."""
    for number in range(3):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    outcomes = []
    for outcome in import_logs(library, car.id, [tmp_path / "logs"], workers=0):
        outcomes.append(outcome)
        (tmp_path / "logs" / "1.csv").unlink(missing_ok=True)
    assert kinds(outcomes) == ["imported", "failed", "imported"]
    assert "1.csv" in outcomes[1].sentence


def test_a_deleted_log_comes_back(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Importing what was deleted takes the deletion back, with everything that was decided of it."""
    path = write_log(tmp_path / "drive.csv")
    (first,) = take(library, car, path)
    with library.transaction() as session:
        catalogue.overrule(session, first.log_id or 0, 1.0, 2.0, use=False, reason="seen it")
        catalogue.delete(session, catalogue.get(session, LogRow, first.log_id or 0))
    (again,) = take(library, car, path)
    assert (again.outcome, again.log_id) == ("there", first.log_id)
    assert "taken back" in again.sentence
    with library.reading() as session:
        assert len(catalogue.overrulings(session, first.log_id or 0)) == 1
        assert catalogue.get(session, LogRow, first.log_id or 0).deleted_at is None


def test_all_of_a_log_is_on_the_disk_before_its_row(
    plain_library: Library, plain_car: CarRow, tmp_path: Path, write_log: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Original and samples are flushed, renamed and their folders flushed, then the row is committed, then it is told.

    That is what a power cut asks for beyond a killed process: a rename may reach the disk before the content of a file
    unless that was flushed first (POSIX leaves the order open).
    """
    if not Path("/proc/self/fd").is_dir():
        pytest.skip("no /proc to see which file a handle belongs to")
    happened: list[tuple[str, str]] = []
    fsync, replace = os.fsync, Path.replace

    def spy_fsync(handle: int) -> None:
        fsync(handle)
        happened.append(("flushed", str(Path(f"/proc/self/fd/{handle}").readlink())))

    def spy_replace(source: Path, target: Path) -> Path:
        happened.append(("renamed", f"{source} -> {target}"))
        return replace(source, target)

    def rows_there(_: object) -> None:
        happened.append(("committed", ""))

    monkeypatch.setattr(os, "fsync", spy_fsync)
    monkeypatch.setattr(Path, "replace", spy_replace)
    event.listen(plain_library.engine, "commit", rows_there)
    next(import_logs(plain_library, plain_car.id, [write_log(tmp_path / "drive.csv")], workers=0))
    happened.append(("told", ""))
    (row,) = rows(plain_library, plain_car)
    told = happened.index(("told", ""))
    committed = max(place for place, (what, _) in enumerate(happened[:told]) if what == "committed")
    assert happened[committed + 1 : told] == []
    for target in (
        original_path(plain_library.folder, row.hash),
        samples_path(plain_library.folder, row.hash, row.reading_key),
    ):
        renamed = next(
            p for p, (what, said) in enumerate(happened) if what == "renamed" and said.endswith(f"> {target}")
        )
        source = happened[renamed][1].partition(" -> ")[0]
        assert ("flushed", source) in happened[:renamed]
        assert ("flushed", str(target.parent)) in happened[renamed:committed]
        assert ("flushed", str(target.parent.parent)) in happened[:renamed]


# Days and changes from a conditions file

CONDITIONS = """\
[[log]]
file = "a.csv"
when = 2026-05-09T10:00:00
day = "saturday"
air_temperature_c = 12.5
air_pressure_kpa = 100.1
relative_humidity_pct = 60
direction = "out"

[[log]]
file = "b.csv"
when = 2026-05-10T10:00:00

[[log]]
file = "c.csv"
day = "the day at the airfield"

[[change]]
what = "charge pipe"
when = 2026-05-10T08:00:00

[[change]]
what = "something, sometime"
"""


def test_conditions_become_days_air_and_changes(
    library: Library, car: CarRow, tmp_path: Path, write_log: Write
) -> None:
    """What a conditions file says of a log is kept with it; its days and dated changes are made, each once."""
    for number, name in enumerate("abcd"):
        write_log(tmp_path / "logs" / f"{name}.csv", number)
    os.utime(tmp_path / "logs" / "c.csv", (time.mktime((2026, 6, 1, 12, 0, 0, 0, 0, -1)),) * 2)
    (tmp_path / "conditions.toml").write_text(CONDITIONS)
    outcomes = take(library, car, tmp_path / "logs", conditions=tmp_path / "conditions.toml")
    take(library, car, tmp_path / "logs", conditions=tmp_path / "conditions.toml")
    with library.reading() as session:
        found = {row.name: row for row in catalogue.logs(session, car.id)}
        days = {day.id: day for day in catalogue.days(session, car.id)}
        changes = catalogue.changes(session, car.id)
    a, b, c, d = (found[f"{name}.csv"] for name in "abcd")
    assert (a.air_temperature_c, a.air_pressure_kpa, a.relative_humidity_pct, a.direction) == (12.5, 100.1, 60, "out")
    labels = [(days[row.day_id].label, str(days[row.day_id].date)) for row in (a, b, c) if row.day_id]
    assert labels == [
        ("saturday", "2026-05-09"),
        ("2026-05-10", "2026-05-10"),
        ("the day at the airfield", "2026-06-01"),
    ]
    assert "taken from the file" in outcomes[2].sentence
    assert (d.day_id, d.when) == (None, None)
    assert [(change.what, change.fitted.isoformat()) for change in changes] == [("charge pipe", "2026-05-10T08:00:00")]


def test_a_given_day_is_the_day_of_all(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Logs that are imported into a test day belong to it."""
    with library.transaction() as session:
        day = catalogue.add(session, DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 9)))
    take(library, car, write_log(tmp_path / "a.csv"), day_id=day.id)
    assert [row.day_id for row in rows(library, car)] == [day.id]


# Stopping and taking up again


def test_an_import_can_be_stopped_and_taken_up(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Stopped between two files it keeps what it told of; the same job goes on with the rest."""
    for number in range(6):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    job = begin_import(library, car.id, [tmp_path / "logs"])
    told: list[FileOutcome] = []
    for outcome in run_import(library, job, workers=0, should_stop=lambda: len(told) >= 2):
        told.append(outcome)  # noqa: PERF402
    assert [outcome.done for outcome in told] == [1, 2]
    with library.reading() as session:
        record = catalogue.get(session, JobRow, job)
        assert (record.state, record.done, record.total) == ("stopped", 2, 6)
    assert {row.id for row in rows(library, car)} == {outcome.log_id for outcome in told}
    rest = list(run_import(library, job, workers=0))
    assert kinds(rest) == ["there", "there", *["imported"] * 4]
    with library.reading() as session:
        assert catalogue.get(session, JobRow, job).state == "done"


def test_another_process_may_ask_to_stop(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """A word in the catalogue stops an import wherever it runs."""
    for number in range(4):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    job = begin_import(library, car.id, [tmp_path / "logs"])
    told = []
    for outcome in run_import(library, job, workers=0):
        told.append(outcome)
        ask_to_stop(library, job)
    assert len(told) == 1
    assert len(list(run_import(library, job, workers=0))) == 4


def test_whoever_stops_listening_stops_the_import(
    library: Library, car: CarRow, tmp_path: Path, write_log: Write
) -> None:
    """A caller that breaks off leaves a job on record as stopped, and nothing half done."""
    for number in range(3):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    job = begin_import(library, car.id, [tmp_path / "logs"])
    stream = run_import(library, job, workers=0)
    next(stream)
    stream.close()
    with library.reading() as session:
        assert catalogue.get(session, JobRow, job).state == "stopped"
    assert len(rows(library, car)) == 1
    assert check_library(library).findings == ()


def test_a_job_whose_runner_died_is_known_for_it(
    library: Library, car: CarRow, tmp_path: Path, write_log: Write
) -> None:
    """A job that says it runs while its process is gone counts as interrupted; one of a living process does not."""
    job = begin_import(library, car.id, [write_log(tmp_path / "a.csv")])
    stream = run_import(library, job, workers=0)
    next(stream)
    with library.transaction() as session:
        record = catalogue.get(session, JobRow, job)
        assert not was_interrupted(record)
        record.pid = 2**22 + 1  # above the highest number that Linux gives
        assert was_interrupted(record)
        record.host = "elsewhere"
        assert not was_interrupted(record)
    stream.close()


# Where things go wrong


def test_a_path_that_leads_nowhere_is_refused_before_anything(library: Library, car: CarRow, tmp_path: Path) -> None:
    """A misspelt path, an empty folder and a bad conditions file are named before the first file is taken."""
    (tmp_path / "empty").mkdir()
    (tmp_path / "conditions.toml").write_text("[[log]]\nfil = 1\n")
    for paths, more in (
        ([tmp_path / "nothing"], {}),
        ([tmp_path / "empty"], {}),
        ([tmp_path / "conditions.toml"], {"conditions": tmp_path / "conditions.toml"}),
    ):
        with pytest.raises((CannotRead, WrongUse)):
            begin_import(library, car.id, paths, **more)  # type: ignore[arg-type]
    with library.reading() as session:
        assert catalogue.jobs(session) == []


def test_logs_are_looked_for_in_all_folders_below(tmp_path: Path, write_log: Write) -> None:
    """A folder is searched to the bottom for logs by their ending; what is hidden is left, what is named is taken."""
    for name in ("b/x.CSV", "a/y.txt", "a/deep/z.mf4", "a/.hidden.csv", "a/photo.jpg", "c.odd"):
        write_log(tmp_path / name)
    found = [
        path.relative_to(tmp_path).as_posix() for path in find_files([tmp_path, tmp_path / "c.odd", tmp_path / "a"])
    ]
    assert found == ["a/deep/z.mf4", "a/y.txt", "b/x.CSV", "c.odd"]


def test_a_full_disk_ends_an_import_in_one_sentence(
    plain_library: Library, plain_car: CarRow, tmp_path: Path, write_log: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    """When the library cannot be written, the import ends, says so, and what it told of before is kept."""
    for number in range(3):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    real = readers.write_samples
    written = []

    def full(*arguments: object) -> object:
        written.append(1)
        if len(written) == 2:
            raise OSError(28, "No space left on device")
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(readers, "write_samples", full)
    with pytest.raises(CannotAnswer, match="No space left on device"):
        take(plain_library, plain_car, tmp_path / "logs")
    assert [row.name for row in rows(plain_library, plain_car)] == ["0.csv"]
    with plain_library.reading() as session:
        assert catalogue.jobs(session)[0].state == "failed"
    monkeypatch.undo()
    assert kinds(take(plain_library, plain_car, tmp_path / "logs")) == ["there", "imported", "imported"]
    assert check_library(plain_library).findings == ()


def test_a_reader_that_dies_costs_one_file(
    plain_library: Library, plain_car: CarRow, tmp_path: Path, write_log: Write, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file on which the reading process dies is reported; those in hand beside it are read all the same."""
    for number in range(5):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    (tmp_path / "deadly.py").write_text(DEADLY)
    monkeypatch.syspath_prepend(tmp_path)
    monkeypatch.setattr(readers, "take_in", importlib.import_module("deadly").take_in)
    outcomes = take(plain_library, plain_car, tmp_path / "logs", workers=2)
    assert sorted((Path(o.path).name, o.outcome) for o in outcomes) == [
        (f"{number}.csv", "failed" if number == 2 else "imported") for number in range(5)
    ]
    assert "lack of memory" in next(o.sentence for o in outcomes if o.outcome == "failed")
    assert check_library(plain_library).sound


DEADLY = """
import os
from pullproof.library import readers
real = readers.take_in

def take_in(task):
    if task.source.name == "2.csv":
        os._exit(9)
    return real(task)
"""
"""Stands in for the reader, and dies of one file as if it were too large; reading processes find it by its name."""


def test_the_stream_passes_on_what_is_no_task() -> None:
    """What needs no reader comes through the readers as it is, with and without processes."""
    for workers in (0, 1):
        assert list(read_all(iter(["a", "b"]), workers)) == ["a", "b"]


def test_two_imports_at_once_make_one_library(library: Library, car: CarRow, tmp_path: Path, write_log: Write) -> None:
    """Two imports that run into each other take every log once and lose none."""
    for number in range(4):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    one = import_logs(library, car.id, [tmp_path / "logs"], workers=0)
    other = import_logs(library, car.id, [tmp_path / "logs"], workers=0)
    told = [outcome for pair in zip(one, other, strict=True) for outcome in pair]
    assert len(told) == 8
    assert len(rows(library, car)) == 4
    assert sorted(kinds(told)) == ["imported"] * 4 + ["there"] * 4


def test_usual_workers_leave_a_processor(monkeypatch: pytest.MonkeyPatch) -> None:
    """Whoever waits for a page has a processor to himself, and there is always one reader."""
    for processors, wanted in ((8, 7), (2, 1), (1, 1), (None, 1)):
        monkeypatch.setattr(os, "cpu_count", lambda processors=processors: processors)
        assert importing.usual_workers() == wanted


SHARED = Path(__file__).parents[3] / "shared" / "logs" / "mdf4-raw-bus"


def test_a_recording_is_kept_with_its_database(library: Library, car: CarRow, tmp_path: Path) -> None:
    """Raw bus frames mean nothing without their .dbc, so that is kept too, and both are read again as they were."""
    pytest.importorskip("asammdf", reason="MDF is an optional extra")
    if not (SHARED / "truck_raw_can.MF4").exists():
        pytest.skip("the folder of real recordings is not here")
    for name, source in (("drive.mf4", "truck_raw_can.MF4"), ("drive.dbc", "j1939_demo.dbc")):
        (tmp_path / "logs").mkdir(exist_ok=True)
        (tmp_path / "logs" / name).write_bytes((SHARED / source).read_bytes())
    wanted = read_log(tmp_path / "logs" / "drive.mf4", catalogue.car_of(car))
    (outcome,) = take(library, car, tmp_path / "logs")
    (row,) = rows(library, car)
    assert [entry["file"] for entry in row.companions] == ["drive.dbc"]
    assert check_library(library).files == 3
    samples_path(library.folder, row.hash, row.reading_key).unlink()
    for path in (tmp_path / "logs").iterdir():
        path.unlink()
    assert_same(log_of(library, outcome.log_id or 0), wanted)
