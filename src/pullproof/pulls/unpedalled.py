"""Full load in a log without pedal and throttle: from engine speed, and from whatever shows load."""

from itertools import pairwise

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.pulls.drive import Drive, steady_top
from pullproof.pulls.full_load import FullLoad, Span
from pullproof.pulls.revs import averaged, rising_legs
from pullproof.reading.log import Log
from pullproof.timebase import cut, new_samples

__all__ = ["rising_spans"]

# What shows load, best first.
_LOAD_CHANNELS = (
    "engine_load",
    "manifold_pressure",
    "charge_pressure",
    "engine_torque",
    "air_mass_flow",
    "injector_duty",
)
# Without a pedal only a run that goes high, and briskly, can be told from ordinary driving: share of the highest
# engine speed, rate of the logarithm [1/s], and share of the largest load in the log.
_GOES_HIGH, _BRISK, _NEAR_FULL = 0.7, 0.05, 0.85
# A rise begins and ends where it falls below this share of its usual rate, seen through a window [s].
_KINK, _WINDOW_S = 0.3, 0.3
_LEFT_ITS_LEVEL = 0.005
# Shorter rises [s] are a blip of the throttle on a change down, as far as one can see.
_LEAST_S = 1.2
# Rises so close [s] are looked at together: a change of gear, spinning wheels or a hole may lie between.
_BRIEF_FALL_S, _BRIEF_HOLE_S = 0.8, 4.0


def rising_spans(log: Log, drive: Drive) -> FullLoad:
    """Stretches where engine speed rises as it does at full load."""
    load = next((new_samples(log.traces[name]) for name in _LOAD_CHANNELS if name in log.traces), None)
    spans: list[Span] = []
    for start, end in _parts(drive):
        time, speed = averaged(*drive.engine_between(start, end))
        for first, last in _together(time, rising_legs(speed)):
            span = _between_kinks(time[first : last + 1], np.log(speed[first : last + 1]))
            if span is not None and _brisk(drive, span) and _loaded(load, span):
                spans.append(span)
    high = [drive.engine_at(span.end) > _GOES_HIGH * drive.ceiling for span in spans]
    goes_on = [later.start - span.end < _BRIEF_HOLE_S for span, later in pairwise(spans)]
    spans = [
        span
        for place, span in enumerate(spans)
        if high[place] or (place < len(goes_on) and goes_on[place] and high[place + 1])
    ]
    shown_by = "engine speed rising briskly" if load is None else f"{load.channel.replace('_', ' ')} near its largest"
    return FullLoad(
        channel="" if load is None else load.channel,
        spans=tuple(spans),
        holes=np.empty((0, 2)),
        assumptions=(f"no pedal or throttle in the log: full load taken from {shown_by}",),
    )


def _parts(drive: Drive) -> list[tuple[float, float]]:
    """The record between its holes. [s]"""
    if drive.engine.time.size == 0:
        return []
    edges = [drive.engine.time[0], *drive.holes.ravel(), drive.engine.time[-1]]
    return list(zip(edges[::2], edges[1::2], strict=True))


def _together(time: Array, legs: list[tuple[int, int]]) -> list[tuple[int, int]]:
    """Rises with only a brief fall between them as one."""
    joined: list[tuple[int, int]] = []
    for first, last in legs:
        if joined and time[first] - time[joined[-1][1]] < _BRIEF_FALL_S:
            joined[-1] = (joined[-1][0], last)
        else:
            joined.append((first, last))
    return joined


def _between_kinks(time: Array, level: Array) -> Span | None:
    """The steep part of a rise: from where it turns steep to where it stops being so."""
    if time.size < 4 or level[-1] - level[0] < 0.1:
        return None
    later = np.minimum(np.searchsorted(time, time + _WINDOW_S, "left"), time.size - 1)
    taken = time[later] - time
    sound = taken > 0
    rate = np.divide(level[later] - level, taken, out=np.zeros_like(level), where=sound)
    # Half of the rise happens at this rate or faster.
    order = np.argsort(rate)
    climbed = np.cumsum(np.maximum(rate[order] * np.gradient(time)[order], 0.0))
    usual = float(rate[order][np.searchsorted(climbed, 0.5 * climbed[-1])])
    steep = np.flatnonzero((rate >= _KINK * usual) & sound)
    first, last = int(steep[0]), int(later[steep[-1]])
    # The window sees a kink before it comes: go on until engine speed has really left its level, and back likewise.
    ahead, behind = int(later[first]), max(last - (int(later[first]) - first), first)
    first += int(np.flatnonzero(level[first : ahead + 1] <= level[first] + _LEFT_ITS_LEVEL)[-1])
    last = behind + int(np.argmax(level[behind : last + 1] >= level[last] - _LEFT_ITS_LEVEL))
    return Span(float(time[first]), float(time[last])) if last > first else None


def _brisk(drive: Drive, span: Span) -> bool:
    low, high = drive.engine_at(span.start), drive.engine_at(span.end)
    lasts = span.end - span.start
    return lasts >= _LEAST_S and np.log(high / low) > _BRISK * lasts


def _loaded(load: Trace | None, span: Span) -> bool:
    """Whether load stands near the largest of the log in the later part, once boost has had time to build."""
    if load is None:
        return True
    part = cut(load, span.start + 0.4 * (span.end - span.start), span.end)
    return part.values.size > 0 and float(np.median(part.values)) > _NEAR_FULL * steady_top(load)
