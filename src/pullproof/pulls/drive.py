"""What a log says of engine and road, gathered once for the whole search."""

import dataclasses
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.reading.log import Log
from pullproof.timebase import cut, gaps, new_samples, value_at

__all__ = ["Drive", "gather", "steady_top"]

# Below this road speed [km/h] a car is taken to stand: sensors of wheel speed see nothing slower.
_STANDING = 3.0
# A value is held, not passed through, when it lasts this long [s].
_HELD_S = 0.5


@dataclass(frozen=True, slots=True)
class Drive:
    """Engine speed [rpm] and road speed [km/h] by their own samples, and where the record has holes [s].

    An engine that stands counts as 1 rpm, so that the logarithm of its speed, in which all shares are, exists.
    """

    engine: Trace
    road: Trace | None
    gear: Trace | None
    holes: Array
    """(k, 2): last instant before and first after each hole of the record. [s]"""
    ceiling: float
    """Highest engine speed: the redline of the car sheet, else the highest that the log holds. [rpm]"""
    assumptions: tuple[str, ...]

    def engine_at(self, at: float) -> float:
        """Engine speed at an instant, NaN outside the record. [rpm]"""
        return float(value_at(self.engine, np.array([at]))[0])

    def road_at(self, at: Array) -> Array:
        """Road speed at instants (m,), NaN where unknown. [km/h]"""
        return np.full(at.shape, np.nan) if self.road is None else value_at(self.road, at)

    def engine_between(self, start: float, end: float) -> tuple[Array, Array]:
        """Own samples of engine speed from `start` to `end`: times [s] and values [rpm]."""
        part = cut(self.engine, start, end)
        return part.time, part.values

    def stands(self, start: float, end: float) -> bool:
        """Whether the road speed says that the car stood all the time from `start` to `end` [s]."""
        if self.road is None:
            return False
        speed = value_at(self.road, np.linspace(start, end, 9), self.holes)
        return bool(np.isfinite(speed).any()) and float(np.nanmax(speed)) < _STANDING


def gather(log: Log, car: Car | None) -> Drive:
    """Collect what the search needs.

    Raises
    ------
    CannotAnswer
        The log has no engine speed.
    """
    raw = log.traces.get("engine_speed")
    engine = None if raw is None else new_samples(raw)
    if raw is None or engine is None or engine.time.size == 0:
        raise CannotAnswer(
            "no engine speed in this log, so no pull can be found",
            where=log.file,
            advice="Record engine speed, or name its column in the car sheet under [columns].",
        )
    assumptions = []
    road = log.traces.get("vehicle_speed")
    road = None if road is None else new_samples(road)
    if road is None or road.time.size < 2:
        road = None
        assumptions.append("no road speed in the log: one gear taken for granted where engine speed rises steadily")
    elif road.values.max() < _STANDING:
        road = None
        assumptions.append("road speed stays at zero (dynamometer, or not connected): one gear taken for granted")
    gear = log.traces.get("gear")
    redline = None if car is None else car.engine.redline_rpm
    return Drive(
        engine=dataclasses.replace(engine, values=np.maximum(engine.values, 1.0)),
        road=road,
        gear=None if gear is None else new_samples(gear),
        holes=gaps(raw, log.restarts),
        ceiling=steady_top(engine) if redline is None else redline,
        assumptions=tuple(assumptions),
    )


def steady_top(samples: Trace) -> float:
    """Largest value that a trace of new samples holds for half a second or two samples, NaN when empty.

    A single stray sample is not believed.
    """
    if samples.values.size < 2:
        return float("nan")
    interval = float(np.median(np.diff(samples.time)))
    count = max(2, int(np.ceil(_HELD_S / max(interval, 1e-3))))
    held = np.lib.stride_tricks.sliding_window_view(samples.values, min(count, samples.values.size))
    return float(held.min(axis=1).max())
