"""A season as plain data: the car, what was changed on it and when, the test days, and every pull with its build."""

import datetime
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import NamedTuple

from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import WrongUse
from pullproof.pulls import Pull

__all__ = ["Joined", "Season", "SeasonChange", "SeasonDay", "SeasonPull", "Spell", "build_at", "join_spells"]


@dataclass(frozen=True, slots=True)
class Spell:
    """From when to when a change was on the car; None for `removed` says that it stayed."""

    fitted: datetime.datetime
    removed: datetime.datetime | None = None


@dataclass(frozen=True, slots=True)
class SeasonChange:
    """Something done to the car. `name` is unique in its season.

    Moments are those on the clock on the wall; None for `fitted` says that nobody wrote it down. What was taken off and
    fitted `again` is one change with several spells.
    """

    name: str
    fitted: datetime.datetime | None = None
    kind: str = ""
    cost: float | None = None
    currency: str = ""
    temporary: bool = False
    removed: datetime.datetime | None = None
    note: str = ""
    again: tuple[Spell, ...] = ()

    def on_car(self, when: datetime.datetime) -> bool:
        """Whether it was on the car at a moment; without a date of fitting it is taken as always there."""
        first = (self.fitted is None or self.fitted <= when) and (self.removed is None or when < self.removed)
        return first or any(
            spell.fitted <= when and (spell.removed is None or when < spell.removed) for spell in self.again
        )


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


class Joined(NamedTuple):
    """What `join_spells` gives: changes with unique names, the name of each entry given, and doubts."""

    changes: tuple[SeasonChange, ...]
    names: tuple[str, ...]
    doubts: tuple[str, ...]


def build_at(changes: Iterable[SeasonChange], when: datetime.datetime) -> frozenset[str]:
    """Names of the changes that are on the car at a moment; one whose day nobody wrote down is taken as always there.

    A change that is fitted or removed at midnight counts from the start of that day.
    """
    return frozenset(change.name for change in changes if change.on_car(when))


def join_spells(changes: Sequence[SeasonChange]) -> Joined:
    """Make one change of entries of one name that were on the car one after another, and tell the others apart.

    A part that is taken off and fitted again is the same part: every spell tells of its effect. Entries whose spells
    overlap, and calibrations, of which one name often means many, stay apart and get their dates as names.
    """
    names = [change.name for change in changes]
    kept: list[SeasonChange] = []
    doubts: list[str] = []
    for name in dict.fromkeys(names):
        members = [place for place, change in enumerate(changes) if change.name == name]
        entries = [changes[place] for place in members]
        if len(members) == 1:
            kept += entries
        elif _one_after_another(entries):
            kept.append(_joined(entries))
            doubts.append(
                f"{name} was fitted {len(entries)} times and counts as one and the same: give the entries names of "
                "their own where it was not"
            )
        else:
            for place, own in zip(members, _dated(entries), strict=True):
                names[place] = own
                kept.append(replace(changes[place], name=own))
    return Joined(tuple(kept), tuple(names), tuple(doubts))


def _one_after_another(entries: Sequence[SeasonChange]) -> bool:
    spells = sorted((entry.fitted, entry.removed) for entry in entries if entry.fitted and entry.removed)
    last = [entry for entry in entries if entry.removed is None]
    if len(last) > 1 or any(entry.fitted is None or entry.kind == "calibration" for entry in entries):
        return False
    ends = [*spells, *((entry.fitted, entry.fitted) for entry in last if entry.fitted)]
    return all(earlier[1] <= later[0] for earlier, later in pairwise(ends))


def _joined(entries: Sequence[SeasonChange]) -> SeasonChange:
    first, *rest = sorted(entries, key=lambda entry: entry.fitted or datetime.datetime.min)  # noqa: DTZ901
    costs = [entry.cost for entry in (first, *rest) if entry.cost is not None]
    again = tuple(Spell(entry.fitted, entry.removed) for entry in rest if entry.fitted is not None)
    return replace(first, cost=costs[0] if costs else None, again=again)


def _dated(entries: Sequence[SeasonChange]) -> list[str]:
    """Names with the date of fitting, and a number where two were fitted on one day."""
    names: list[str] = []
    for entry in entries:
        date = f"{entry.fitted:%Y-%m-%d}" if entry.fitted else "no date"
        name, number = f"{entry.name} ({date})", 2
        while name in names:
            name, number = f"{entry.name} ({date}, {number})", number + 1
        names.append(name)
    return names


def _known(used: Iterable[str], given: Sequence[str], what: str) -> None:
    strange = sorted(set(used) - set(given))
    if strange:
        raise WrongUse(
            f'a pull names the {what} "{strange[0]}", which the season does not have',
            advice=f"Known: {', '.join(given) or 'none'}.",
        )
