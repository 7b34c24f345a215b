"""A season as plain data: the car, what was changed on it and when, the test days, and every pull with its build."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import WrongUse
from pullproof.pulls import Pull

__all__ = ["Season", "SeasonChange", "SeasonDay", "SeasonPull", "build_at"]


@dataclass(frozen=True, slots=True)
class SeasonChange:
    """Something done to the car. `name` is unique in its season.

    Moments are those on the clock on the wall; None for `fitted` says that nobody wrote it down.
    """

    name: str
    fitted: datetime.datetime | None = None
    kind: str = ""
    cost: float | None = None
    currency: str = ""
    temporary: bool = False
    removed: datetime.datetime | None = None
    note: str = ""


@dataclass(frozen=True, slots=True)
class SeasonDay:
    """One outing. `label` is what the records of its pulls call it."""

    label: str
    when: datetime.datetime | None = None
    odometer_km: float | None = None
    place: str = ""


@dataclass(frozen=True, slots=True)
class SeasonPull:
    """A pull that is ready to be read, and the names of the changes that were on the car."""

    record: PullRecord
    build: frozenset[str]
    when: datetime.datetime | None = None
    """When its log was started."""


@dataclass(frozen=True, slots=True)
class Season:
    """A car's whole history, or the part of it that is looked at.

    `refused` are pulls that were found and cannot be used; they are carried along so that nothing is lost in silence.
    """

    car: Car
    changes: tuple[SeasonChange, ...]
    days: tuple[SeasonDay, ...]
    pulls: tuple[SeasonPull, ...]
    refused: tuple[Pull, ...] = ()
    doubts: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        for what, names in (("change", [c.name for c in self.changes]), ("test day", [d.label for d in self.days])):
            twice = sorted({name for name in names if names.count(name) > 1})
            if twice:
                raise WrongUse(f'two {what}s are called "{twice[0]}"', advice="Give each a name of its own.")
        _known({pull.record.day for pull in self.pulls}, [day.label for day in self.days], "test day")
        _known({name for pull in self.pulls for name in pull.build}, [change.name for change in self.changes], "change")


def build_at(changes: Iterable[SeasonChange], when: datetime.datetime) -> frozenset[str]:
    """Names of the changes that are on the car at a moment; one whose day nobody wrote down is taken as always there.

    A change that is fitted or removed at midnight counts from the start of that day.
    """
    return frozenset(
        change.name
        for change in changes
        if (change.fitted is None or change.fitted <= when) and (change.removed is None or when < change.removed)
    )


def _known(used: Iterable[str], given: Sequence[str], what: str) -> None:
    strange = sorted(set(used) - set(given))
    if strange:
        raise WrongUse(
            f'a pull names the {what} "{strange[0]}", which the season does not have',
            advice=f"Known: {', '.join(given) or 'none'}.",
        )
