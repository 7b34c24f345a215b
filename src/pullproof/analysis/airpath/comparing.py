"""What another path would change, with intervals, in the words of the contract.

None of it is measured; it is what a fair comparison of logs should find.
"""

import numpy as np

from pullproof.analysis.airpath.analysing import air_of, band, half_widths, path_result, total
from pullproof.analysis.airpath.boost_control import ControlResponse, learn_control_response, prior_response
from pullproof.analysis.airpath.effects import INLET_LOSS_AT_TOP, at_equal_boost, at_equal_power
from pullproof.analysis.airpath.flow_curve import ZERO_CELSIUS, FlowCurve
from pullproof.analysis.airpath.losses import path_losses, spread_of_difference
from pullproof.analysis.airpath.path import AirPath
from pullproof.analysis.airpath.result import Effect, PathComparison
from pullproof.analysis.cautions import CAUTIONS
from pullproof.arrays import Array
from pullproof.physics import pipe_flow

__all__ = ["compare_paths"]

SURPLUS = 30e-3
"""Air to spare while boost builds [kg/s]; a factor of 2 either way is taken for 95 %. Common practice, no source."""

USUAL_RISE = 800.0
"""Engine speed per second at the foot of a pull in third gear [rpm/s]. Common practice, no source."""


def compare_paths(
    before: AirPath, after: AirPath, flow: FlowCurve, *, level: float = 0.95, response: ControlResponse | None = None
) -> PathComparison:
    """What changing one path for another would do, over the car's own flow with the first one fitted.

    Parameters
    ----------
    before, after : AirPath
        The path that the flow was recorded with, and the other. What is in neither file is taken to stay.
    flow : FlowCurve
        With its pulls, where logs are there: they show how duty follows compressor work.
    level : float
        What the intervals hold.
    response : ControlResponse, optional
        How duty follows work, where it was learned elsewhere.

    Raises
    ------
    CannotAnswer
        In one of the paths the air is faster than Mach 0.3 at every engine speed.
    """
    air = air_of(flow)
    left, right = path_losses(before, air), path_losses(after, air)
    old, new = path_result(before, flow, left, level), path_result(after, flow, right, level)
    lost = total(left), total(right)
    saved, doubt = lost[0] - lost[1], spread_of_difference(left, right)
    boost = at_equal_boost(flow, air, *lost, doubt)
    power = at_equal_power(after, flow, air, *lost, doubt)
    answer = response or _learned(before, flow)
    mean_saved = _mean("kPa", 1e-3 * saved, 1e-3 * doubt, flow, level, "loss before minus after")
    duty = _duty_change(answer, boost.log_work[flow.inside], boost.log_work_doubt[flow.inside], level)
    delay = _delay(before, after, flow)
    delay_rpm = _in_rpm(delay, flow)
    return PathComparison(
        before=old,
        after=new,
        saved=band("kPa", 1e-3 * saved, 1e-3 * doubt, level),
        charge_pressure_gain=band("kPa", 1e-3 * power.gain, 1e-3 * power.doubt, level),
        pressure_ratio_before=boost.ratio_before,
        pressure_ratio_after=boost.ratio_after,
        outlet_temperature_before_c=boost.outlet_before - ZERO_CELSIUS,
        outlet_temperature_after_c=boost.outlet_after - ZERO_CELSIUS,
        compressor_power_change=band("%", 100.0 * np.expm1(boost.log_work), 100.0 * boost.log_work_doubt, level),
        mean_saved=mean_saved,
        mean_charge_pressure_gain=_mean(
            "kPa",
            1e-3 * power.gain,
            1e-3 * power.doubt,
            flow,
            level,
            "at equal compressor power",
        ),
        mean_outlet_temperature_change=_mean(
            "K", boost.outlet_after - boost.outlet_before, boost.outlet_doubt, flow, level, boost.basis
        ),
        wastegate_duty_change=duty,
        spool_delay_seconds=delay,
        spool_delay_rpm=delay_rpm,
        volume_change_l=1e3 * (after.volume - before.volume),
        sentence=_sentence(mean_saved, duty, delay_rpm, answer),
        assumptions=(*flow.assumptions, *_assumptions(flow)),
        doubts=tuple(dict.fromkeys((*old.doubts, *new.doubts, *_doubts(answer)))),
        cautions=CAUTIONS,
    )


def _learned(before: AirPath, flow: FlowCurve) -> ControlResponse:
    if not flow.pulls:
        return prior_response()
    return learn_control_response(flow, lambda pull: 1e-3 * total(path_losses(before, air_of(pull))))


