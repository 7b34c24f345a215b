"""The shape of engine speed over time: where it rises, falls, jumps and stands still.

All thresholds are shares of the engine speed itself, never so many rpm: a truck's engine works between 700 and
1900 rpm, a car's between 2000 and 7000. Times are in seconds, so that 3 Hz and 100 Hz see the same event.
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array

__all__ = ["Event", "averaged", "jump", "noise", "rate_of_rise", "rising_legs", "standstill", "top_reached"]

# Samples closer than this [s] are averaged: no event of interest is shorter, and the noise of fast loggers goes.
_BLOCK_S = 0.08
# A fall of engine speed by this share ends a rise. Ripple of a drivetrain stays below 2 %.
_FALL = 0.025
# A jump: so much (natural logarithm) within so long [s], and so many times faster than the rest of the rise.
_JUMP, _JUMP_S, _JUMP_OVER_USUAL = 0.10, 0.4, 4.0
# A standstill: slower than this share of the rise around it [s], for so long [s].
_STANDS, _STANDS_S, _AROUND_S = 0.2, 0.3, 1.5
# Plateau at the top: within this share of the highest value, for longer than so many seconds and such a share of the
# rise before. A run that merely grows slow towards the top of a high gear stays below.
_TOP, _TOP_S, _TOP_SHARE = 0.015, 0.7, 0.1


@dataclass(frozen=True, slots=True)
class Event:
    """Something that engine speed does between two of its samples, by their places in the arrays given."""

    first: int
    last: int


def averaged(time: Array, speed: Array) -> tuple[Array, Array]:
    """Mean time and mean speed of blocks of 0.08 s; as given where samples lie wider apart."""
    if time.size < 3 or np.median(np.diff(time)) > 0.6 * _BLOCK_S:
        return time, speed
    block = np.floor((time - time[0]) / _BLOCK_S).astype(np.int64)
    starts = np.flatnonzero(np.diff(block, prepend=-1))
    count = np.diff(np.append(starts, time.size))
    return np.add.reduceat(time, starts) / count, np.add.reduceat(speed, starts) / count


def noise(speed: Array) -> float:
    """Standard deviation of one sample, from third differences, which a smooth rise leaves at nothing. [rpm]"""
    if speed.size < 6:
        return 0.0
    # sqrt(20): the coefficients 1, 3, 3, 1 squared and summed. 1.4826 turns a median deviation into a sigma.
    return float(1.4826 * np.median(np.abs(np.diff(speed, 3))) / np.sqrt(20.0))


def rate_of_rise(time: Array, speed: Array) -> float:
    """Median rate over the rise, of the logarithm of engine speed [1/s]."""
    step = np.diff(time)
    rate = np.diff(np.log(speed))[step > 0] / step[step > 0]
    return float(np.median(rate)) if rate.size else 0.0


def rising_legs(speed: Array) -> list[tuple[int, int]]:
    """Places of each valley and the peak after it; falls smaller than 2.5 % (or six sigma) do not count."""
    legs: list[tuple[int, int]] = []
    if speed.size == 0:
        return legs
    fall = max(_FALL, 6.0 * noise(speed) / max(float(np.median(speed)), 1.0))
    values = speed.tolist()
    rising, low, high = False, 0, 0
    for place, value in enumerate(values):
        if rising:
            if value >= values[high]:
                high = place
            elif value < values[high] * (1.0 - fall):
                legs.append((low, high))
                rising, low = False, place
        elif value < values[low]:
            low = place
        elif value > values[low] * (1.0 + fall):
            rising, high = True, place
    if rising:
        legs.append((low, high))
    return legs


def jump(time: Array, speed: Array) -> Event | None:
    """The first sudden rise, far faster than the rest: a change down, or wheels that let go. None without one."""
    if time.size < 5:
        return None
    level = np.log(speed)
    usual = rate_of_rise(time, speed)
    later = np.minimum(np.searchsorted(time, time + _JUMP_S, "right") - 1, time.size - 1)
    later = np.maximum(later, np.minimum(np.arange(time.size) + 1, time.size - 1))
    rise, taken = level[later] - level, time[later] - time
    sudden = (rise > _JUMP) & (rise > _JUMP_OVER_USUAL * max(usual, 0.0) * taken)
    if not sudden.any():
        return None
    first = int(np.argmax(sudden))
    over = np.flatnonzero(~sudden[first:])
    last = int(later[first + int(over[0]) - 1]) if over.size else time.size - 1
    # The window begins before the jump and ends after it: keep what is steep.
    steps = np.diff(level[first : last + 1]) / np.maximum(np.diff(time[first : last + 1]), 1e-3)
    steep = np.flatnonzero(steps > 0.5 * steps.max())
    return Event(first + int(steep[0]), first + int(steep[-1]) + 1)


def standstill(time: Array, speed: Array) -> Event | None:
    """The first place inside a rise where engine speed stands still for a while and then goes on; else None.

    The window grows where the noise would hide a standstill of 0.3 s, and with the interval of slow loggers.
    """
    if time.size < 6:
        return None
    total, level, sigma = time[-1] - time[0], np.log(speed), noise(speed) / float(np.median(speed))
    interval = float(np.median(np.diff(time)))
    around = max(_AROUND_S, 4.0 * interval)
    usual = _rise(time, level, time - around, time + around) / (
        np.minimum(time + around, time[-1]) - np.maximum(time - around, time[0])
    )
    window = np.maximum(max(_STANDS_S, 0.99 * interval), 8.0 * sigma / np.maximum(usual, 1e-6))
    still = _rise(time, level, time, time + window) < _STANDS * usual * window
    late = np.maximum(max(_STANDS_S, 0.1 * total), window)
    looked_at = (time > time[0] + 0.15 * total) & (time < time[-1] - late) & (usual > 0.0)
    places = np.flatnonzero(still & looked_at)
    if not places.size:
        return None
    first = int(places[0])
    return Event(first, int(np.searchsorted(time, time[first] + window[first], "left")))


def _rise(time: Array, level: Array, since: Array, until: Array) -> Array:
    return np.interp(until, time, level) - np.interp(since, time, level)


def top_reached(time: Array, speed: Array) -> int:
    """Place where the rise is over: the last one, or where a limiter or governor begins to hold the speed."""
    top = int(np.argmax(speed >= (1.0 - _TOP) * speed.max()))
    spent, before = time[-1] - time[top], time[top] - time[0]
    return top if spent > max(_TOP_S, _TOP_SHARE * before) else time.size - 1
