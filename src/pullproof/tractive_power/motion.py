"""Speed and acceleration of the car through a pull, from engine speed or from road speed.

Engine speed times a fixed gearing is the usual source: it is logged finely, and in one gear with the clutch closed
it is the road speed but for tyre growth and slip. A road speed channel serves where it gives the better slope.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull
from pullproof.stats.smoothing_spline import Smoothed, block_means, smoothing_spline
from pullproof.tractive_power.gearing import Gearing, gearing_of, road_speed_scale, samples_in
from pullproof.tractive_power.given import Given

__all__ = ["Motion", "motion_of"]

SETTLING_S = 0.3
"""The driveline winds up and the car rocks for so long after full load begins (common practice, no source). [s]"""

SHORTEST_S = 0.1
"""Shortest time constant of the smoothing: anything faster is the driveline, not the engine. [s]"""

SHORTEST_STEPS = 0.5
"""The same, in steps between samples: with less, the curve runs through every sample and their noise is not seen."""

BLOCK_S = 0.1
"""A faster log is averaged over so long before it is smoothed. [s]"""

STEP_S = 0.02
"""Spacing of the answer. [s]"""

LEAST_SAMPLES = 6

# Road speed is taken where its slope is this much better known; engine speed has no lag and no wheel of its own.
_BETTER = 0.5


@dataclass(frozen=True, slots=True)
class Motion:
    """Speed and acceleration on an even time grid within the pull; arrays are (m,)."""

    time: Array
    """In the log's clock. [s]"""
    engine_speed: Array
    """[rpm]"""
    speed: Array
    """Over the road. [m/s]"""
    acceleration: Array
    """[m/s2]"""
    acceleration_doubt: Array
    """Standard doubt from the samples' noise and from smoothing. [m/s2]"""
    freedom: float
    """Degrees of freedom behind that doubt."""
    time_constant: float
    """Of the smoothing. [s]"""
    source: str
    """Channel that the motion is taken from."""
    overall_ratio: float
    """Engine speed over wheel speed. [1]"""
    scale: tuple[Given, ...]
    """What may make the speed wrong as a whole: relative errors with value 0."""
    doubts: tuple[str, ...]


def motion_of(pull: Pull, traces: Mapping[str, Trace], car: Car) -> Motion:
    """How the car moved through a pull.

    Parameters
    ----------
    pull : Pull
        Where it lies in the log; its gear picks the ratio.
    traces : mapping of str to Trace
        New samples only, on the log's clock; `engine_speed` [rpm], and `vehicle_speed` [km/h] where there is one.
    car : Car
        For ratios and tyre.

    Raises
    ------
    CannotAnswer
        Too few samples of engine speed in the pull, or no gearing from the sheet nor from the log.
    """
    gearing = gearing_of(pull, traces, car)
    per_rpm = gearing.metres_per_turn / 60.0
    source, time, smoothed = _better_source(pull, traces, per_rpm)
    return Motion(
        time=time,
        engine_speed=smoothed.value / (per_rpm if source == "engine_speed" else _measured(gearing) / 60.0),
        speed=smoothed.value,
        acceleration=smoothed.slope,
        acceleration_doubt=smoothed.slope_doubt,
        freedom=smoothed.freedom,
        time_constant=smoothed.time_constant,
        source=source,
        overall_ratio=gearing.overall_ratio,
        scale=gearing.scale if source == "engine_speed" else (road_speed_scale(),),
        doubts=gearing.doubts,
    )


def _measured(gearing: Gearing) -> float:
    """Road per engine turn by which road speed becomes engine speed again. [m]"""
    return gearing.metres_per_turn if gearing.measured_metres_per_turn is None else gearing.measured_metres_per_turn


def _better_source(pull: Pull, traces: Mapping[str, Trace], per_rpm: float) -> tuple[str, Array, Smoothed]:
    """Channel, time grid and smoothed speed [m/s] of the source that knows the acceleration best."""
    engine = _smoothed(pull, traces.get("engine_speed"), per_rpm)
    road = _smoothed(pull, traces.get("vehicle_speed"), 1.0 / 3.6)
    if engine is not None and (road is None or _typical_doubt(road) > _BETTER * _typical_doubt(engine)):
        return "engine_speed", *engine
    if road is not None:
        return "vehicle_speed", *road
    count = samples_in(pull, traces.get("engine_speed"))[0].size
    raise CannotAnswer(
        f"engine speed was sampled {count} times between {pull.start_s:.1f} and {pull.end_s:.1f} s, "
        f"and a slope needs {LEAST_SAMPLES}",
        where=pull.log,
        advice="Log engine speed at 5 Hz or more: log fewer channels, or use a higher gear, which takes longer.",
    )


def _smoothed(pull: Pull, trace: Trace | None, factor: float) -> tuple[Array, Smoothed] | None:
    """Speed [m/s] and its slope on the time grid; None with too few samples."""
    time, values = samples_in(pull, trace)
    if time.size < LEAST_SAMPLES:
        return None
    time, values, count = block_means(time, factor * values, BLOCK_S)
    if time.size < LEAST_SAMPLES or time[-1] <= pull.start_s + SETTLING_S:
        return None
    first = max(pull.start_s + SETTLING_S, time[0])
    # Evenly to the last sample: a grid made by adding up steps can overshoot it by a rounding.
    grid = np.linspace(first, time[-1], 1 + max(1, round((time[-1] - first) / STEP_S)))
    shortest = max(SHORTEST_S, SHORTEST_STEPS * float(np.mean(np.diff(time))))
    return grid, smoothing_spline(time, values, grid, shortest=shortest, samples=count)


def _typical_doubt(candidate: tuple[Array, Smoothed]) -> float:
    """Half width of 95 % of the slope, which counts how few samples tell the noise. [m/s2]"""
    smoothed = candidate[1]
    return float(np.median(smoothed.slope_doubt) * stdtrit(smoothed.freedom, 0.975))
