"""From own samples and a limit to what happened: where, how far, and between which bounds of time.

A sample is an instant, not a stretch. How long a reading stayed past its limit is known only between two bounds: at
least from the first sample past it to the last, at most from the sample before to the sample after. One sample alone
has no length at all. Passages that follow one another closely are told as one event, their times added up.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.watch.result import Limit
from pullproof.analysis.watch.scene import Signal
from pullproof.arrays import Array

__all__ = ["Passing", "passings", "past", "worst"]

Kind = Literal["sustained", "brief", "single sample"]


CLOSELY_S = 5.0
"""Passages with less between them are one event. [s]"""


@dataclass(frozen=True, slots=True)
class Passing:
    """Samples past a limit, in one passage or several close ones. `first`, `last` and `at` are places in the signal."""

    kind: Kind
    first: int
    last: int
    at: int
    samples: int
    passages: int
    at_least_s: float
    at_most_s: float | None


def past(values: Array, limit: Limit) -> Array:
    """How far each value is past the limit; negative where it is not. [unit of the limit]"""
    return values - limit.value if limit.side == "above" else limit.value - values


def worst(signal: Signal, limit: Limit) -> int:
    """Place of the reading nearest to its limit, or farthest past it."""
    return int(np.argmax(past(signal.values, limit)))


def passings(signal: Signal, limit: Limit) -> tuple[Passing, ...]:
    """Every event, in order of time."""
    beyond = past(signal.values, limit)
    runs = _runs(beyond > 0.0, signal)
    events: list[list[tuple[int, int]]] = []
    for run in runs:
        if events and signal.time[run[0]] - signal.time[events[-1][-1][1]] < CLOSELY_S:
            events[-1].append(run)
        else:
            events.append([run])
    return tuple(_event(event, beyond, signal, limit) for event in events)


def _runs(over: NDArray[np.bool_], signal: Signal) -> list[tuple[int, int]]:
    """First and last place of all samples in a row that are past the limit and of one segment."""
    joined = np.zeros(over.size + 1, dtype=bool)
    joined[1:-1] = over[1:] & over[:-1] & (signal.segment[1:] == signal.segment[:-1])
    begins, ends = np.flatnonzero(over & ~joined[:-1]), np.flatnonzero(over & ~joined[1:])
    return list(zip(begins.tolist(), ends.tolist(), strict=True))


def _event(runs: list[tuple[int, int]], beyond: Array, signal: Signal, limit: Limit) -> Passing:
    lengths = [float(signal.time[last] - signal.time[first]) for first, last in runs]
    bounds = [_at_most(signal, first, last) for first, last in runs]
    samples = sum(last - first + 1 for first, last in runs)
    first, last = runs[0][0], runs[-1][1]
    longest = max(lengths)
    return Passing(
        kind="single sample" if samples == 1 else "sustained" if longest and longest >= limit.for_s else "brief",
        first=first,
        last=last,
        at=first + int(np.argmax(beyond[first : last + 1])),
        samples=samples,
        passages=len(runs),
        at_least_s=sum(lengths),
        at_most_s=None if None in bounds else sum(bound for bound in bounds if bound is not None),
    )


def _at_most(signal: Signal, first: int, last: int) -> float | None:
    """From the sample before to the sample after; None where the segment ends."""
    before, after = first - 1, last + 1
    if before < 0 or after >= signal.time.size:
        return None
    if not signal.segment[before] == signal.segment[first] == signal.segment[after]:
        return None
    return float(signal.time[after] - signal.time[before])
