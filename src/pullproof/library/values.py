"""Plain values of a library that are no rows: a build, and one side of a comparison."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from pullproof.library.schema import ChangeRow

__all__ = ["Build", "Selection", "build_at"]


@dataclass(frozen=True, slots=True)
class Build:
    """The changes on the car at one time, oldest first, and from when to when (None: from the start; until now)."""

    changes: tuple[ChangeRow, ...]
    since: datetime.datetime | None = None
    until: datetime.datetime | None = None

    @property
    def change_ids(self) -> frozenset[int]:
        """What tells one build from another."""
        return frozenset(change.id for change in self.changes)


def build_at(every: Sequence[ChangeRow], when: datetime.datetime) -> Build:
    """What is on the car at a moment (clock on the wall), from the dates of its changes."""
    fitted = tuple(change for change in every if _on_car(change, when))
    edges = sorted({edge for change in every for edge in (change.fitted, change.removed) if edge is not None})
    since = max((edge for edge in edges if edge <= when), default=None)
    until = min((edge for edge in edges if edge > when), default=None)
    return Build(fitted, since, until)


def _on_car(change: ChangeRow, when: datetime.datetime) -> bool:
    return change.fitted <= when and (change.removed is None or when < change.removed)


@dataclass(frozen=True, slots=True)
class Selection:
    """One side of a comparison: whole days, single logs, and the pulls of them (log, start [s]) that are left out."""

    days: tuple[int, ...] = ()
    logs: tuple[int, ...] = ()
    left_out: tuple[tuple[int, float], ...] = ()

    def as_json(self) -> dict[str, Any]:
        """As `ComparisonRow` keeps it."""
        return {"days": list(self.days), "logs": list(self.logs), "left_out": [list(pull) for pull in self.left_out]}

    @classmethod
    def from_json(cls, said: Mapping[str, Any]) -> "Selection":
        """The reverse of `as_json`."""
        left_out = tuple((int(log), float(start)) for log, start in said.get("left_out", ()))
        return cls(tuple(said.get("days", ())), tuple(said.get("logs", ())), left_out)
