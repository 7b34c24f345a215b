"""Take files into a library: a few stages, each a plain function on a stream, so that it can be stopped anywhere.

    find_files      folders and files named by the user -> files to look at
    looked_at       -> a task for the readers, or "it is there already"
    read_all        -> original and samples on the disk (`readers`, in processes of their own)
    acknowledged    -> rows on the disk, one transaction a file; only then does the user hear of it

Whatever was acknowledged survives a power cut. An import that is begun again passes over what is there.
"""

import datetime
import os
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from pathlib import Path

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from pullproof.conditions import Conditions, ConditionsSheet, load_conditions
from pullproof.errors import CannotAnswer, CannotRead, PullproofError, WrongUse
from pullproof.library import catalogue
from pullproof.library.code import version
from pullproof.library.files import clear_incoming, hash_file
from pullproof.library.jobs import begin_job, claim_job, end_job
from pullproof.library.kept_pulls import pull_rows
from pullproof.library.opening import Library
from pullproof.library.originals import Decisions
from pullproof.library.readers import Failed, Taken, Task, read_all
from pullproof.library.schema import CarRow, ChangeRow, DayRow, JobFileRow, JobRow, LogRow
from pullproof.library.shelf import all_decisions

__all__ = ["FileOutcome", "begin_import", "find_files", "import_logs", "run_import", "usual_workers"]

LOG_SUFFIXES = frozenset({".csv", ".tsv", ".txt", ".log", ".dat", ".asc", ".mf4", ".mdf"})
"""Endings under which a log is looked for in a folder; a file that is named itself is tried whatever its ending."""


@dataclass(frozen=True, slots=True)
class FileOutcome:
    """What became of one file, told once it is safe on the disk."""

    path: str
    outcome: str
    """`imported`, `there` or `failed`."""
    sentence: str
    log_id: int | None
    hash: str | None
    pulls: int
    used: int
    """Pulls found, and how many of them can be used."""
    done: int
    total: int


@dataclass(frozen=True, slots=True)
class _There:
    """A file that need not be read: the library holds it, or it cannot even be opened."""

    source: Path
    outcome: str
    sentence: str
    digest: str | None = None
    log_id: int | None = None


def usual_workers() -> int:
    """Readers that leave one processor to everybody else."""
    return max(1, (os.cpu_count() or 2) - 1)


