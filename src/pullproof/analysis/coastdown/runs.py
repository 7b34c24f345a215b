"""Find the stretches of a log where the car slows down by itself, out of gear and without brakes."""

import itertools
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.reading.log import Log
from pullproof.stats.local_linear import local_polynomial
from pullproof.timebase import gaps, new_samples, value_at

__all__ = ["Run", "Way", "find_runs"]

LEAST_FALL = 30.0 / 3.6
"""Road speed has to fall by so much for the two resistances to be told apart. [m/s]"""

LEAST_START = 60.0 / 3.6
"""A run from less shows no drag. [m/s]"""

LEAST_SECONDS = 10.0

HARDEST = 1.2
"""A deceleration beyond this is a brake or a low gear, not road load. [m/s2]"""

# The driver needs a moment to declutch, and touches something at the end [s].
_LEAD_S, _TAIL_S = 1.0, 0.5
# Slope of the speed is judged at this spacing, over this half width: 1 km/h steps of a slow car last 3 s [s].
_STEP_S, _HALF_WIDTH_S = 0.5, 3.0
# Road load falls with speed: a deceleration that exceeds the one at higher speed by this factor and much is a brake.
_BRAKE_FACTOR, _BRAKE_MORE = 1.25, 0.08
# A coast-down has begun when its smoothed slope reaches this share of the steepest in this share of its speeds.
_BEGUN, _TOP = 0.9, 0.15
_PEDAL_PCT = 5.0
# Change of engine speed over change of road speed, both relative: 1 in gear, 0 out of gear.
_COUPLED = 0.5
_SLOWEST = 2.0
_METRES_PER_DEGREE = 111_195.0


@dataclass(frozen=True, slots=True)
class Way:
    """Where a run went over the ground, where the log has positions or heights; None where it has not."""

    east: float | None = None
    north: float | None = None
    """Metres from start to end."""
    gradient: tuple[float, float] | None = None
    """Rise over distance by the altitude channel, and its standard doubt."""


@dataclass(frozen=True, slots=True)
class Run:
    """One coast-down: time from its start [s] and road speed [m/s], (n,) each; used, or not and why."""

    log: str
    start_s: float
    time: Array
    speed: Array
    reason: str | None = None
    way: Way = field(default_factory=Way)
    direction: str | None = None

    @property
    def used(self) -> bool:
        """Whether it counts."""
        return self.reason is None


def find_runs(log: Log) -> tuple[Run, ...]:
    """Coast-downs of a log, in order, with those refused and the reason.

    Raises
    ------
    CannotAnswer
        The log has no road speed.
    """
    raw = log.traces.get("vehicle_speed")
    samples = None if raw is None else new_samples(raw)
    if raw is None or samples is None or samples.time.size < 10:
        raise CannotAnswer(
            "no road speed in this log, and a coast-down is nothing but road speed",
            where=log.file,
            advice="Record road speed, or name its column in the car sheet under [columns].",
        )
    time, speed = samples.time, samples.values / 3.6
    runs = []
    for first, last in _unbroken(gaps(raw, log.restarts), time):
        if time[last] - time[first] >= LEAST_SECONDS:
            runs += _in_stretch(log, time[first : last + 1], speed[first : last + 1])
    return tuple(runs)


def _unbroken(holes: Array, time: Array) -> list[tuple[int, int]]:
    """First and last sample of each part of the record that has no hole."""
    edges = np.concatenate(([0], np.searchsorted(time, holes[:, 0], "right"), [time.size]))
    return [(int(a), int(b) - 1) for a, b in itertools.pairwise(edges) if b - a >= 2]


def _in_stretch(log: Log, time: Array, speed: Array) -> list[Run]:
    grid = np.arange(time[0], time[-1], _STEP_S)
    fit = local_polynomial(time, speed, grid, _HALF_WIDTH_S, degree=1)
    slowing = (fit.slope < 0.0) & (fit.slope > -HARDEST) & (fit.value > _SLOWEST) & _untouched(log, grid)
    return [
        run
        for part in _spans(slowing)
        if (run := _judged(log, time, speed, grid[part], fit.value[part], -fit.slope[part])) is not None
    ]


