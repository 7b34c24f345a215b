"""Between which engine speeds pulls are compared, and which pulls cover that."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import Window
from pullproof.pulls import Pull

__all__ = [
    "NARROWEST_RPM",
    "SHARE_OF_REDLINE",
    "TOLERANCE_RPM",
    "WORTH_KEEPING",
    "Chosen",
    "check_window",
    "choose_window",
    "covers",
    "not_covering",
]

SHARE_OF_REDLINE = 0.6
TOLERANCE_RPM = 50.0
"""A pull that misses an end of the window by less still counts: less than one point of the grid."""

NARROWEST_RPM = 300.0

WORTH_KEEPING = 0.2
"""Width of a window, as a share of the redline, below which a pull that ends early is rather set aside."""


@dataclass(frozen=True, slots=True)
class Chosen:
    """The window, the pulls that cover it, those that do not, and what had to be assumed."""

    window: Window
    before: tuple[PullRecord, ...]
    after: tuple[PullRecord, ...]
    refused_before: tuple[Pull, ...]
    refused_after: tuple[Pull, ...]
    doubts: tuple[str, ...]


def choose_window(before: Sequence[PullRecord], after: Sequence[PullRecord], car: Car, window: Window | None) -> Chosen:
    """Take the window that was asked for, or from 60 % of the redline to the lowest end of all pulls.

    Raises
    ------
    CannotAnswer
        A side has no pull that covers the window, or the pulls share none.
    WrongUse
        The window asked for is not two rising engine speeds, or too narrow to be read.
    """
    for side, name in ((before, "before"), (after, "after")):
        if not side:
            raise CannotAnswer(f"there is no pull {name} the change", advice="Record one on each side.")
    doubts: tuple[str, ...] = ()
    if window is None:
        window, doubts = _default(before, after, car)
    check_window(window)
    low, high = window
    sides = [[record for record in side if covers(record.pull, window)] for side in (before, after)]
    for covering, side, name in zip(sides, (before, after), ("before", "after"), strict=True):
        if not covering:
            spans = ", ".join(f"{record.pull.rpm_start:.0f} to {record.pull.rpm_end:.0f}" for record in side)
            raise CannotAnswer(
                f"no pull {name} the change covers {low:g} to {high:g} rpm (they cover {spans} rpm)",
                advice="Choose a window that pulls of both sides cover.",
            )
    return Chosen(
        (float(low), float(high)),
        tuple(sides[0]),
        tuple(sides[1]),
        not_covering(before, window),
        not_covering(after, window),
        doubts,
    )


def _default(before: Sequence[PullRecord], after: Sequence[PullRecord], car: Car) -> tuple[Window, tuple[str, ...]]:
    """From 60 % of the redline to the lowest end of the pulls that are worth comparing.

    One pull that was begun late or broken off early must not take the window from all the others. It is set aside,
    unless it is the best that its side has; then the window gives way to it.
    """
    doubts = []
    redline = car.engine.redline_rpm
    if redline is None:
        redline = max(record.pull.rpm_end for record in (*before, *after))
        doubts.append(f"the car sheet has no redline: {redline:.0f} rpm, the highest end of a pull, is taken for it")
    low = SHARE_OF_REDLINE * redline
    earliest = max(min(record.pull.rpm_start for record in side) for side in (before, after))
    if earliest > low + TOLERANCE_RPM:
        doubts.append(
            f"the window begins at {earliest:.0f} rpm, where the earliest pull of one side starts, "
            f"not at {low:.0f} rpm, 60 % of the redline"
        )
        low = earliest
    high = _upper_end([_ends(side, low) for side in (before, after)], low + WORTH_KEEPING * redline)
    if high - low < NARROWEST_RPM:
        shortest = min((*before, *after), key=lambda record: record.pull.rpm_end).pull
        raise CannotAnswer(
            f"the pulls share no range of engine speed: from {low:.0f} to {high:.0f} rpm",
            where=f"{shortest.log}, pull at {shortest.start_s:.1f} s",
            advice="Record a pull that goes on to the redline, or name a window with --window.",
        )
    return (low, high), tuple(doubts)


def _ends(side: Sequence[PullRecord], low: float) -> list[float]:
    """Where the pulls of one side end that begin early enough, lowest first."""
    return sorted(record.pull.rpm_end for record in side if record.pull.rpm_start <= low + TOLERANCE_RPM)


def _upper_end(ends: list[list[float]], enough: float) -> float:
    """Lowest end of all once those are set aside that end below `enough`, as long as their side has others."""
    return min(min(side[-1], next((end for end in side if end >= enough), side[-1])) for side in ends)


def check_window(window: Window) -> None:
    """Refuse a window that nothing can be read in.

    Raises
    ------
    WrongUse
        It is not two rising engine speeds, or too narrow to be read.
    """
    low, high = window
    if not 0.0 < low < high:
        raise WrongUse(f"the window is {low:g} to {high:g} rpm", advice="Give two rising engine speeds, as 4000-6500.")
    if high - low < NARROWEST_RPM:
        raise WrongUse(
            f"the window from {low:g} to {high:g} rpm is too narrow to tell a pull from its noise",
            advice=f"Give one of {NARROWEST_RPM:g} rpm or more, as 4000-6500.",
        )


def covers(pull: Pull, window: Window) -> bool:
    """Whether a pull runs through the window, but for less than one point of the grid at either end."""
    return pull.rpm_start <= window[0] + TOLERANCE_RPM and pull.rpm_end >= window[1] - TOLERANCE_RPM


def not_covering(records: Sequence[PullRecord], window: Window) -> tuple[Pull, ...]:
    """The pulls that do not run through the window, set aside with the reason."""
    return tuple(
        replace(
            record.pull,
            used=False,
            reason=f"not the whole window: from {record.pull.rpm_start:.0f} to {record.pull.rpm_end:.0f} rpm only",
        )
        for record in records
        if not covers(record.pull, window)
    )
