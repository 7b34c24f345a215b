"""Is air lost between compressor and engine? Duty that rises for the same flow and boost is what it would look like.

A leak lets the compressor work for air that the engine never gets: the control holds boost, and the wastegate has to
stay further shut for it. Much else does the same, warm air first of all. So weather, boost and charge temperature are
taken out as in every comparison, days count as days, and what is left has an interval. It is a suspicion at most: a
pressure test finds a leak, a log does not.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.air_system.leak_size import LeakSize, leak_size, most_duty
from pullproof.analysis.air_system.meter import MeterCheck, meter_check
from pullproof.analysis.air_system.result import Curve
from pullproof.analysis.air_system.system import air_system
from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison import Comparison, FairnessCheck, MeasureDifference, compare_records
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import rpm_grid
from pullproof.errors import CannotAnswer

__all__ = ["ALSO", "DUTY", "NEXT", "LeakSuspicion", "Suspicion", "leak_suspicion", "suspect_leak"]

Suspicion = Literal["suspected", "not shown", "cannot tell"]

DUTY = "wastegate_duty.mean"

ALSO = (
    "another pipe, cooler or filter between the days, or a hose that collapses",
    "a worn or sticking wastegate, its actuator, spring or hose",
    "a solenoid or supply voltage that drives less",
    "a clogged filter, cooler or exhaust",
    "fuel, ignition timing or mixture that leave the exhaust colder",
    "a compressor or turbine wheel that has suffered",
)
"""What raises duty besides a leak."""

BEFORE_THE_COMPRESSOR = "the air meter is taken to sit before the compressor, where it sees the air that leaks"

NEXT = (
    "Look for oil mist, loose clamps and chafed hoses, cold and with the engine off.",
    "Pressure-test the charge pipes at low pressure, behind a guard, with nobody in line.",
    "Repeat the pulls on a day like the one before, with the mixture and the air meter in the log.",
)


@dataclass(frozen=True, slots=True)
class LeakSuspicion:
    """What two sets of pulls say of a leak, with everything that could be the reason instead."""

    suspicion: Suspicion
    statement: str
    duty: MeasureDifference | None
    """Mean duty after less before, weather and boost accounted for. [%] None where it cannot be read."""
    boost: MeasureDifference | None
    """[kPa] What duty would have to be seen with: it must not differ by more than is taken out."""
    air_mass_flow: MeasureDifference | None
    """[g/s] Where a meter shows it."""
    meter: MeterCheck | None
    """Meter against speed-density: air lost behind the meter makes the ratio rise. None where it cannot be read."""
    size: LeakSize | None
    """How large a leak would explain the whole of the duty; None where none is suspected."""
    other_reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


def leak_suspicion(
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    car: Car,
    *,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    moments: Mapping[str, datetime.datetime] | None = None,
) -> LeakSuspicion:
    """Did duty rise for the same flow and boost?

    Parameters
    ----------
    before, after : sequence of PullRecord
        Pulls before and after the day from which on a leak is feared.
    car : Car
    window : (float, float), optional
        As in a comparison. [rpm]
    level : float
        Probability that the intervals hold the truth. [1]
    moments : mapping of file to datetime, optional
        When each log was started: a session's warming is then taken out too.

    Raises
    ------
    CannotAnswer
        A side has no pull, or the pulls share no window.
    WrongUse
        The window or level makes no sense.
    """
    comparison = compare_records(before, after, car=car, window=window, level=level, moments=moments or {})
    return suspect_leak(comparison, before, after, car)


def suspect_leak(
    comparison: Comparison, before: Sequence[PullRecord], after: Sequence[PullRecord], car: Car
) -> LeakSuspicion:
    """The same of a comparison that has been made of these pulls."""
    level = comparison.level
    found = {measure.id: measure for measure in comparison.measures}
    duty, boost, flow = (found.get(name) for name in (DUTY, "boost.mean", "air_mass_flow.mean"))
    try:
        meter = meter_check(before, after, car, window=comparison.window_rpm, level=level)
    except CannotAnswer:
        meter = None
    left_out = next((one.reason for one in comparison.left_out if one.measure == DUTY), "")
    suspicion, statement = _judge(duty, boost, meter, left_out)
    size = None
    if suspicion == "suspected" and duty is not None:
        taken = flow.after if flow else _flow(after, car, comparison.window_rpm)
        size = leak_size(duty.difference, duty.interval, taken, boost.after if boost else None)
        statement = f"{statement} {size.statement}"
    return LeakSuspicion(
        suspicion=suspicion,
        statement=statement,
        duty=duty,
        boost=boost,
        air_mass_flow=flow,
        meter=meter,
        size=size,
        other_reasons=(*_unfair(comparison.checks), *ALSO),
        next_steps=NEXT,
        doubts=tuple(
            dict.fromkeys((*(duty.doubts if duty else ()), *_flow_says(flow), *_meter_says(meter), *comparison.doubts))
        ),
        cautions=CAUTIONS,
    )


def _flow(records: Sequence[PullRecord], car: Car, window: tuple[float, float]) -> float | None:
    """Mean flow of pulls without a meter, by speed-density [g/s]; None where that lacks something."""
    flows = []
    for record in records:
        curve = air_system(record, car, rpm=rpm_grid(*window)).air_mass_flow
        if isinstance(curve, Curve):
            flows.append(float(np.nanmean(curve.value)))
    return float(np.mean(flows)) if flows else None


def _judge(
    duty: MeasureDifference | None, boost: MeasureDifference | None, meter: MeterCheck | None, left_out: str
) -> tuple[Suspicion, str]:
    if duty is None:
        return "cannot tell", f"Without wastegate duty nothing can be said of a leak: {left_out}."
    span = (
        f"{duty.difference:+.1f} percentage points at equal boost and weather "
        f"({100.0 * duty.level:g} % interval {duty.interval[0]:+.1f} to {duty.interval[1]:+.1f})"
    )
    if duty.censored or duty.after >= 99.5:
        said = "" if boost is None else (
            f" Mean boost changed by {boost.difference:+.1f} kPa "
            f"({100.0 * boost.level:g} % interval {boost.interval[0]:+.1f} to {boost.interval[1]:+.1f} kPa)."
        )  # fmt: skip
        return "cannot tell", f"The duty sits at its stop and cannot show a leak.{said}"
    if duty.interval[0] <= 0.0:
        return "not shown", f"Mean wastegate duty changed by {span}: no rise shows, and so no sign of a leak."
    if duty.verdict != "higher":
        return "cannot tell", f"Mean wastegate duty rose by {span}, but something else that differed could explain it."
    if meter is not None and most_duty(meter.interval_pct[1]) < duty.interval[0]:
        return "not shown", (
            f"Mean wastegate duty rose by {span}, but the air meter leaves room for a leak of at most "
            f"{max(meter.interval_pct[1], 0.0):.1f} % of the flow, which cannot do that: look at the other reasons."
        )
    return "suspected", f"Mean wastegate duty rose by {span}: air may be lost, or one of the other reasons holds."


def _unfair(checks: Sequence[FairnessCheck]) -> list[str]:
    """What differed between the sides and could raise duty, as far as a check says so."""
    return [
        check.detail
        for check in checks
        if check.status != "pass" and check.could_explain.get(DUTY, 0.0) > 0.0 and not check.accounted_for
    ]


def _flow_says(flow: MeasureDifference | None) -> tuple[str, ...]:
    """Whether the flow was the same, as far as a meter shows it."""
    if flow is None:
        return ("no air flow is logged on both sides: that the engine took the same air rests on boost and weather",)
    lower, upper = flow.interval
    if lower <= 0.0 <= upper:
        return ()
    way = "more" if flow.difference > 0.0 else "less"
    said = f"the air meter shows {abs(flow.difference):.1f} g/s {way} at equal boost and weather"
    return (f"{said}: the flow was not the same, or the meter's reading changed",)


def _meter_says(meter: MeterCheck | None) -> tuple[str, ...]:
    if meter is None:
        return ("no air meter with manifold pressure on both sides: a second witness of lost air is missing",)
    if not meter.changed:
        return (f"{meter.statement} Air lost behind the meter would show there.", BEFORE_THE_COMPRESSOR)
    if meter.change_pct > 0.0:
        return (f"{meter.statement} Air lost behind the meter would do that too.",)
    return (f"{meter.statement} Air lost behind the meter would make it read more, not less.",)
