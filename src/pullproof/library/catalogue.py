"""What is in a library: cars, changes, builds, test days, logs and decisions, found, added, deleted and taken back.

Every function takes the session of a transaction: `with library.transaction() as session:` to write,
`with library.reading() as session:` to read. Rows are those of `schema`; they stay readable after the block. A new
change, day, photo or comparison is added with `add(session, ChangeRow(car_id=..., what=..., fitted=...))`; an
attribute that is set within a transaction is written at its end.
"""

import datetime
import functools
from collections.abc import Iterable
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from pullproof.car import Car, ColumnRule, parse_car
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.library.schema import (
    Base,
    CarRow,
    ChangeRow,
    ColumnDecisionRow,
    ComparisonRow,
    DayBuildRow,
    DayRow,
    JobFileRow,
    JobRow,
    LogRow,
    OverrulingRow,
    PhotoRow,
    SettingRow,
    now,
)
from pullproof.library.values import Build, Selection, build_at
from pullproof.reading.owner import checked_rule

__all__ = [
    "Build",
    "Selection",
    "add",
    "add_car",
    "build_at",
    "build_of_day",
    "builds",
    "car_named",
    "car_of",
    "cars",
    "changes",
    "comparisons",
    "day_labelled",
    "days",
    "decide_column",
    "decisions_of",
    "delete",
    "deleted",
    "edit_car",
    "get",
    "job_files",
    "jobs",
    "logs",
    "overrule",
    "overrulings",
    "photos",
    "remember",
    "setting",
    "state_build",
    "take_back",
    "undecide_column",
]

Row = TypeVar("Row", bound=Base)
_BEGINNING = datetime.datetime.min  # noqa: DTZ901  clock on the wall, as all dates of changes
Deletable = CarRow | ChangeRow | DayRow | LogRow | PhotoRow | OverrulingRow | ComparisonRow


# Any row


def get(session: Session, kind: type[Row], row_id: int) -> Row:
    """The row with this number.

    Raises
    ------
    CannotAnswer
        There is none.
    """
    row = session.get(kind, row_id)
    if row is None:
        raise CannotAnswer(f"there is no entry {row_id} in {kind.__tablename__}", advice="It may have been removed.")
    return row


def add(session: Session, row: Row) -> Row:
    """Add a row and give it its number.

    Raises
    ------
    WrongUse
        It contradicts what is there: a label that exists, a removal before the fitting, a car that is not there.
    """
    session.add(row)
    _flush(session, row)
    return row


def delete(session: Session, row: Deletable) -> None:
    """Delete, so that it can be taken back. What hangs on it goes and comes back with it."""
    row.deleted_at = now()
    _flush(session, row)


def take_back(session: Session, row: Deletable) -> None:
    """Take a deletion back.

    Raises
    ------
    WrongUse
        Meanwhile another one has its name.
    """
    row.deleted_at = None
    _flush(session, row)


def deleted(session: Session, car_id: int | None = None) -> list[Deletable]:
    """What can be taken back, last deleted first: cars, or what belongs to one car."""
    if car_id is None:
        found: list[Deletable] = list(session.scalars(select(CarRow).where(CarRow.deleted_at.is_not(None))))
    else:
        found = []
        for kind in (ChangeRow, DayRow, LogRow, ComparisonRow):
            gone = select(kind).where(kind.car_id == car_id, kind.deleted_at.is_not(None))
            found += session.scalars(gone)
        photos_gone = select(PhotoRow).join(ChangeRow, PhotoRow.change_id == ChangeRow.id)
        found += session.scalars(photos_gone.where(ChangeRow.car_id == car_id, PhotoRow.deleted_at.is_not(None)))
    return sorted(found, key=lambda row: row.deleted_at or now(), reverse=True)


def _flush(session: Session, row: Base) -> None:
    try:
        session.flush()
    except IntegrityError as error:
        session.rollback()
        raise WrongUse(
            f"this contradicts what is in {row.__tablename__} ({str(error.orig).splitlines()[0]})",
            advice="Use another name or label, and dates in their order.",
        ) from error


# Cars


def cars(session: Session) -> list[CarRow]:
    """All cars, by name."""
    return list(session.scalars(select(CarRow).where(CarRow.deleted_at.is_(None)).order_by(CarRow.name)))