def import_logs(
    library: Library,
    car_id: int,
    paths: Sequence[str | Path],
    *,
    conditions: str | Path | None = None,
    day_id: int | None = None,
    workers: int | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Iterator[FileOutcome]:
    """Import files and folders of logs for a car.

    Parameters
    ----------
    library : Library
    car_id : int
        The car that recorded them.
    paths : sequence of str or Path
        Files, and folders that are searched with all below them.
    conditions : str or Path, optional
        Conditions file: gives each log its time, day, air and direction, and the car its changes.
    day_id : int, optional
        The test day of all of them, where it is known.
    workers : int, optional
        Processes that read. 0 reads in this one; by default one less than there are processors.
    should_stop : callable
        Asked between files; what is in hand is finished.

    Yields
    ------
    FileOutcome
        For every file, once all of it is safe on the disk.

    Raises
    ------
    CannotRead, WrongUse
        A path or the conditions file cannot be read.
    CannotAnswer
        The library cannot be written.
    """
    job = begin_import(library, car_id, paths, conditions=conditions, day_id=day_id)
    yield from run_import(library, job, workers=workers, should_stop=should_stop)


def begin_import(
    library: Library,
    car_id: int,
    paths: Sequence[str | Path],
    *,
    conditions: str | Path | None = None,
    day_id: int | None = None,
) -> int:
    """Put an import on record; `run_import` does it, now, later, or again after it was stopped. Gives its number.

    Raises
    ------
    CannotRead, WrongUse
        As `import_logs`.
    """
    find_files(paths)
    if conditions is not None:
        load_conditions(conditions)
    arguments: dict[str, object] = {
        "paths": [str(Path(path).absolute()) for path in paths],
        "conditions": None if conditions is None else str(Path(conditions).absolute()),
        "day": day_id,
    }
    return begin_job(library, "import", arguments, car_id)


def run_import(
    library: Library,
    job_id: int,
    *,
    workers: int | None = None,
    should_stop: Callable[[], bool] = lambda: False,
) -> Iterator[FileOutcome]:
    """Do an import that is on record, or what is left of it. See `import_logs`."""
    job = claim_job(library, job_id)
    state, message = "stopped", "Stopped; run it again to go on."
    try:
        files = find_files(job.arguments["paths"])
        sheet = _sheet(job)
        with library.transaction() as session:
            car = catalogue.get(session, CarRow, job.car_id or 0).sheet
            decisions = all_decisions(session)
            _add_changes(session, job.car_id or 0, sheet)
            catalogue.get(session, JobRow, job_id).total = len(files)
        clear_incoming(library.folder)
        source = _looked_at(library, job, files, car, decisions, should_stop)
        read = read_all(source, usual_workers() if workers is None else workers)
        count = 0
        for outcome in _acknowledged(library, job, sheet, read, len(files)):
            count += 1
            yield outcome
        if count == len(files):
            state, message = "done", ""
    except OSError as error:
        state, message = "failed", f"the library cannot be written ({error.strerror or error})"
        raise CannotAnswer(
            message, where=str(library.folder), advice="Check space and permissions; what was acknowledged is kept."
        ) from error
    except PullproofError as error:
        state, message = "failed", str(error)
        raise
    finally:
        end_job(library, job_id, state, message)


def find_files(paths: Iterable[str | Path]) -> list[Path]:
    """Files to look at: those named, and the logs below the folders named, in order of name.

    Raises
    ------
    CannotRead
        A path leads nowhere, or a folder holds nothing that could be a log.
    """
    found: dict[Path, None] = {}
    for given in paths:
        path = Path(given)
        if path.is_dir():
            below = sorted(
                entry
                for entry in path.rglob("*")
                if entry.suffix.lower() in LOG_SUFFIXES and entry.is_file() and not entry.name.startswith(".")
            )
            if not below:
                raise CannotRead(
                    "there is no log in this folder",
                    where=str(path),
                    advice=f"Logs are looked for as {', '.join(sorted(LOG_SUFFIXES))}; name others themselves.",
                )
            found |= dict.fromkeys(below)
        elif path.exists():
            found[path] = None
        else:
            raise CannotRead("there is no such file or folder", where=str(path), advice="Check the path.")
    return list(found)


def _sheet(job: JobRow) -> ConditionsSheet:
    path = job.arguments.get("conditions")
    return ConditionsSheet() if path is None else load_conditions(path)


def _add_changes(session: Session, car_id: int, sheet: ConditionsSheet) -> None:
    """Changes that the conditions file tells of and that the car does not have yet."""
    known = {(change.what, change.fitted) for change in catalogue.changes(session, car_id)}
    for change in sheet.changes:
        if change.when is not None and (change.what, change.when) not in known:
            catalogue.add(session, ChangeRow(car_id=car_id, what=change.what, fitted=change.when))


def _looked_at(
    library: Library,
    job: JobRow,
    files: Sequence[Path],
    car: str,
    decisions: Decisions,
    should_stop: Callable[[], bool],
) -> Iterator[Task | _There]:
    """Pass over what is there already, known by its hash."""
    with library.reading() as session:
        known = {row.hash: row.id for row in catalogue.logs(session, job.car_id or 0)}
    for path in files:
        if should_stop() or _asked_to_stop(library, job.id):
            return
        try:
            digest = hash_file(path).hash
        except CannotRead as error:
            yield _There(path, "failed", str(error))
            continue
        if digest in known:
            yield _There(path, "there", "", digest, known[digest])
        else:
            yield Task(library.folder, path, car, decisions)


def _asked_to_stop(library: Library, job_id: int) -> bool:
    with library.reading() as session:
        return catalogue.get(session, JobRow, job_id).stop_asked


def _acknowledged(
    library: Library,
    job: JobRow,
    sheet: ConditionsSheet,
    results: Iterator[Taken | Failed | _There],
    total: int,
) -> Iterator[FileOutcome]:
    """Give each file its rows, and only then tell of it."""
    for done, result in enumerate(results, 1):
        for attempt in range(3):
            try:
                with library.transaction() as session:
                    outcome = _enter(session, job, sheet, result, done, total)
                    session.add(
                        JobFileRow(
                            job_id=job.id,
                            path=outcome.path,
                            outcome=outcome.outcome,
                            sentence=outcome.sentence,
                            log_id=outcome.log_id,
                        )
                    )
                    record = catalogue.get(session, JobRow, job.id)
                    record.done, record.message = done, Path(outcome.path).name
                break
            except (IntegrityError, WrongUse):  # another process took the name or the log at the same moment
                if attempt == 2:
                    raise
        yield outcome


def _enter(
    session: Session, job: JobRow, sheet: ConditionsSheet, result: Taken | Failed | _There, done: int, total: int
) -> FileOutcome:
    if isinstance(result, Failed):
        path = str(result.task.source)
        return FileOutcome(path, "failed", result.sentence, None, None, 0, 0, done, total)
    if isinstance(result, _There):
        path = str(result.source)
        return FileOutcome(path, result.outcome, result.sentence, result.log_id, result.digest, 0, 0, done, total)
    path, digest = str(result.task.source), result.original.hash
    pulls, used = len(result.pulls), sum(pull.used for pull in result.pulls)
    car_id = job.car_id or 0
    same = session.scalars(
        select(LogRow).where(LogRow.car_id == car_id, LogRow.hash == digest).order_by(LogRow.deleted_at.nulls_first())
    ).first()
    if same is not None:
        sentence = "" if same.deleted_at is None else "It had been deleted, and is taken back."
        same.deleted_at = None
        return FileOutcome(path, "there", sentence, same.id, digest, pulls, used, done, total)
    said = sheet.of(result.task.source.name)
    day_id, sentence = _day(session, car_id, said, result.task.source, job.arguments.get("day"))
    row = _log_row(session, car_id, result, said)
    row.day_id = day_id
    catalogue.add(session, row)
    session.add_all(pull_rows(row.id, result.pulls))
    return FileOutcome(path, "imported", sentence, row.id, digest, pulls, used, done, total)


def _log_row(session: Session, car_id: int, taken: Taken, said: Conditions) -> LogRow:
    return LogRow(
        car_id=car_id,
        hash=taken.original.hash,
        size=taken.original.size,
        file=taken.task.source.name,
        name=_free_name(session, car_id, taken.task.source),
        signature=taken.signature,
        when=said.when,
        direction=said.direction,
        air_temperature_c=said.air.temperature_c,
        air_pressure_kpa=said.air.pressure_kpa,
        relative_humidity_pct=said.air.relative_humidity_pct,
        rows=taken.rows,
        duration_s=taken.duration_s,
        reader_version=version(),
        reading_key=taken.reading_key,
        pulls_key=taken.pulls_key,
        samples_hash=taken.samples.hash,
        samples_size=taken.samples.size,
        companions=[{"file": name, "hash": kept.hash, "size": kept.size} for name, kept in taken.companions],
    )


def _free_name(session: Session, car_id: int, path: Path) -> str:
    """The file's name, with a number where the car has another log of that name: pulls and days go by it."""
    taken = set(session.scalars(select(LogRow.name).where(LogRow.car_id == car_id)))
    name, number = path.name, 2
    while name in taken:
        name, number = f"{path.stem} ({number}){path.suffix}", number + 1
    return name


def _day(session: Session, car_id: int, said: Conditions, path: Path, day_id: int | None) -> tuple[int | None, str]:
    """The test day of a log, made where it is not there yet, and a sentence on what had to be assumed for it."""
    if day_id is not None or (said.day is None and said.when is None):
        return day_id, ""
    sentence = ""
    date = None if said.when is None else said.when.date()
    label = said.day or (date.isoformat() if date else "")
    day = catalogue.day_labelled(session, car_id, label)
    if day is None:
        if date is None:
            date = datetime.datetime.fromtimestamp(path.stat().st_mtime).date()  # noqa: DTZ006  clock on the wall
            sentence = f'The date of day "{label}" was taken from the file: {date.isoformat()}.'
        day = catalogue.add(session, DayRow(car_id=car_id, label=label, date=date, notes=sentence))
    return day.id, sentence
