"""From pressure saved to what the compressor, the charge and the driver feel. Arrays over engine speed, SI units.

At equal boost the compressor makes a lower pressure ratio and the air leaves it cooler. With the gate shut already,
the same compressor power gives more charge pressure instead. A larger volume fills later.
"""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.airpath.analysing import total
from pullproof.analysis.airpath.flow_curve import ASSUMED_COMPRESSOR_EFFICIENCY, ZERO_CELSIUS, FlowCurve
from pullproof.analysis.airpath.losses import Air, path_losses
from pullproof.analysis.airpath.path import AirPath
from pullproof.arrays import Array
from pullproof.physics import compressor

__all__ = ["INLET_LOSS_AT_TOP", "EqualBoost", "EqualPower", "at_equal_boost", "at_equal_power"]

EXPONENT = 2.0 / 7.0

INLET_LOSS_AT_TOP = 2.0e3
"""Loss of filter and inlet pipe at the largest flow, growing with its square [Pa]. Common practice, no source."""

EFFICIENCY_DOUBT = 0.07
"""Relative standard uncertainty of an assumed compressor efficiency. Common practice, no source."""

ENGINE_DOUBT = 0.15
"""Of how flow answers to charge pressure when the gate is shut: engine, cooler and wheel all answer a little."""

LEAST_RATIO = 1.05
"""Below it the compressor hardly works: before boost is built, or without a compressor at all."""

BELIEVABLE = (0.50, 0.80)
"""A compressor efficiency outside this, from a log, means a sensor [common practice]."""


@dataclass(frozen=True, slots=True)
class EqualBoost:
    """Compressor before and after at equal charge pressure and flow. NaN where hardly anything is compressed."""

    ratio_before: Array
    ratio_after: Array
    outlet_before: Array
    """Temperature behind the compressor. [K]"""
    outlet_after: Array
    outlet_doubt: Array
    """Standard uncertainty of the change. [K]"""
    log_work: Array
    """ln of specific work after over before. [1]"""
    log_work_doubt: Array
    basis: str


@dataclass(frozen=True, slots=True)
class EqualPower:
    """Rise of charge pressure at equal compressor power, and its standard uncertainty. [Pa]"""

    gain: Array
    doubt: Array


def at_equal_boost(flow: FlowCurve, air: Air, lost_before: Array, lost_after: Array, doubt: Array) -> EqualBoost:
    """What the compressor is spared when boost and flow stay.

    Parameters
    ----------
    flow, air : FlowCurve, Air
        The car's flow, in the contract's units and in SI.
    lost_before, lost_after : (n,)
        Loss of the two paths. [Pa]
    doubt : (n,)
        Standard uncertainty of their difference. [Pa]
    """
    inlet_kelvin, inlet = flow.inlet_temperature_c + ZERO_CELSIUS, _inlet_pressure(flow, air.mass_flow)
    before, after = ((air.end_pressure + lost) / inlet for lost in (lost_before, lost_after))
    before, after = (np.where(ratio > LEAST_RATIO, ratio, np.nan) for ratio in (before, after))
    efficiency, basis = _efficiency(flow, before)
    outlet_before, outlet_after = (
        compressor.outlet_temperature(inlet_kelvin, ratio, efficiency) for ratio in (before, after)
    )
    relative = doubt / (air.end_pressure + lost_after)
    slope = inlet_kelvin / efficiency * EXPONENT * after**EXPONENT
    return EqualBoost(
        ratio_before=before,
        ratio_after=after,
        outlet_before=outlet_before,
        outlet_after=outlet_after,
        outlet_doubt=np.hypot(EFFICIENCY_DOUBT * (outlet_after - outlet_before), slope * relative),
        log_work=np.log((after**EXPONENT - 1.0) / (before**EXPONENT - 1.0)),
        log_work_doubt=compressor.work_sensitivity(after) * relative,
        basis=basis,
    )


def at_equal_power(
    after: AirPath, flow: FlowCurve, air: Air, lost_before: Array, lost_after: Array, doubt: Array
) -> EqualPower:
    """What charge pressure gains when the compressor keeps its power and the engine breathes what it is given.

    More charge pressure is more flow, which costs pressure ratio at equal power, and more loss: solved by steps of
    half the distance, which cannot overshoot.

    Parameters
    ----------
    after : AirPath
        The new path, whose loss grows with the flow.
    flow, air, lost_before, lost_after, doubt
        As in `at_equal_boost`.
    """
    ratio = (air.end_pressure + lost_before) / _inlet_pressure(flow, air.mass_flow)
    ratio = np.where(ratio > LEAST_RATIO, ratio, np.nan)
    work = ratio**EXPONENT - 1.0
    pressure, loss = air.end_pressure, lost_after
    for _ in range(60):
        share = pressure / air.end_pressure
        behind = (1.0 + work / share) ** (1.0 / EXPONENT) * _inlet_pressure(flow, air.mass_flow * share)
        step = 0.5 * (behind - loss - pressure)
        pressure = pressure + step
        loss = total(path_losses(after, Air(air.mass_flow * share, pressure, air.temperature)))
        if not np.any(np.abs(step) > 0.1):
            break
    gain = pressure - air.end_pressure
    passed_on = 1.0 / (1.0 + (1.0 + lost_after / air.end_pressure) / compressor.work_sensitivity(ratio))
    return EqualPower(gain, np.hypot(ENGINE_DOUBT * gain, passed_on * doubt))


def _inlet_pressure(flow: FlowCurve, mass_flow: Array) -> Array:
    top = np.nanmax(1e-3 * flow.air_mass_flow_gs)
    return 1e3 * flow.ambient_pressure_kpa - INLET_LOSS_AT_TOP * (mass_flow / top) ** 2


def _efficiency(flow: FlowCurve, ratio: Array) -> tuple[Array, str]:
    """From the logged outlet temperature where it is believable, else the usual one."""
    logged = flow.compressor_outlet_temperature_c
    usual = np.full(ratio.shape, ASSUMED_COMPRESSOR_EFFICIENCY)
    assumed = f"compressor efficiency of {ASSUMED_COMPRESSOR_EFFICIENCY:g} assumed"
    if not np.any(np.isfinite(logged)):
        return usual, assumed
    measured = compressor.isentropic_efficiency(flow.inlet_temperature_c + ZERO_CELSIUS, logged + ZERO_CELSIUS, ratio)
    low, high = BELIEVABLE
    believable = (measured >= low) & (measured <= high)
    if not np.any(believable):
        return usual, f"{assumed}: the logged outlet temperature gives none between {low:g} and {high:g}"
    return np.where(believable, measured, usual), "compressor efficiency from the logged outlet temperature"
