"""Orders of pulls: which state of the car is driven when, on which day, and how often a part has to be changed."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType
from typing import TypeAlias

from pullproof.analysis.plan.result import Costs, Run, State

__all__ = ["CEILING_PULLS", "ORDERS", "Order", "Schedule", "schedule"]

Sequence_: TypeAlias = tuple[tuple[State, int], ...]

CEILING_PULLS = 60
"""Pulls a side that stand for no end of them: scatter between pulls is an eighth of itself then."""


@dataclass(frozen=True, slots=True)
class Order:
    """A way to order pulls. `sides` are the numbers of pulls a side that are weighed.

    `sequence` gives state and day of each pull for a number of pulls a side.
    """

    id: str
    label: str
    sides: tuple[int, ...]
    sequence: Callable[[int], Sequence_]
    one_day: bool


@dataclass(frozen=True, slots=True)
class Schedule:
    """An order with its clock: every pull, how often a part is changed, the minutes in all and on the longest day."""

    runs: tuple[Run, ...]
    part_changes: int
    minutes: float
    longest_day: float
    most_on_a_day: int

    def fits(self, costs: Costs) -> bool:
        """Whether each day holds its part."""
        return self.longest_day <= costs.day_min and self.most_on_a_day <= costs.day_pulls


def schedule(sequence: Sequence_, costs: Costs) -> Schedule:
    """Put a clock to an order: warm-up, pulls, and changes of parts, those between two days on neither of them."""
    runs: list[Run] = []
    changes, clock = 0, costs.warm_up_min
    lengths: dict[int, float] = {}
    before: tuple[State, int] | None = None
    for state, day in sequence:
        new_day = before is not None and day != before[1]
        if new_day:
            clock = costs.warm_up_min
        if before is not None and state != before[0]:
            changes += 1
            clock += 0.0 if new_day else costs.change_min
        runs.append(Run(state, day, clock))
        clock += costs.pull_min
        lengths[day] = clock
        before = state, day
    overnight = sum(one[1] != other[1] and one[0] != other[0] for one, other in pairwise(sequence))
    counts = [sum(run.day == day for run in runs) for day in lengths]
    return Schedule(
        runs=tuple(runs),
        part_changes=changes,
        minutes=sum(lengths.values()) + overnight * costs.change_min,
        longest_day=max(lengths.values()),
        most_on_a_day=max(counts),
    )


def _block(state: State, pulls: int, day: int = 1) -> Sequence_:
    return ((state, day),) * pulls


def _before_after(pulls: int) -> Sequence_:
    return _block("before", pulls) + _block("after", pulls)


def _before_after_before(pulls: int) -> Sequence_:
    """The first state once more at the end: what drifts evenly cancels. `pulls` after, as many before in two parts."""
    first = (pulls + 1) // 2
    return _block("before", first) + _block("after", pulls) + _block("before", pulls - first)


def _turns(pulls: int) -> Sequence_:
    return tuple(item for _ in range(pulls) for item in (*_block("before", 1), *_block("after", 1)))


def _two_days(pulls: int) -> Sequence_:
    return _block("before", pulls, 1) + _block("after", pulls, 2)


def _both_on(days: int) -> Callable[[int], Sequence_]:
    """Both states on every day, the first by turns: only one change a day."""

    def sequence(pulls: int) -> Sequence_:
        found: list[tuple[State, int]] = []
        for day in range(1, days + 1):
            share = pulls // days + (day <= pulls % days)
            states: Sequence[State] = ("before", "after") if day % 2 else ("after", "before")
            found += [item for state in states for item in _block(state, share, day)]
        return tuple(found)

    return sequence


def _days_a_side(pulls: int) -> Sequence_:
    """Two pulls on each of several days before, then as many after."""
    days = pulls // 2
    before = tuple(item for day in range(1, days + 1) for item in _block("before", 2, day))
    return before + tuple(item for day in range(days + 1, 2 * days + 1) for item in _block("after", 2, day))


def _table() -> Mapping[str, Order]:
    rows = [
        Order("before_after", "before, then after, one day", tuple(range(1, 11)), _before_after, one_day=True),
        Order(
            "before_after_before", "before, after, before again, one day", (2, 3, 4, 6, 8, 10), _before_after_before,
            one_day=True,
        ),
        Order("alternating", "before and after by turns, one day", (2, 3, 4), _turns, one_day=True),
        Order("two_days", "before on one day, after on another", (1, 3, 10), _two_days, one_day=False),
        Order("both_on_two_days", "both states on each of two days", (2, 4, 6, 10), _both_on(2), one_day=False),
        Order("both_on_three_days", "both states on each of three days", (3, 6, 9), _both_on(3), one_day=False),
        Order(
            "several_days", "several days before, several after, two pulls each", (4, 6, 10), _days_a_side,
            one_day=False,
        ),
    ]  # fmt: skip
    return MappingProxyType({row.id: row for row in rows})


ORDERS = _table()
"""All orders that are weighed, by id."""
