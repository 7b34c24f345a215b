"""A car's whole history as the season model takes it."""

import datetime
from collections.abc import Iterable, Iterator, Mapping, Sequence

from sqlalchemy.orm import Session

from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, SeasonPull, join_spells
from pullproof.library import catalogue
from pullproof.library.catalogue import Build
from pullproof.library.opening import Library
from pullproof.library.preparing import prepare_records
from pullproof.library.readings import conditions_of, records_of
from pullproof.library.schema import CarRow, ChangeRow, DayRow, LogRow

__all__ = ["season_of"]


def season_of(library: Library, car_id: int) -> Season:
    """Changes, test days and every pull of a car with the build that it was driven in.

    The build is what the test day states, else what the dates of the changes say at the time of the log, else at the
    end of its day. A log of which nobody says when it was recorded is left out, with a doubt that says so.

    Raises
    ------
    CannotAnswer
        There is no such car.
    CannotRead
        Samples and original of a log are both gone or damaged.
    """
    prepare_records(library, car_id)
    recorded = records_of(library, car_id)
    sheet = conditions_of(library, car_id)
    with library.reading() as session:
        car = catalogue.car_of(catalogue.get(session, CarRow, car_id))
        changes = catalogue.changes(session, car_id)
        days = {day.id: day for day in catalogue.days(session, car_id)}
        logs = {row.name: row for row in catalogue.logs(session, car_id)}
        builds = {name: _build(session, row, days.get(row.day_id or 0), changes) for name, row in logs.items()}
    joined = join_spells([_change(change) for change in changes])
    names = {change.id: name for change, name in zip(changes, joined.names, strict=True)}
    pulls = []
    first: dict[str, tuple[datetime.datetime, DayRow | None]] = {}
    for record in part_outings(recorded.records, sheet):
        build = builds[record.log.file]
        if build is None:
            continue
        row = logs[record.log.file]
        day = days.get(row.day_id or 0)
        moment = _moment(row, day)
        pulls.append(SeasonPull(record, frozenset(names[change.id] for change in build.changes), moment))
        first[record.day] = min(first.get(record.day, (moment, day)), (moment, day), key=_moment_of)
    return Season(
        car=car,
        changes=joined.changes,
        days=tuple(_day(label, *entry) for label, entry in sorted(first.items(), key=lambda item: item[1][0])),
        pulls=tuple(pulls),
        refused=recorded.refused,
        doubts=(
            *joined.doubts,
            *_doubts({record.log.file for record in recorded.records}, logs, days, changes),
        ),
    )


def _build(session: Session, row: LogRow, day: DayRow | None, changes: Sequence[ChangeRow]) -> Build | None:
    """What was on the car when a log was recorded; None where nobody says when that was."""
    if day is not None:
        return catalogue.build_of_day(session, day, row.when)
    return None if row.when is None else catalogue.build_at(changes, row.when)


def _doubts(
    used: Iterable[str], logs: Mapping[str, LogRow], days: Mapping[int, DayRow], changes: Sequence[ChangeRow]
) -> Iterator[str]:
    for name in sorted(used):
        if logs[name].when is not None:
            continue
        day = days.get(logs[name].day_id or 0)
        if day is None:
            yield f"nobody says when {name} was recorded, so what was on the car is not known: its pulls are left out"
        elif _changed_on(changes, day):
            yield f"a change was made on {day.label}, and nobody says whether {name} was recorded before or after it"


def _moment(row: LogRow, day: DayRow | None) -> datetime.datetime:
    if row.when is not None or day is None:
        return row.when or datetime.datetime.max  # noqa: DTZ901
    return datetime.datetime.combine(day.date, datetime.time())


def _moment_of(entry: tuple[datetime.datetime, DayRow | None]) -> datetime.datetime:
    return entry[0]


def _changed_on(changes: Sequence[ChangeRow], day: DayRow) -> bool:
    """Whether a part went on or came off within the day: at its midnight it was there all day."""
    edges = [edge for change in changes for edge in (change.fitted, change.removed) if edge is not None]
    return not day.build_stated and any(edge.date() == day.date and edge.time() != datetime.time() for edge in edges)


def _change(change: ChangeRow) -> SeasonChange:
    return SeasonChange(
        name=change.what,
        fitted=change.fitted,
        kind=change.kind,
        cost=None if change.cost is None else float(change.cost),
        currency=change.currency or "",
        temporary=change.temporary,
        removed=change.removed,
        note=change.notes,
    )


def _day(label: str, when: datetime.datetime, day: DayRow | None) -> SeasonDay:
    if day is None:
        return SeasonDay(label, when)
    return SeasonDay(label, when, day.odometer_km, day.place)
