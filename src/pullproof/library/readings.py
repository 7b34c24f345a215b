"""What the analyses take, from what the library keeps: logs, pulls, conditions, recorded pulls, a comparison.

Samples are read back from Parquet, and anew from the original where a newer reader, an edited car sheet or a new
decision on a column has made them stale. What was read and computed stays in the library's memory.
"""

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

from sqlalchemy import delete as delete_rows
from sqlalchemy import select, update
from sqlalchemy.orm import Session

from pullproof.analysis.comparison import Comparison, compare_records
from pullproof.analysis.comparison.outings import part_outings
from pullproof.car import Car, ColumnRule
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import Air, Change, Conditions, ConditionsSheet
from pullproof.errors import CannotAnswer, CannotRead
from pullproof.library import catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.files import hash_file, original_path, samples_path
from pullproof.library.opening import Library
from pullproof.library.originals import (
    ReadOriginal,
    found_in,
    pulls_key,
    read_original,
    reader_version,
    reading_key,
    with_decisions,
)
from pullproof.library.samples import UNREADABLE_SAMPLES, read_samples, write_samples
from pullproof.library.schema import CarRow, ChangeRow, ColumnDecisionRow, DayRow, LogRow, OverrulingRow, PullRow
from pullproof.pulls import Pull
from pullproof.reading.log import Log

__all__ = [
    "Recorded",
    "all_decisions",
    "compare_selections",
    "conditions_of",
    "log_of",
    "make_samples_anew",
    "pull_rows",
    "pulls_of",
    "records_of",
    "used_pulls",
]

_SAME_PULL = 0.5
"""Share of the span of both together that an overruling and a pull have in common when they mean the same."""


@dataclass(frozen=True, slots=True)
class Recorded:
    """Pulls that can be used, ready to be read, and those that are not, with the reason in each."""

    records: tuple[PullRecord, ...]
    refused: tuple[Pull, ...]


@dataclass(frozen=True, slots=True)
class _Shelf:
    """What the catalogue says of some logs of one car, in one consistent state."""

    car: Car
    logs: tuple[LogRow, ...]
    pulls: Mapping[int, tuple[Pull, ...]]
    conditions: ConditionsSheet
    decisions: Mapping[str, Mapping[str, ColumnRule]]

    def car_for(self, row: LogRow) -> Car:
        """The car with what was decided of this log's columns."""
        return with_decisions(self.car, self.decisions.get(row.signature, {}))


def log_of(library: Library, log_id: int) -> Log:
    """A log as it was read, under its name in the library.

    Raises
    ------
    CannotAnswer
        There is no such log.
    CannotRead
        Samples and original are both gone or damaged.
    """
    shelf = _fresh(library, _car_id_of(library, log_id), Selection(logs=(log_id,)))
    return _log(library, shelf, shelf.logs[0])


def pulls_of(library: Library, log_id: int) -> tuple[Pull, ...]:
    """The pulls of a log in order of time, the user's word applied.

    Raises
    ------
    CannotAnswer, CannotRead
        As `log_of`.
    """
    return _fresh(library, _car_id_of(library, log_id), Selection(logs=(log_id,))).pulls[log_id]


def conditions_of(library: Library, car_id: int) -> ConditionsSheet:
    """What is known of every log of a car, by its name: when, day, air, direction; and the car's changes."""
    with library.reading() as session:
        return _conditions(
            catalogue.logs(session, car_id), catalogue.days(session, car_id), catalogue.changes(session, car_id)
        )


def records_of(library: Library, car_id: int, selection: Selection | None = None) -> Recorded:
    """The pulls of a selection (by default of all logs of the car) with everything around each.

    Raises
    ------
    CannotAnswer
        A day or log of the selection is not there.
    CannotRead
        Samples and original of a log are both gone or damaged.
    """
    return _recorded(library, _fresh(library, car_id, selection), selection)


