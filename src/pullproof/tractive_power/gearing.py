"""How much road one turn of the engine covers: from the car sheet, or from the log's own road speed.

A driven wheel slips the more the harder it pushes, and its tyre grows with speed. In a pull each is about 1 % and they
act against each other (common practice, no source), so neither is corrected; both are counted in the doubt.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.physics import tyre
from pullproof.pulls import Pull
from pullproof.tractive_power.given import HALF_WIDTH, Given

__all__ = ["Gearing", "gearing_of", "road_speed_scale", "samples_in"]

# Half widths of 95 %, relative, common practice without a source.
_TYRE, _GROWTH, _SLIP, _ROAD_SPEED = 0.02, 0.01, 0.02, 0.02
# Taken where only the log's road speed tells the gearing; it merely decides how heavy the rotating parts are.
_USUAL_RADIUS = tyre.ROLLING_FACTOR * 0.635 / (2.0 * np.pi)
# Samples that a measured gearing needs.
_ENOUGH = 3
# A wheel sensor that reads less sees the car stand [km/h].
_STANDING = 3.0
# Sheet and log may differ by this much before it is worth a word.
_DISAGREE = 0.03


@dataclass(frozen=True, slots=True)
class Gearing:
    """Engine turns into road, in one gear."""

    metres_per_turn: float
    """Road covered in one turn of the engine. [m]"""
    overall_ratio: float
    """Engine speed over wheel speed. [1]"""
    scale: tuple[Given, ...]
    """What may make a speed from engine speed wrong as a whole: relative errors with value 0."""
    measured_metres_per_turn: float | None
    """The same as `metres_per_turn`, by the log's own road speed. [m]"""
    doubts: tuple[str, ...] = ()


def samples_in(pull: Pull, trace: Trace | None) -> tuple[Array, Array]:
    """Times and values of a trace within a pull, (n,) each; empty where there is no trace."""
    if trace is None:
        return np.empty(0), np.empty(0)
    inside = (trace.time >= pull.start_s) & (trace.time <= pull.end_s) & np.isfinite(trace.values)
    return trace.time[inside], trace.values[inside]


def gearing_of(pull: Pull, traces: Mapping[str, Trace], car: Car) -> Gearing:
    """Gearing of a pull: from the car sheet where it has gear, final drive and tyre; else from the log's road speed.

    Raises
    ------
    CannotAnswer
        Neither knows it, or the car stood on rollers; the sentence says what to do.
    """
    _refuse_rollers(pull, traces)
    measured = _measured_metres_per_turn(pull, traces)
    gear = pull.gear
    if gear is not None and 1 <= gear <= len(car.gear_ratios) and car.final_drive is not None and car.tyre is not None:
        overall = car.gear_ratios[gear - 1] * car.final_drive
        metres = 2.0 * np.pi * _rolling_radius(car) / overall
        scale: tuple[Given, ...] = (
            _relative("tyre circumference", _TYRE, "tyre size"),
            _relative("tyre growth", _GROWTH, "usual"),
            _relative("slip of the driven wheels", _SLIP, "usual"),
        )
        return Gearing(metres, overall, scale, measured, _disagreement(metres, measured))
    if measured is None:
        raise _unknown(pull, car)
    radius = _USUAL_RADIUS if car.tyre is None else _rolling_radius(car)
    scale = (road_speed_scale(), _relative("slip of the driven wheels", _SLIP, "usual"))
    return Gearing(measured, 2.0 * np.pi * radius / measured, scale, measured)


def _refuse_rollers(pull: Pull, traces: Mapping[str, Trace]) -> None:
    _, road = samples_in(pull, traces.get("vehicle_speed"))
    if road.size >= _ENOUGH and float(np.max(road)) < _STANDING:
        raise CannotAnswer(
            "the road speed stays at zero while the engine revs up: this is a dynamometer, whose rollers the "
            "acceleration does not tell",
            where=pull.log,
            advice="Take the power from the dynamometer, or set the column of road speed to "
            '"ignore" in the car sheet if the channel is dead.',
        )


def _unknown(pull: Pull, car: Car) -> CannotAnswer:
    wanted = {"gear_ratios": car.gear_ratios or None, "final_drive": car.final_drive, "tyre": car.tyre}
    missing = [key for key, value in wanted.items() if value is None]
    if missing:
        return CannotAnswer(
            f"wheel power needs the road speed, but the car sheet lacks {', '.join(missing)} and the log has no "
            "vehicle_speed",
            where=car.name,
            advice='Add gear_ratios, final_drive and tyre = "235/35R19" (yours) to the car sheet, or log road speed.',
        )
    return CannotAnswer(
        "wheel power needs the road speed, but the gear of the pull is not known and the log has no vehicle_speed",
        where=pull.log,
        advice="Log road speed or the gear.",
    )


def _rolling_radius(car: Car) -> float:
    try:
        return tyre.rolling_radius(car.tyre or "")
    except ValueError as error:
        raise CannotAnswer(str(error), where=car.name, advice="Mend the key tyre of the car sheet.") from error


def _measured_metres_per_turn(pull: Pull, traces: Mapping[str, Trace]) -> float | None:
    """Road covered per turn of the engine as the log's road speed tells it [m]; None where there is none."""
    if pull.rpm_per_kmh is not None:
        return 60.0 / 3.6 / pull.rpm_per_kmh
    road_time, road = samples_in(pull, traces.get("vehicle_speed"))
    time, engine = samples_in(pull, traces.get("engine_speed"))
    if road_time.size < _ENOUGH or time.size < _ENOUGH:
        return None
    inside = (road_time >= time[0]) & (road_time <= time[-1])
    per_rpm = road[inside] / np.interp(road_time[inside], time, engine)
    if per_rpm.size < _ENOUGH or np.median(per_rpm) <= 0.0:  # a road speed that stands at zero tells no gear
        return None
    return float(np.median(per_rpm)) * 60.0 / 3.6


def _disagreement(sheet: float, measured: float | None) -> tuple[str, ...]:
    if measured is None or abs(measured / sheet - 1.0) < _DISAGREE:
        return ()
    what = (
        f"1000 rpm are {60.0 * sheet:.1f} km/h by the car sheet and {60.0 * measured:.1f} km/h by the log's road "
        "speed: a ratio, the tyre or the channel is off, and power goes with the square of the speed"
    )
    return (what,)


def _relative(name: str, half_width: float, origin: str) -> Given:
    return Given(name, 0.0, half_width / HALF_WIDTH, "1", f"{origin}, common practice without source")


def road_speed_scale() -> Given:
    """What a road speed channel may be wrong by as a whole."""
    return _relative("scale of road speed", _ROAD_SPEED, "road speed channel")