def _mean(unit: str, values: Array, doubt: Array, flow: FlowCurve, level: float, basis: str) -> Effect:
    """Mean over the window. A handbook's error is the same at every engine speed, so the doubts do not average out."""
    estimate, reach = _average(values[flow.inside]), half_widths(level) * _average(doubt[flow.inside])
    return Effect(unit, estimate, (estimate - reach, estimate + reach), level, basis)


def _average(values: Array) -> float:
    """Mean of what is known; NaN where nothing is."""
    known = values[np.isfinite(values)]
    return float(known.mean()) if known.size else float("nan")


def _duty_change(answer: ControlResponse, log_work: Array, doubt: Array, level: float) -> Effect:
    """Mean change of duty: the product of two uncertain numbers, taken as normal."""
    change, spread = _average(log_work), _average(doubt)
    estimate = answer.slope * change
    deviation = np.sqrt((answer.slope * spread) ** 2 + (answer.doubt * change) ** 2 + (answer.doubt * spread) ** 2)
    reach = half_widths(level) * float(deviation)
    return Effect("%", estimate, (estimate - reach, estimate + reach), level, answer.basis)


def _delay(before: AirPath, after: AirPath, flow: FlowCurve) -> Effect:
    """Later boost, by the air that the extra volume takes up."""
    extra = after.volume - before.volume
    boost = max(float(np.nanmax(flow.charge_pressure_kpa)) - flow.ambient_pressure_kpa, 0.0)
    kelvins = _average(flow.charge_temperature_c) + ZERO_CELSIUS
    seconds = float(pipe_flow.fill_time(extra, 1e3 * boost, kelvins, SURPLUS))
    ends = sorted((0.5 * seconds, 2.0 * seconds))
    basis = f"{1e3 * extra:+.2f} l filled to {boost:.0f} kPa of boost with 15 to 60 g/s to spare; the volume alone"
    return Effect("s", seconds, (ends[0], ends[1]), 0.95, basis)


def _in_rpm(delay: Effect, flow: FlowCurve) -> Effect:
    rise = USUAL_RISE if flow.rpm_per_second is None else flow.rpm_per_second
    low, high = delay.interval
    basis = f"{delay.basis}, at {rise:.0f} rpm per second"
    return Effect("rpm", rise * delay.estimate, (rise * low, rise * high), delay.level, basis)


def _assumptions(flow: FlowCurve) -> tuple[str, ...]:
    usual = [
        "what is in neither path file stays as it is",
        "at equal compressor power the exhaust is taken as before; with more air it grows, and the gain with it",
        "the spool delay counts the volume alone; less loss brings boost earlier and can outweigh it",
        "the measured charge pressure counts as total pressure at the end of the path",
        f"filter and inlet pipe lose {INLET_LOSS_AT_TOP / 1e3:g} kPa at the largest flow (common practice, no source)",
    ]
    if flow.rpm_per_second is None:
        usual.append(f"engine speed rises by {USUAL_RISE:g} rpm per second while boost builds (common practice)")
    return tuple(usual)


def _doubts(answer: ControlResponse) -> tuple[str, ...]:
    if not answer.pinned:
        return ()
    return (f"in {answer.pinned} of the pulls the wastegate is held shut: there the part shows as boost, not as duty",)


def _sentence(saved: Effect, duty: Effect, delay: Effect, answer: ControlResponse) -> str:
    """The whole answer in one or two sentences."""
    low, high = saved.interval
    if low < 0.0 < high:
        loss = "The handbooks cannot tell the two paths apart: "
        loss += f"{saved.estimate:+.2f} kPa saved ({low:+.2f} to {high:+.2f})"
    else:
        ends = sorted((abs(low), abs(high)))
        less = "less" if saved.estimate > 0.0 else "more"
        loss = f"The new path loses {abs(saved.estimate):.2f} kPa {less} ({ends[0]:.2f} to {ends[1]:.2f})"
    if answer.pinned and not answer.pulls:
        effect = "the wastegate is held shut, so it would show as charge pressure and not as duty"
    else:
        low, high = duty.interval
        effect = f"at equal boost expect {duty.estimate:+.1f} points of mean wastegate duty ({low:+.1f} to {high:+.1f})"
    when = "later" if delay.estimate >= 0.0 else "earlier"
    return f"{loss}; {effect}. Boost comes about {abs(delay.estimate):.0f} rpm {when}."
