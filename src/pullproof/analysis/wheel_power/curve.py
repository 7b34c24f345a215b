"""One pull's power and torque at the wheels over engine speed, and the interval around them."""

import numpy as np

from pullproof.analysis.wheel_power.correction import Standard, correction_for
from pullproof.analysis.wheel_power.result import Evidence, PowerCurve, assemble, efficiency_of
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.physics.road_load import GRAVITY
from pullproof.pulls import Pull
from pullproof.timebase import cut
from pullproof.tractive_power import TractivePower, tractive_power

__all__ = ["power_curve"]

STEP_RPM = 50.0


def power_curve(
    record: PullRecord, car: Car, *, standard: Standard = "none", outside_limits: bool = False
) -> PowerCurve:
    """Power at the wheels over engine speed.

    Parameters
    ----------
    record : PullRecord
        The pull with its traces, air and direction.
    car : Car
        The car sheet.
    standard : str
        Correction of power to a standard day: `sae-j1349`, `iso-1585` or `none`.
    outside_limits : bool
        Correct also where the standard's own limits are passed.

    Raises
    ------
    CannotAnswer
        The car sheet or the log lacks what nothing can stand in for; the sentence says what to add.
    """
    answer = tractive_power(record.pull, record.traces, record.air, car)
    rpm, place = _grid(answer, record.pull)
    motion = answer.motion

    def on_grid(values: Array) -> Array:
        return np.interp(place, motion.time, values)

    correction = correction_for(
        standard, record.air, car, outside_limits=outside_limits, boost_ratio=_boost_ratio(record)
    )
    evidence = Evidence(
        own_doubt_kw=on_grid(answer.own_doubt) / 1e3,
        freedom=motion.freedom,
        effect_kw={name: on_grid(change) / 1e3 for name, change in answer.effect.items()},
        given=answer.given,
        time_constant_s=motion.time_constant,
        source=motion.source,
    )
    return assemble(
        (record.pull,),
        record.direction,
        rpm,
        3.6 * on_grid(motion.speed),
        on_grid(answer.power) / 1e3,
        evidence,
        overall_ratio=motion.overall_ratio,
        efficiency=efficiency_of(car),
        correction=correction,
        doubts=(*_what_is_taken_for_granted(answer), *correction.doubts),
    )


def _boost_ratio(record: PullRecord) -> float | None:
    """Absolute charge pressure over ambient pressure in the second half of the pull; None where a log lacks one. [1]"""
    ambient, pull = record.air.pressure_kpa, record.pull
    trace = record.traces.get("charge_pressure") or record.traces.get("manifold_pressure")
    if ambient is None or trace is None:
        return None
    values = cut(trace, 0.5 * (pull.start_s + pull.end_s), pull.end_s).values
    values = values[np.isfinite(values)]
    return float(np.mean(values)) / ambient if values.size else None


def _grid(answer: TractivePower, pull: Pull) -> tuple[Array, Array]:
    """Engine speeds at round steps that the pull passes [rpm], and when it first passes them [s]."""
    passed = np.maximum.accumulate(answer.motion.engine_speed)
    rpm = STEP_RPM * np.arange(np.ceil(passed[0] / STEP_RPM), np.floor(passed[-1] / STEP_RPM) + 1.0)
    if rpm.size == 0:
        raise CannotAnswer(
            f"engine speed rises by less than {STEP_RPM:g} rpm between {pull.start_s:.1f} and {pull.end_s:.1f} s",
            where=pull.log,
            advice="Record a pull through the revs, from 60 % of the redline or below up to it.",
        )
    rising = np.concatenate(([True], np.diff(passed) > 0.0))
    return rpm, np.interp(rpm, passed[rising], answer.motion.time[rising])


def _what_is_taken_for_granted(answer: TractivePower) -> tuple[str, ...]:
    """Words about rotating parts, tyre, slip, road and wind."""
    names = {number.name: number for number in answer.given}
    lines = ["what turns engine, wheels and driveline faster is counted; a roller dynamometer shows less"]
    lines += answer.doubts
    if "tyre growth" in names:
        lines.append(
            "speed comes from the driven wheels: growth of the tyre makes power read low, slip makes it read high, "
            "each by about twice its own per cent; neither is corrected"
        )
    if names["grade"].value == 0.0:
        newtons = 0.01 * GRAVITY * names["mass"].value
        lines.append(f"{names['grade'].origin}: each per cent of slope is worth {newtons:.0f} N")
    lines.append(f"{names['headwind'].origin}: an out and a back run on one stretch cancel wind and slope")
    return tuple(lines)
