"""Some logs of one car as the catalogue has them in one state, and their samples, read anew where they are stale.

Samples are read back from Parquet, and anew from the original where a newer reader, an edited car sheet or a new
decision on a column has made them stale, or where they are damaged.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from sqlalchemy import delete as delete_rows
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from pullproof.car import Car, ColumnRule
from pullproof.channels import Trace
from pullproof.conditions import Air, Change, Conditions, ConditionsSheet
from pullproof.errors import CannotAnswer, CannotRead
from pullproof.library import catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.code import version
from pullproof.library.files import hash_file, original_path, samples_path
from pullproof.library.kept_pulls import pull_rows, pulls_by_log
from pullproof.library.opening import Library
from pullproof.library.originals import (
    ReadOriginal,
    found_in,
    pulls_key,
    read_original,
    reading_key,
    with_decisions,
)
from pullproof.library.samples import UNREADABLE_SAMPLES, read_samples, write_samples
from pullproof.library.schema import CarRow, ChangeRow, ColumnDecisionRow, DayRow, LogRow, PullRow
from pullproof.pulls import Pull
from pullproof.reading.log import Log

__all__ = [
    "Shelf",
    "all_decisions",
    "chosen",
    "fresh_shelf",
    "log_on",
    "make_samples_anew",
    "said_of_logs",
    "shelf_of",
    "weight",
]


@dataclass(frozen=True, slots=True)
class Shelf:
    """What the catalogue says of some logs of one car, in one consistent state."""

    car: Car
    logs: tuple[LogRow, ...]
    pulls: Mapping[int, tuple[Pull, ...]]
    conditions: ConditionsSheet
    decisions: Mapping[str, Mapping[str, ColumnRule]]

    def car_for(self, row: LogRow) -> Car:
        """The car with what was decided of this log's columns."""
        return with_decisions(self.car, self.decisions.get(row.signature, {}))


def make_samples_anew(library: Library, log_id: int) -> None:
    """Read the original again, and put samples and pulls in the place of those that are there.

    Raises
    ------
    CannotAnswer
        There is no such log.
    CannotRead
        The original is missing or damaged.
    """
    with library.reading() as session:
        row = catalogue.get(session, LogRow, log_id)
    shelf = shelf_of(library, row.car_id, Selection())
    _put_right(library, shelf, row, damaged=True)


def all_decisions(session: Session) -> dict[str, dict[str, ColumnRule]]:
    """What was decided of the columns of every logger."""
    found: dict[str, dict[str, ColumnRule]] = {}
    for row in session.scalars(select(ColumnDecisionRow)):
        found.setdefault(row.signature, {})[row.header] = ColumnRule(row.channel, row.unit)
    return found


def fresh_shelf(library: Library, car_id: int, selection: Selection | None) -> Shelf:
    """The shelf, after every log on it that is stale was read anew."""
    shelf = shelf_of(library, car_id, selection)
    stale = [row for row in shelf.logs if row.pulls_key != pulls_key(shelf.car_for(row))]
    for row in stale:
        _put_right(library, shelf, row)
    return shelf_of(library, car_id, selection) if stale else shelf


def shelf_of(library: Library, car_id: int, selection: Selection | None) -> Shelf:
    """The logs of a selection (None: all) as the catalogue has them, stale ones too."""
    with library.reading() as session:
        car = catalogue.get(session, CarRow, car_id)
        every = catalogue.logs(session, car_id)
        wanted = every if selection is None else chosen(every, selection)
        return Shelf(
            car=catalogue.car_of(car),
            logs=tuple(wanted),
            pulls=pulls_by_log(session, {row.id: row.name for row in wanted}),
            conditions=said_of_logs(every, catalogue.days(session, car_id), catalogue.changes(session, car_id)),
            decisions=all_decisions(session),
        )


def said_of_logs(logs: Sequence[LogRow], days: Sequence[DayRow], changes: Sequence[ChangeRow]) -> ConditionsSheet:
    """What is known of every log, by its name: when, day, air, direction; and the changes of the car."""
    by_id = {day.id: day for day in days}
    entries = {row.name: _said_of(row, by_id.get(row.day_id or 0)) for row in logs}
    done = [Change(change.what, change.fitted) for change in changes]
    done += [Change(f"{change.what} removed", change.removed) for change in changes if change.removed is not None]
    return ConditionsSheet(MappingProxyType(entries), tuple(sorted(done, key=lambda change: str(change.when))))