def compare_selections(
    library: Library,
    car_id: int,
    before: Selection,
    after: Selection,
    *,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    main: str | None = None,
) -> Comparison:
    """Compare two selections of a car's pulls, as `pullproof compare` does with files.

    Raises
    ------
    CannotAnswer
        A side has no pull that can be used, or as `compare_records`.
    WrongUse
        As `compare_records`.
    """
    shelf = _fresh(library, car_id, Selection(before.days + after.days, before.logs + after.logs))
    sides = [_recorded(library, shelf, side) for side in (before, after)]
    for side, name in zip(sides, ("before", "after"), strict=True):
        if not side.records:
            reasons = "; ".join(
                dict.fromkeys(f"{pull.log} at {pull.start_s:.1f} s: {pull.reason}" for pull in side.refused)
            )
            raise CannotAnswer(
                f"no pull {name} the change can be used" + (f" ({reasons})" if reasons else ", none was found"),
                advice="Select days or logs with a pull that is used, or overrule a refusal.",
            )
    parted = part_outings((*sides[0].records, *sides[1].records), shelf.conditions)
    count = len(sides[0].records)
    return compare_records(
        parted[:count],
        parted[count:],
        car=shelf.car,
        changes=shelf.conditions.changes,
        refused_before=sides[0].refused,
        refused_after=sides[1].refused,
        window=window,
        level=level,
        main=main,
        moments={name: entry.when for name, entry in shelf.conditions.logs.items() if entry.when is not None},
    )


