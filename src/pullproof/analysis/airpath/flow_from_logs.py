"""The car's own flow from its logs: every pull gives one curve, and their mean is what a path is computed for."""

from collections.abc import Sequence

import numpy as np

from pullproof.analysis.airpath.flow_curve import (
    ASSUMED_AIR,
    ASSUMED_CHARGE_C,
    ASSUMED_VOLUMETRIC_EFFICIENCY,
    STEP,
    FlowCurve,
    assumed_filling,
    speed_density,
    window,
    with_air,
)
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import curve, revs
from pullproof.errors import CannotAnswer

__all__ = ["flow_from_logs"]


def flow_from_logs(records: Sequence[PullRecord], car: Car) -> FlowCurve:
    """Mean flow curve of recorded pulls.

    Parameters
    ----------
    records : sequence of PullRecord
        Pulls of one build of the car.
    car : Car
        Its sheet; the displacement is needed where no air mass flow is logged.

    Raises
    ------
    CannotAnswer
        No pull has charge pressure or manifold pressure, or the air flow can neither be read nor computed.
    """
    used = [record for record in records if record.pull.used]
    curves: list[FlowCurve] = []
    reason: CannotAnswer | None = None
    for record in used:
        try:
            curves.append(_pull_curve(record, car))
        except CannotAnswer as error:
            reason = error
    if not curves:
        raise reason or CannotAnswer(
            "no pull is left to read the flow from",
            advice="Give logs with full-load pulls, or none: then the car sheet is used.",
        )
    return _mean(curves, car)


def _mean(curves: list[FlowCurve], car: Car) -> FlowCurve:
    low = float(np.median([curve.rpm[0] for curve in curves]))
    high = float(np.median([curve.rpm[-1] for curve in curves]))
    rpm = np.arange(low, high + 1.0, STEP)

    def mean(name: str) -> Array:
        rows = [
            np.interp(rpm, curve.rpm, getattr(curve, name), left=np.nan, right=np.nan)
            for curve in curves
            if np.any(np.isfinite(getattr(curve, name)))
        ]
        if not rows:
            return np.full(rpm.shape, np.nan)
        table = np.array(rows)
        known = np.isfinite(table)
        total = np.where(known, table, 0.0).sum(axis=0)
        average: Array = total / np.where(known.any(axis=0), known.sum(axis=0), np.nan)
        return average

    charge = mean("charge_pressure_kpa")
    rates = [curve.rpm_per_second for curve in curves if curve.rpm_per_second is not None]
    logs = sorted({curve.log for curve in curves})
    return FlowCurve(
        rpm=rpm,
        air_mass_flow_gs=mean("air_mass_flow_gs"),
        charge_pressure_kpa=charge,
        charge_temperature_c=mean("charge_temperature_c"),
        compressor_outlet_temperature_c=mean("compressor_outlet_temperature_c"),
        wastegate_duty_pct=mean("wastegate_duty_pct"),
        inlet_temperature_c=float(np.mean([curve.inlet_temperature_c for curve in curves])),
        ambient_pressure_kpa=float(np.mean([curve.ambient_pressure_kpa for curve in curves])),
        window_rpm=window(car, rpm, charge),
        rpm_per_second=float(np.median(rates)) if rates else None,
        origin=f"{len(curves)} {'pull' if len(curves) == 1 else 'pulls'} of {', '.join(logs)}",
        assumptions=tuple(dict.fromkeys(text for curve in curves for text in curve.assumptions)),
        pulls=tuple(curves),
    )


def _pull_curve(record: PullRecord, car: Car) -> FlowCurve:
    pull, assumptions = record.pull, []
    turning = revs(record).rpm
    rpm = np.arange(np.ceil(turning[0] / STEP) * STEP, turning[-1] + 1.0, STEP)
    if rpm.size < 2:
        raise CannotAnswer("the pull is too short for a curve", where=pull.log)
    charge = _over_speed(record, rpm, "charge_pressure")
    if charge is None:
        charge = _over_speed(record, rpm, "manifold_pressure")
        assumptions.append("manifold pressure stands in for charge pressure: the throttle is taken as fully open")
    if charge is None:
        raise CannotAnswer(
            "neither charge pressure nor manifold pressure is logged",
            where=pull.log,
            advice="Log one of them, or leave the logs out: then the car sheet is used.",
        )
    temperature = _over_speed(record, rpm, "charge_air_temperature", "intake_air_temperature")
    if temperature is None:
        temperature = np.full(rpm.shape, ASSUMED_CHARGE_C)
        assumptions.append(f"charge air of {ASSUMED_CHARGE_C:g} degC is assumed: no log shows it")
    flow = _over_speed(record, rpm, "air_mass_flow")
    if flow is None:
        flow = speed_density(car, rpm, charge, temperature, ASSUMED_VOLUMETRIC_EFFICIENCY, pull.log)
        assumptions.append(assumed_filling(ASSUMED_VOLUMETRIC_EFFICIENCY))
    flow_curve = FlowCurve(
        rpm=rpm,
        air_mass_flow_gs=flow,
        charge_pressure_kpa=charge,
        charge_temperature_c=temperature,
        compressor_outlet_temperature_c=_or_unknown(_over_speed(record, rpm, "compressor_outlet_temperature"), rpm),
        wastegate_duty_pct=_or_unknown(_over_speed(record, rpm, "wastegate_duty"), rpm),
        inlet_temperature_c=ASSUMED_AIR.temperature_c or 0.0,
        ambient_pressure_kpa=ASSUMED_AIR.pressure_kpa or 0.0,
        window_rpm=window(car, rpm, charge),
        rpm_per_second=_rise(record),
        origin=pull.log,
        assumptions=tuple(assumptions),
        log=pull.log,
        day=record.day,
    )
    return with_air(flow_curve, record.air)


def _over_speed(record: PullRecord, rpm: Array, *channels: str) -> Array | None:
    """The first of the channels that was sampled well enough, over engine speed."""
    for channel in channels:
        try:
            return curve(record, channel, rpm)
        except CannotAnswer:
            continue
    return None


def _or_unknown(values: Array | None, rpm: Array) -> Array:
    return np.full(rpm.shape, np.nan) if values is None else values


def _rise(record: PullRecord) -> float | None:
    """How fast the engine speed rises over the first third of the pull. [rpm/s]"""
    turning = revs(record)
    third = turning.time[0] + (turning.time[-1] - turning.time[0]) / 3.0
    rate = float((turning.at(np.array(third)) - turning.rpm[0]) / (third - turning.time[0]))
    return rate if rate > 0.0 else None