def _said_of(row: LogRow, day: DayRow | None) -> Conditions:
    air, origin = {}, {}
    for ours, theirs in (
        ("temperature_c", "air_temperature_c"),
        ("pressure_kpa", "air_pressure_kpa"),
        ("relative_humidity_pct", "relative_humidity_pct"),
    ):
        for said, where in ((row, "log in the library"), (day, "test day in the library")):
            value = None if said is None else getattr(said, theirs)
            if value is not None:
                air[ours], origin[ours] = value, where
                break
    label = None if day is None else day.label
    if day is not None and row.when is not None and label == day.date.isoformat():
        label = None  # nobody named the day: its date says no more than the time of the log
    return Conditions(row.name, row.when, label, Air(**air, origin=MappingProxyType(origin)), row.direction)


def chosen(rows: Sequence[LogRow], selection: Selection) -> list[LogRow]:
    """The logs that a selection takes.

    Raises
    ------
    CannotAnswer
        One that it names is not there.
    """
    days, logs = set(selection.days), set(selection.logs)
    missing = logs - {row.id for row in rows}
    if missing:
        raise CannotAnswer(
            f"log {min(missing)} is not among the logs of this car",
            advice="It may have been deleted; take that back, or select anew.",
        )
    return [row for row in rows if row.id in logs or row.day_id in days]


def log_on(library: Library, shelf: Shelf, row: LogRow) -> Log:
    """A log of the shelf as it was read; from memory where it is held."""

    def make() -> Log:
        try:
            log = read_samples(samples_path(library.folder, row.hash, row.reading_key))
        except UNREADABLE_SAMPLES:
            log = _put_right(library, shelf, row, damaged=True)
        return replace(log, file=row.name)

    found: Log = library.memory.get((row.hash, row.reading_key, row.name), make, lambda log: weight(log.traces))
    return found


def weight(traces: Mapping[str, Trace]) -> int:
    """What traces take in memory. [bytes]"""
    return sum(trace.time.nbytes + trace.values.nbytes for trace in traces.values())


def _put_right(library: Library, shelf: Shelf, row: LogRow, *, damaged: bool = False) -> Log:
    """Read the original again where its reading is stale or `damaged`, find the pulls, and keep both."""
    car = shelf.car_for(row)
    if row.reading_key == reading_key(car) and not damaged:
        read = found_in(log_on(library, shelf, row), car)
    else:
        read = _read_anew(library, shelf, row)
    path = samples_path(library.folder, row.hash, read.reading_key)
    kept = write_samples(library.folder, read.log, path)
    with library.transaction() as session:
        current = catalogue.get(session, LogRow, row.id)
        old = samples_path(library.folder, current.hash, current.reading_key)
        current.signature, current.reader_version = read.signature, version()
        current.rows, current.duration_s = read.log.rows, read.log.duration_s
        current.reading_key, current.pulls_key = read.reading_key, read.pulls_key
        current.samples_hash, current.samples_size = kept.hash, kept.size
        session.execute(delete_rows(PullRow).where(PullRow.log_id == row.id))
        session.add_all(pull_rows(row.id, read.pulls))
        # Another car may have the same file, read the same way: one file of samples serves both.
        twins = update(LogRow).where(LogRow.hash == row.hash, LogRow.reading_key == read.reading_key)
        session.flush()
        session.execute(twins.values(samples_hash=kept.hash, samples_size=kept.size))
        others = select(LogRow.reading_key).where(LogRow.hash == row.hash)
        still_named = {samples_path(library.folder, row.hash, key) for key in session.scalars(others)}
    if old not in still_named:
        old.unlink(missing_ok=True)
    return read.log


def _read_anew(library: Library, shelf: Shelf, row: LogRow) -> ReadOriginal:
    original = original_path(library.folder, row.hash)
    if not original.exists():
        raise CannotRead(
            "the original is missing from the library",
            where=row.name,
            advice="Import the file again, or restore a backup; `pullproof library check` lists what is missing.",
        )
    if hash_file(original).hash != row.hash:
        raise CannotRead(
            "the original in the library is damaged",
            where=row.name,
            advice="Restore a backup; `pullproof library check` lists what else is damaged.",
        )
    companions = {entry["file"]: entry["hash"] for entry in row.companions}
    # Under the name that it came with: a database goes by the same stem.
    return read_original(library.folder, original, row.file, companions, shelf.car, shelf.decisions)
