"""Between which engine speeds pulls are compared, and which pulls cover that."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.pulls import Pull

__all__ = ["Chosen", "choose_window"]

SHARE_OF_REDLINE = 0.6
TOLERANCE_RPM = 50.0
"""A pull that misses an end of the window by less still counts: less than one point of the grid."""

NARROWEST_RPM = 300.0


@dataclass(frozen=True, slots=True)
class Chosen:
    """The window, the pulls that cover it, those that do not, and what had to be assumed."""

    window: tuple[float, float]
    before: tuple[PullRecord, ...]
    after: tuple[PullRecord, ...]
    refused_before: tuple[Pull, ...]
    refused_after: tuple[Pull, ...]
    doubts: tuple[str, ...]


def choose_window(
    before: Sequence[PullRecord], after: Sequence[PullRecord], car: Car, window: tuple[float, float] | None
) -> Chosen:
    """Take the window that was asked for, or from 60 % of the redline to the lowest end of all pulls.

    Raises
    ------
    CannotAnswer
        A side has no pull that covers the window, or the pulls share none.
    WrongUse
        The window asked for is not two rising engine speeds.
    """
    for side, name in ((before, "before"), (after, "after")):
        if not side:
            raise CannotAnswer(f"there is no pull {name} the change", advice="Record one on each side.")
    if window is None:
        found, doubts = _default([*before, *after], car)
        return Chosen(found, tuple(before), tuple(after), (), (), doubts)
    low, high = window
    if not 0.0 < low < high:
        raise WrongUse(f"the window is {low:g} to {high:g} rpm", advice="Give two rising engine speeds, as 4000-6500.")
    sides = [[record for record in side if _covers(record.pull, window)] for side in (before, after)]
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
        _not_covering(before, window),
        _not_covering(after, window),
        (),
    )


def _default(records: Sequence[PullRecord], car: Car) -> tuple[tuple[float, float], tuple[str, ...]]:
    doubts = []
    high = min(record.pull.rpm_end for record in records)
    redline = car.engine.redline_rpm
    if redline is None:
        redline = max(record.pull.rpm_end for record in records)
        doubts.append(f"the car sheet has no redline: {redline:.0f} rpm, the highest end of a pull, is taken for it")
    low = SHARE_OF_REDLINE * redline
    latest = max(record.pull.rpm_start for record in records)
    if latest > low + TOLERANCE_RPM:
        doubts.append(
            f"the window begins at {latest:.0f} rpm, where the latest pull starts, "
            f"not at {low:.0f} rpm, 60 % of the redline"
        )
        low = latest
    if high - low < NARROWEST_RPM:
        shortest = min(records, key=lambda record: record.pull.rpm_end - record.pull.rpm_start).pull
        raise CannotAnswer(
            f"the pulls share no range of engine speed: from {low:.0f} to {high:.0f} rpm",
            where=f"{shortest.log}, pull at {shortest.start_s:.1f} s",
            advice="Leave out the log with the shortest pull, or name a window with --window.",
        )
    return (low, high), tuple(doubts)


def _covers(pull: Pull, window: tuple[float, float]) -> bool:
    return pull.rpm_start <= window[0] + TOLERANCE_RPM and pull.rpm_end >= window[1] - TOLERANCE_RPM


def _not_covering(records: Sequence[PullRecord], window: tuple[float, float]) -> tuple[Pull, ...]:
    return tuple(
        replace(
            record.pull,
            used=False,
            reason=f"not the whole window: from {record.pull.rpm_start:.0f} to {record.pull.rpm_end:.0f} rpm only",
        )
        for record in records
        if not _covers(record.pull, window)
    )