def used_pulls(session: Session, log_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Log to its pulls as they were last found, and how many of them are used, the user's word applied."""
    found = _pulls(session, dict.fromkeys(log_ids, ""))
    return {log_id: (len(pulls), sum(pull.used for pull in pulls)) for log_id, pulls in found.items()}


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
    shelf = _shelf(library, row.car_id, Selection())
    _put_right(library, shelf, row, damaged=True)


def all_decisions(session: Session) -> dict[str, dict[str, ColumnRule]]:
    """What was decided of the columns of every logger."""
    found: dict[str, dict[str, ColumnRule]] = {}
    for row in session.scalars(select(ColumnDecisionRow)):
        found.setdefault(row.signature, {})[row.header] = ColumnRule(row.channel, row.unit)
    return found


def pull_rows(log_id: int, pulls: Iterable[Pull]) -> list[PullRow]:
    """Pulls as rows of the catalogue."""
    return [
        PullRow(
            log_id=log_id,
            start_s=pull.start_s,
            end_s=pull.end_s,
            gear=pull.gear,
            rpm_start=pull.rpm_start,
            rpm_end=pull.rpm_end,
            used=pull.used,
            reason=pull.reason,
            assumptions=list(pull.assumptions),
            rpm_per_kmh=pull.rpm_per_kmh,
        )
        for pull in pulls
    ]


def _car_id_of(library: Library, log_id: int) -> int:
    with library.reading() as session:
        return catalogue.get(session, LogRow, log_id).car_id


def _fresh(library: Library, car_id: int, selection: Selection | None) -> _Shelf:
    """The shelf, after every log on it that is stale was read anew."""
    shelf = _shelf(library, car_id, selection)
    stale = [row for row in shelf.logs if row.pulls_key != pulls_key(shelf.car_for(row))]
    for row in stale:
        _put_right(library, shelf, row)
    return _shelf(library, car_id, selection) if stale else shelf


def _shelf(library: Library, car_id: int, selection: Selection | None) -> _Shelf:
    with library.reading() as session:
        car = catalogue.get(session, CarRow, car_id)
        every = catalogue.logs(session, car_id)
        wanted = every if selection is None else _chosen(every, selection)
        return _Shelf(
            car=catalogue.car_of(car),
            logs=tuple(wanted),
            pulls=_pulls(session, {row.id: row.name for row in wanted}),
            conditions=_conditions(every, catalogue.days(session, car_id), catalogue.changes(session, car_id)),
            decisions=all_decisions(session),
        )


def _pulls(session: Session, names: Mapping[int, str]) -> dict[int, tuple[Pull, ...]]:
    """Pulls by log, the user's word applied."""
    found: dict[int, list[Pull]] = {log_id: [] for log_id in names}
    said: dict[int, list[OverrulingRow]] = {log_id: [] for log_id in names}
    of_these = select(PullRow).where(PullRow.log_id.in_(names)).order_by(PullRow.log_id, PullRow.start_s)
    for row in session.scalars(of_these):
        found[row.log_id].append(
            Pull(
                log=names[row.log_id],
                start_s=row.start_s,
                end_s=row.end_s,
                gear=row.gear,
                rpm_start=row.rpm_start,
                rpm_end=row.rpm_end,
                used=row.used,
                reason=row.reason,
                assumptions=tuple(row.assumptions),
                rpm_per_kmh=row.rpm_per_kmh,
            )
        )
    words = select(OverrulingRow).where(OverrulingRow.log_id.in_(names), OverrulingRow.deleted_at.is_(None))
    for word in session.scalars(words.order_by(OverrulingRow.id)):
        said[word.log_id].append(word)
    return {log_id: tuple(_overruled(pull, said[log_id]) for pull in pulls) for log_id, pulls in found.items()}


def _overruled(pull: Pull, said: Sequence[OverrulingRow]) -> Pull:
    """The pull as the user wants it; the last word counts."""
    for word in said:
        common = min(pull.end_s, word.end_s) - max(pull.start_s, word.start_s)
        both = max(pull.end_s, word.end_s) - min(pull.start_s, word.start_s)
        if common < _SAME_PULL * both:
            continue
        if word.use:
            by_hand = f"used although it was refused ({pull.reason}): {word.reason}" if pull.reason else ""
            pull = replace(
                pull, used=True, reason=None, assumptions=(*pull.assumptions, *([by_hand] if by_hand else []))
            )
        else:
            pull = replace(pull, used=False, reason=f"set aside by hand: {word.reason}")
    return pull


def _conditions(logs: Sequence[LogRow], days: Sequence[DayRow], changes: Sequence[ChangeRow]) -> ConditionsSheet:
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


def _recorded(library: Library, shelf: _Shelf, selection: Selection | None) -> Recorded:
    records, refused = [], []
    for row in shelf.logs if selection is None else _chosen(shelf.logs, selection):
        for pull in shelf.pulls[row.id]:
            if selection is not None and _left_out(row, pull, selection):
                refused.append(replace(pull, used=False, reason=pull.reason or "left out of the selection"))
            elif pull.used:
                records.append(_record(library, shelf, row, pull))
            else:
                refused.append(pull)
    return Recorded(tuple(records), tuple(refused))


def _chosen(rows: Sequence[LogRow], selection: Selection) -> list[LogRow]:
    days, logs = set(selection.days), set(selection.logs)
    missing = logs - {row.id for row in rows}
    if missing:
        raise CannotAnswer(
            f"log {min(missing)} is not among the logs of this car",
            advice="It may have been deleted; take that back, or select anew.",
        )
    return [row for row in rows if row.id in logs or row.day_id in days]


def _left_out(row: LogRow, pull: Pull, selection: Selection) -> bool:
    return any(log == row.id and pull.start_s - 1e-3 <= start < pull.end_s for log, start in selection.left_out)


def _record(library: Library, shelf: _Shelf, row: LogRow, pull: Pull) -> PullRecord:
    said = shelf.conditions.of(row.name)
    key = hashlib.sha256(repr((row.hash, row.reading_key, pull, said, shelf.car)).encode()).digest()

    def make() -> PullRecord:
        return record_pull(_log(library, shelf, row), pull, shelf.car, said)

    found: PullRecord = library.memory.get(key, make, lambda record: _bytes(record.traces) + _bytes(record.log.traces))
    return found


def _log(library: Library, shelf: _Shelf, row: LogRow) -> Log:
    def make() -> Log:
        try:
            log = read_samples(samples_path(library.folder, row.hash, row.reading_key))
        except UNREADABLE_SAMPLES:
            log = _put_right(library, shelf, row, damaged=True)
        return replace(log, file=row.name)

    found: Log = library.memory.get((row.hash, row.reading_key, row.name), make, lambda log: _bytes(log.traces))
    return found


def _bytes(traces: Mapping[str, object]) -> int:
    return sum(trace.time.nbytes + trace.values.nbytes for trace in traces.values())  # type: ignore[attr-defined]


def _put_right(library: Library, shelf: _Shelf, row: LogRow, *, damaged: bool = False) -> Log:
    """Read the original again where its reading is stale or `damaged`, find the pulls, and keep both."""
    car = shelf.car_for(row)
    if row.reading_key == reading_key(car) and not damaged:
        read = found_in(_log(library, shelf, row), car)
    else:
        read = _read_anew(library, shelf, row)
    path = samples_path(library.folder, row.hash, read.reading_key)
    kept = write_samples(library.folder, read.log, path)
    with library.transaction() as session:
        current = catalogue.get(session, LogRow, row.id)
        old = samples_path(library.folder, current.hash, current.reading_key)
        current.signature, current.reader_version = read.signature, reader_version()
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


def _read_anew(library: Library, shelf: _Shelf, row: LogRow) -> ReadOriginal:
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
    return read_original(library.folder, original, row.name, companions, shelf.car, shelf.decisions)
