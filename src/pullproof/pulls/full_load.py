"""Where the driver asks for all there is: full pedal, or full throttle where no pedal is logged.

Full is what this log's pedal holds at its stop, and that is not always 100 %: a channel that shows the raw travel
of the sensor rests at 7 or 14 % and ends at 65 or 78 %. So full is the largest value held steadily, with a floor
under it, and the thresholds are shares of the way from rest to full.
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.pulls.drive import steady_top
from pullproof.reading.log import Log
from pullproof.timebase import gaps, new_samples

__all__ = ["FullLoad", "Span", "full_load"]

# Shares of the way from rest to full at which full load begins, and at which it has ended. All common practice.
_REACHED = 0.95
_LIFTED = 0.90
# Lowest full value believed [%]: of a channel that rests at zero, and of one that shows raw sensor travel.
_LEAST_FULL = 75.0
_LEAST_FULL_RAW = 60.0
_RAW_REST = 4.0
# At or above this full value nobody asks whether it is the stop [%].
_SURELY_FULL = 90.0
# A flap that is open most of the time, as on a diesel, says nothing of the driver's wish.
_MOST_OF_THE_TIME = 0.6
_MINUTES_S = 120.0


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of full load. [s]"""

    start: float
    end: float


@dataclass(frozen=True, slots=True)
class FullLoad:
    """All stretches of full load, by which channel, and what that takes for granted."""

    channel: str
    spans: tuple[Span, ...]
    holes: Array
    assumptions: tuple[str, ...]


def full_load(log: Log) -> FullLoad | None:
    """Stretches of full pedal, else of full throttle; None where the log holds neither in a usable form."""
    for channel, wish in (("pedal_position", "pedal"), ("throttle_position", "throttle")):
        if channel in log.traces:
            samples = new_samples(log.traces[channel])
            if samples.time.size >= 2:
                return _spans(samples, log, wish)
    return None


def _spans(samples: Trace, log: Log, wish: str) -> FullLoad | None:
    rest, full = float(np.percentile(samples.values, 2)), steady_top(samples)
    at_rest_all_along = full - rest < 0.3 * full
    holes = gaps(log.traces[samples.channel], log.restarts)
    assumptions = []
    if wish == "throttle":
        assumptions.append("no pedal in the log: full load taken from the throttle")
    if full < _SURELY_FULL:
        assumptions.append(f"the {wish} never goes beyond {full:.0f} %: taken as its stop")
    if full < (_LEAST_FULL_RAW if rest > _RAW_REST else _LEAST_FULL):
        return FullLoad(samples.channel, (), holes, (f"the {wish} never goes beyond {full:.0f} %: no full load",))
    if at_rest_all_along:
        rest = 0.0
    reached, lifted = (rest + share * (full - rest) for share in (_REACHED, _LIFTED))
    full_now = _hysteresis(samples.values, reached, lifted)
    if wish == "throttle" and np.mean(full_now) > _MOST_OF_THE_TIME and np.ptp(samples.time) > _MINUTES_S:
        return None
    return FullLoad(samples.channel, _stretches(samples.time, full_now, holes), holes, tuple(assumptions))


def _hysteresis(values: Array, on: float, off: float) -> Array:
    """1 from the first value at or above `on` until the first below `off`, else 0."""
    told = np.where(values >= on, 1.0, np.where(values < off, 0.0, np.nan))
    last = np.maximum.accumulate(np.where(np.isnan(told), -1, np.arange(values.size)))
    return np.where(last >= 0, told[last], 0.0)


def _stretches(time: Array, full_now: Array, holes: Array) -> tuple[Span, ...]:
    """First and last instant known to be at full load, cut at holes in the record."""
    after_hole = np.zeros(time.size + 1, dtype=bool)
    after_hole[np.searchsorted(time, holes[:, 1], "left")] = True
    now = np.concatenate((full_now > 0, [False]))
    before = np.concatenate(([False], now[:-1])) & ~after_hole
    begins = np.flatnonzero(now & ~before)
    ends = np.flatnonzero(now[:-1] & (~now[1:] | after_hole[1:]))
    return tuple(Span(float(time[i]), float(time[j])) for i, j in zip(begins, ends, strict=True))