def car_named(session: Session, name: str) -> CarRow:
    """The car with this name.

    Raises
    ------
    CannotAnswer
        There is none; the sentence lists those that are there.
    """
    known = {car.name: car for car in cars(session)}
    if name not in known:
        first = "Import logs with the car's sheet first: pullproof library import LOGS --car car.toml."
        there = f"Cars are: {', '.join(known)}." if known else first
        raise CannotAnswer(f'the library knows no car "{name}"', advice=there)
    return known[name]


def add_car(session: Session, sheet: str) -> CarRow:
    """Add a car by its sheet (TOML text), under the name in it.

    Raises
    ------
    WrongUse, CannotRead
        The sheet makes no sense, or a car has this name.
    """
    car = parse_car(sheet)
    if any(other.name == car.name for other in cars(session)):
        raise WrongUse(f'there is a car "{car.name}" already', advice="Choose another name.")
    return add(session, CarRow(name=car.name, sheet=sheet))


def edit_car(session: Session, row: CarRow, sheet: str) -> CarRow:
    """Give a car another sheet, and the name in it.

    Raises
    ------
    WrongUse, CannotRead
        As `add_car`; the car stays as it was.
    """
    car = parse_car(sheet)
    if any(other.name == car.name and other.id != row.id for other in cars(session)):
        raise WrongUse(f'there is another car "{car.name}"', advice="Choose another name.")
    row.name, row.sheet = car.name, sheet
    _flush(session, row)
    return row


def car_of(row: CarRow) -> Car:
    """The car as every analysis takes it: its sheet, parsed."""
    return _parsed(row.sheet, row.name)


@functools.lru_cache(maxsize=256)
def _parsed(sheet: str, name: str) -> Car:
    return parse_car(sheet, f"car sheet of {name}")


# Changes and builds


def changes(session: Session, car_id: int) -> list[ChangeRow]:
    """Changes of a car in the order in which they were fitted."""
    found = select(ChangeRow).where(ChangeRow.car_id == car_id, ChangeRow.deleted_at.is_(None))
    return list(session.scalars(found.order_by(ChangeRow.fitted, ChangeRow.id)))


def photos(session: Session, change_id: int) -> list[PhotoRow]:
    """Photos of a change in the order in which they came; `files.original_path` finds each file by its hash."""
    found = select(PhotoRow).where(PhotoRow.change_id == change_id, PhotoRow.deleted_at.is_(None))
    return list(session.scalars(found.order_by(PhotoRow.id)))


def builds(session: Session, car_id: int) -> list[Build]:
    """Every build that the car has had by the dates of its changes, in order; first the car as it came."""
    every = changes(session, car_id)
    edges = sorted({edge for change in every for edge in (change.fitted, change.removed) if edge is not None})
    return [build_at(every, edge) for edge in (_BEGINNING, *edges)]


def build_of_day(session: Session, day: DayRow, when: datetime.datetime | None = None) -> Build:
    """The build of a day: what somebody stated, else what the dates say at `when`, by default the end of the day.

    Ask with the moment of a log where a part was changed in the middle of a day.
    """
    every = changes(session, day.car_id)
    if day.build_stated:
        stated = set(session.scalars(select(DayBuildRow.change_id).where(DayBuildRow.day_id == day.id)))
        return Build(tuple(change for change in every if change.id in stated))
    return build_at(every, when or datetime.datetime.combine(day.date, datetime.time.max))


def state_build(session: Session, day: DayRow, change_ids: Iterable[int] | None) -> None:
    """Say which changes were on the car on a day; None goes back to their dates."""
    for entry in session.scalars(select(DayBuildRow).where(DayBuildRow.day_id == day.id)):
        session.delete(entry)
    session.flush()
    day.build_stated = change_ids is not None
    session.add_all(DayBuildRow(day_id=day.id, change_id=change_id) for change_id in set(change_ids or ()))
    _flush(session, day)


# Test days and logs


def days(session: Session, car_id: int) -> list[DayRow]:
    """Test days of a car, oldest first."""
    found = select(DayRow).where(DayRow.car_id == car_id, DayRow.deleted_at.is_(None))
    return list(session.scalars(found.order_by(DayRow.date, DayRow.id)))


def day_labelled(session: Session, car_id: int, label: str) -> DayRow | None:
    """The test day with this label."""
    found = select(DayRow).where(DayRow.car_id == car_id, DayRow.label == label, DayRow.deleted_at.is_(None))
    return session.scalars(found).one_or_none()


