"""What a library holds, car by car, for whoever wants to see it at a glance."""

import datetime
from dataclasses import dataclass

from sqlalchemy.orm import Session

from pullproof.library import catalogue
from pullproof.library.kept_pulls import used_pulls
from pullproof.library.opening import Library
from pullproof.library.schema import CarRow, DayRow

__all__ = ["CarOverview", "DayOverview", "overview"]


@dataclass(frozen=True, slots=True)
class DayOverview:
    """One test day; `date` None gathers the logs that belong to none."""

    label: str
    date: datetime.date | None
    logs: int
    pulls: int
    used: int
    builds: tuple[tuple[str, ...], ...]
    """What was on the car, in the order driven: more than one where a change was made between two logs."""


@dataclass(frozen=True, slots=True)
class CarOverview:
    """One car with its test days, oldest first."""

    id: int
    name: str
    changes: int
    logs: int
    pulls: int
    used: int
    days: tuple[DayOverview, ...]


def overview(library: Library) -> tuple[CarOverview, ...]:
    """Every car of a library, by name; pulls are counted as they are used, the user's word applied."""
    with library.reading() as session:
        return tuple(_car(session, row) for row in catalogue.cars(session))


def _car(session: Session, car: CarRow) -> CarOverview:
    logs = catalogue.logs(session, car.id)
    pulls = used_pulls(session, [row.id for row in logs])
    days: list[DayRow | None] = [*catalogue.days(session, car.id)]
    placed = {day.id for day in days if day is not None}
    if any(row.day_id not in placed for row in logs):
        days.append(None)
    shown = []
    for day in days:
        of_day = [row for row in logs if (row.day_id == day.id if day is not None else row.day_id not in placed)]
        moments = [row.when for row in of_day] or [None]
        builds = [] if day is None else [catalogue.build_of_day(session, day, when).changes for when in moments]
        shown.append(
            DayOverview(
                label="no day" if day is None else day.label,
                date=None if day is None else day.date,
                logs=len(of_day),
                pulls=sum(pulls[row.id][0] for row in of_day),
                used=sum(pulls[row.id][1] for row in of_day),
                builds=tuple(dict.fromkeys(tuple(change.what for change in build) for build in builds)),
            )
        )
    found, used = sum(pair[0] for pair in pulls.values()), sum(pair[1] for pair in pulls.values())
    return CarOverview(car.id, car.name, len(catalogue.changes(session, car.id)), len(logs), found, used, tuple(shown))
