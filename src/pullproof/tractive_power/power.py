"""Force and power at the wheels through a pull, and how far each doubtful number moves them."""

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.conditions import Air
from pullproof.physics import road_load
from pullproof.pulls import Pull
from pullproof.tractive_power.given import STILL_AIR, Given, air_density, car_numbers
from pullproof.tractive_power.motion import Motion, motion_of
from pullproof.tractive_power.road import gradient_of

__all__ = ["TractivePower", "tractive_power", "wheel_power_trace"]


@dataclass(frozen=True, slots=True)
class TractivePower:
    """Power at the wheels on the time grid of a motion; arrays are (m,)."""

    motion: Motion
    power: Array
    """[W]"""
    force: Array
    """[N]"""
    own_doubt: Array
    """Standard doubt from this log's noise and its smoothing. [W]"""
    given: tuple[Given, ...]
    """All numbers that the power rests on."""
    effect: Mapping[str, Array]
    """Name of a number to the change of power by one standard doubt of it. [W]"""
    doubts: tuple[str, ...]


def tractive_power(pull: Pull, traces: Mapping[str, Trace], air: Air, car: Car) -> TractivePower:
    """Power at the wheels through a pull.

    Parameters
    ----------
    pull : Pull
        Where it lies in the log, and in which gear.
    traces : mapping of str to Trace
        New samples only, in canonical units, on the log's clock.
    air : Air
        Of the day; what it does not say is taken as usual, with its doubt.
    car : Car
        The car sheet.

    Raises
    ------
    CannotAnswer
        The sheet lacks what nothing can stand in for, or the pull has too few samples; the sentence says what to add.
    """
    motion = motion_of(pull, traces, car)
    gradient, grade = gradient_of(traces, motion.time, motion.speed)
    numbers = (*car_numbers(car, pull.gear, motion.overall_ratio), air_density(air), grade, STILL_AIR)
    force = _force(motion, gradient, numbers)
    effect = {}
    for index, number in enumerate(numbers):
        moved = dataclasses.replace(number, value=number.value + number.doubt)
        slope = gradient + (moved.value - number.value if number is grade else 0.0)
        moved_force = _force(motion, slope, (*numbers[:index], moved, *numbers[index + 1 :]))
        effect[number.name] = (moved_force - force) * motion.speed
    for number in motion.scale:
        faster = dataclasses.replace(
            motion,
            speed=motion.speed * (1.0 + number.doubt),
            acceleration=motion.acceleration * (1.0 + number.doubt),
        )
        effect[number.name] = _force(faster, gradient, numbers) * faster.speed - force * motion.speed
    mass, factor = numbers[0].value, numbers[1].value
    return TractivePower(
        motion=motion,
        power=road_load.wheel_power(force, motion.speed),
        force=force,
        own_doubt=mass * factor * motion.acceleration_doubt * motion.speed,
        given=(*numbers, *motion.scale),
        effect=effect,
        doubts=motion.doubts,
    )


def _force(motion: Motion, gradient: Array, numbers: tuple[Given, ...]) -> Array:
    value = {number.name: number.value for number in numbers}
    return road_load.tractive_force(
        motion.speed,
        motion.acceleration,
        value["mass"],
        value["rotating mass factor"],
        value["air density"],
        value["drag area"],
        value["rolling resistance"],
        gradient,
        value["headwind"],
    )


def wheel_power_trace(pull: Pull, traces: Mapping[str, Trace], air: Air, car: Car) -> Trace:
    """The computed channel `wheel_power` [kW], within the pull only.

    Parameters and errors are those of `tractive_power`. The trace is smooth already: it is spaced by 0.02 s whatever
    the logger's rate, and begins 0.3 s after full load, when the driveline has settled.
    """
    answer = tractive_power(pull, traces, air, car)
    return Trace("wheel_power", "kW", answer.motion.time, np.asarray(answer.power) / 1e3)