def _untouched(log: Log, grid: Array) -> NDArray[np.bool_]:
    """Where no pedal is pressed, as far as the log says."""
    pedal = log.traces.get("pedal_position")
    if pedal is None:
        return np.ones(grid.shape, dtype=bool)
    return ~(value_at(new_samples(pedal), grid) > _PEDAL_PCT)


def _spans(mask: NDArray[np.bool_]) -> list[slice]:
    edges = np.diff(np.concatenate(([0], mask.astype(np.int8), [0])))
    return [slice(a, b) for a, b in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0), strict=True)]


def _judged(log: Log, time: Array, speed: Array, grid: Array, smooth: Array, slowing: Array) -> Run | None:
    """The run within a stretch, from where it has begun to a brake; None where it is too small to be meant as one."""
    fastest, slowest = float(np.max(smooth)), float(np.min(smooth))
    steepest = float(np.max(slowing[smooth > fastest - _TOP * (fastest - slowest)], initial=0.0))
    begun = int(np.argmax(slowing >= _BEGUN * steepest))
    # Smoothing spreads the step of a brake over twice its half width, so the comparison reaches back so far.
    back = round(2.0 * _HALF_WIDTH_S / _STEP_S)
    so_far = np.maximum(np.maximum.accumulate(np.concatenate((np.zeros(back), slowing)))[: slowing.size], steepest)
    harder = slowing > _BRAKE_FACTOR * so_far + _BRAKE_MORE
    end = grid[int(np.argmax(harder))] - 2.0 * _HALF_WIDTH_S if harder.any() else grid[-1] - _TAIL_S
    inside = (time >= grid[begun] + _LEAD_S) & (time <= end)
    if np.count_nonzero(inside) < 2:
        return None
    at, values = time[inside], speed[inside]
    if values[0] < LEAST_START or values[0] - values[-1] < LEAST_FALL or at[-1] - at[0] < LEAST_SECONDS:
        return None
    return Run(log.file, float(at[0]), at - at[0], values, _in_gear(log, at, values), _way(log, at, values))


def _in_gear(log: Log, time: Array, speed: Array) -> str | None:
    """The reason where the engine turns with the wheels; None where it idles or is not logged."""
    engine = log.traces.get("engine_speed")
    if engine is None:
        return None
    rpm = value_at(new_samples(engine), time)
    known = np.isfinite(rpm) & (rpm > 0.0)
    if np.count_nonzero(known) < 5:
        return None
    slope = np.polyfit(np.log(speed[known]), np.log(rpm[known]), 1)[0]
    return "the engine turns with the wheels: coast in neutral" if slope > _COUPLED else None


def _way(log: Log, time: Array, speed: Array) -> Way:
    east = north = None
    latitude, longitude = log.traces.get("latitude"), log.traces.get("longitude")
    if latitude is not None and longitude is not None:
        ends = time[[0, -1]]
        lat, lon = value_at(new_samples(latitude), ends), value_at(new_samples(longitude), ends)
        if np.isfinite(lat).all() and np.isfinite(lon).all():
            north = float(lat[1] - lat[0]) * _METRES_PER_DEGREE
            east = float(lon[1] - lon[0]) * _METRES_PER_DEGREE * float(np.cos(np.radians(lat[0])))
    altitude = log.traces.get("altitude")
    return Way(east, north, None if altitude is None else _gradient(new_samples(altitude), time, speed))


def _gradient(altitude: Trace, time: Array, speed: Array) -> tuple[float, float] | None:
    """Mean rise over distance and its standard doubt; None with too few heights.

    Satellite height wanders by 1.5 m over a minute (common practice, no source).
    """
    inside = (altitude.time >= time[0]) & (altitude.time <= time[-1])
    if np.count_nonzero(inside) < 5:
        return None
    distance = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time))))
    place, height = np.interp(altitude.time[inside], time, distance), altitude.values[inside]
    line, covariance = np.polyfit(place, height, 1, cov=True)
    return float(line[0]), float(np.hypot(np.sqrt(covariance[0, 0]), 1.5 / distance[-1]))