def logs(session: Session, car_id: int, day_id: int | None = None) -> list[LogRow]:
    """Logs of a car, or of one of its days, oldest first, those of unknown time last."""
    found = select(LogRow).where(LogRow.car_id == car_id, LogRow.deleted_at.is_(None))
    if day_id is not None:
        found = found.where(LogRow.day_id == day_id)
    return list(session.scalars(found.order_by(LogRow.when.nulls_last(), LogRow.name)))


# Decisions


def decisions_of(session: Session, signature: str) -> dict[str, ColumnRule]:
    """What was decided of the columns of a logger, by header; the car sheet's own [columns] go before it."""
    found = session.scalars(select(ColumnDecisionRow).where(ColumnDecisionRow.signature == signature))
    return {row.header: ColumnRule(row.channel, row.unit) for row in found}


def decide_column(
    session: Session, signature: str, header: str, rule: ColumnRule, *, decided_by: str = ""
) -> ColumnDecisionRow:
    """Say what a column of a logger is (or with channel None, that it is to be left alone), now and from now on.

    Raises
    ------
    WrongUse
        The channel does not exist, or the unit is none of it.
    """
    if rule.channel is not None:
        checked_rule(rule, f'column "{header}"')
    found = select(ColumnDecisionRow).where(
        ColumnDecisionRow.signature == signature, ColumnDecisionRow.header == header
    )
    row = session.scalars(found).one_or_none() or ColumnDecisionRow(signature=signature, header=header)
    row.channel, row.unit, row.decided_by, row.decided_at = rule.channel, rule.unit, decided_by, now()
    return add(session, row)


def undecide_column(session: Session, signature: str, header: str) -> None:
    """Take a decision back: the column is recognised by itself again."""
    found = select(ColumnDecisionRow).where(
        ColumnDecisionRow.signature == signature, ColumnDecisionRow.header == header
    )
    for row in session.scalars(found):
        session.delete(row)
    session.flush()


def overrulings(session: Session, log_id: int) -> list[OverrulingRow]:
    """The user's words on the pulls of a log, oldest first: a later one goes before an earlier one."""
    found = select(OverrulingRow).where(OverrulingRow.log_id == log_id, OverrulingRow.deleted_at.is_(None))
    return list(session.scalars(found.order_by(OverrulingRow.id)))


def overrule(session: Session, log_id: int, start_s: float, end_s: float, *, use: bool, reason: str) -> OverrulingRow:
    """Use a pull that was refused, or refuse one that was used, and say why.

    Raises
    ------
    WrongUse
        No reason is given, or the span has no length.
    """
    if not reason.strip():
        raise WrongUse("no reason is given", advice="Say why: in a year nobody will remember.")
    if not start_s < end_s:
        raise WrongUse(f"the span from {start_s:g} s to {end_s:g} s has no length", advice="Name a pull of the log.")
    return add(session, OverrulingRow(log_id=log_id, start_s=start_s, end_s=end_s, use=use, reason=reason.strip()))


# Comparisons, jobs, settings


def comparisons(session: Session, car_id: int) -> list[ComparisonRow]:
    """Comparisons that were kept, newest first."""
    found = select(ComparisonRow).where(ComparisonRow.car_id == car_id, ComparisonRow.deleted_at.is_(None))
    return list(session.scalars(found.order_by(ComparisonRow.made_at.desc(), ComparisonRow.id.desc())))


def jobs(session: Session, limit: int = 50) -> list[JobRow]:
    """Long work, newest first."""
    return list(session.scalars(select(JobRow).order_by(JobRow.id.desc()).limit(limit)))


def job_files(session: Session, job_id: int) -> list[JobFileRow]:
    """What became of the files of an import, in order."""
    return list(session.scalars(select(JobFileRow).where(JobFileRow.job_id == job_id).order_by(JobFileRow.id)))


def setting(session: Session, key: str) -> dict[str, Any]:
    """A preference; empty where nobody has one."""
    row = session.get(SettingRow, key)
    return {} if row is None else dict(row.value)


def remember(session: Session, key: str, value: dict[str, Any]) -> None:
    """Keep a preference."""
    session.merge(SettingRow(key=key, value=value))
    session.flush()
