"""Pairs that are worth comparing: what was recorded before and after each change, and each pair of builds."""

import datetime
import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from pullproof.library import catalogue
from pullproof.library.catalogue import Build
from pullproof.library.schema import DayRow, LogRow
from pullproof.web.asked import Asked

__all__ = ["Pair", "Stretch", "pairs", "stretches"]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Logs in a row that were recorded with one and the same build."""

    build: Build
    logs: tuple[LogRow, ...]

    @property
    def name(self) -> str:
        """The build by the change that was fitted last."""
        return f"with {self.build.changes[-1].what}" if self.build.changes else "as it came"


@dataclass(frozen=True, slots=True)
class Pair:
    """Two stretches that lie beside each other, and what was done between them."""

    what: str
    days: str
    asked: Asked
    last: int | None
    """The change that was fitted last between the two."""


def stretches(session: Session, car_id: int) -> list[Stretch]:
    """The logs of a car in order of time, parted wherever the build changed; those of unknown time are left out."""
    days = {day.id: day for day in catalogue.days(session, car_id)}
    changes = catalogue.changes(session, car_id)
    dated = []
    for row in catalogue.logs(session, car_id):
        day = days.get(row.day_id or 0)
        when = _moment(row, day)
        if when is None:
            continue
        build = catalogue.build_at(changes, when) if day is None else catalogue.build_of_day(session, day, row.when)
        dated.append((when, row, build))
    found: list[tuple[Build, list[LogRow]]] = []
    for _, row, build in sorted(dated, key=lambda entry: entry[0]):
        if found and found[-1][0].change_ids == build.change_ids:
            found[-1][1].append(row)
        else:
            found.append((build, [row]))
    return [Stretch(build, tuple(logs)) for build, logs in found]


def _moment(row: LogRow, day: DayRow | None) -> datetime.datetime | None:
    if row.when is not None:
        return row.when
    return None if day is None else datetime.datetime.combine(day.date, datetime.time.max)


def pairs(session: Session, car_id: int) -> list[Pair]:
    """What lies before and after each change, the latest first."""
    every = stretches(session, car_id)
    found = []
    for before, after in itertools.pairwise(every):
        new = [change for change in after.build.changes if change.id not in before.build.change_ids]
        fitted = [change.what for change in new]
        removed = [change.what for change in before.build.changes if change.id not in after.build.change_ids]
        what = "; ".join([*fitted, *(f"{name} removed" for name in removed)]) or "nothing"
        found.append(
            Pair(
                what=what,
                days=f"{_dates(before.logs)} against {_dates(after.logs)}",
                asked=Asked(before=_tokens(before.logs), after=_tokens(after.logs)),
                last=new[-1].id if new else None,
            )
        )
    return found[::-1]


def _tokens(logs: Sequence[LogRow]) -> tuple[str, ...]:
    return tuple(f"l{row.id}" for row in logs)


def _dates(logs: Sequence[LogRow]) -> str:
    dates = list(dict.fromkeys(row.when.date() for row in logs if row.when is not None))
    named = [f"{date.day} {date:%b %Y}" for date in dates]
    return " to ".join(dict.fromkeys([*named[:1], *named[-1:]])) or f"{len(logs)} logs"
