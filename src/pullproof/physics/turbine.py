"""Turbine and wastegate: how much exhaust the compressor leaves over, and the gate area that must let it go.

The shaft must balance: the turbine gives what the compressor takes. Compressor work, exhaust temperature and the
pressure behind the turbine fix the pressure before it; the turbine swallows what that pressure drives through, and
the rest of the exhaust goes through the wastegate. A part that saves compressor work opens the gate: that is the
margin that wastegate duty shows. Duty itself appears nowhere here. It is a command, and solenoid, spring and flap
stand between it and the area.

Steady flow, one turbine nozzle area, no pulsation: the numbers can be tens of per cent off for a real engine, the
signs are robust. As a prior, give it a relative doubt of at least a half.

Sources: [Watson & Janota], [Heywood] section 6.8; the arrangement for the gate area is derived here.
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics import compressor
from pullproof.physics.domain import kelvin, not_negative, positive, within
from pullproof.physics.elementwise import bracketed_root
from pullproof.physics.orifices import nozzle_flow_function

__all__ = [
    "EXHAUST_HEAT_RATIO",
    "EXHAUST_SPECIFIC_HEAT",
    "BoostState",
    "PowerBalance",
    "WastegateSensitivities",
    "largest_compressor_power",
    "power_balance",
    "wastegate_sensitivities",
]

EXHAUST_HEAT_RATIO = 1.33
"""Ratio of specific heats of hot exhaust gas [1], from memory."""

EXHAUST_SPECIFIC_HEAT = 1150.0
"""Specific heat of hot exhaust gas at constant pressure [J/(kg K)], from memory."""

EXHAUST_EXPONENT = (EXHAUST_HEAT_RATIO - 1.0) / EXHAUST_HEAT_RATIO
EXHAUST_GAS_CONSTANT = EXHAUST_SPECIFIC_HEAT * EXHAUST_EXPONENT
LARGEST_EXPANSION_RATIO = 20.0


@dataclass(frozen=True, slots=True)
class BoostState:
    """An engine at full load with its turbocharger; every entry a number or an array, broadcast together.

    Attributes
    ----------
    ambient_pressure : broadcastable
        Barometric pressure. [Pa]
    inlet_loss : broadcastable
        Total pressure lost in filter and inlet pipe, before the compressor. [Pa]
    charge_pressure : broadcastable
        Pressure at the end of the charge path, absolute. [Pa]
    path_loss : broadcastable
        Total pressure lost between compressor and there. [Pa]
    exhaust_back_pressure : broadcastable
        Pressure behind the turbine above ambient. [Pa]
    inlet_temperature : broadcastable
        Air before the compressor. [K]
    air_mass_flow : broadcastable
        Air through compressor and engine. [kg/s]
    air_fuel_ratio : broadcastable
        Mass of air per mass of fuel. [1]
    exhaust_temperature : broadcastable
        Gas before the turbine. [K]
    compressor_efficiency : broadcastable
        Isentropic. [1]
    turbine_efficiency : broadcastable
        Isentropic, total to static. [1]
    mechanical_efficiency : broadcastable
        Of the shaft's bearings. [1]
    turbine_area : broadcastable
        Effective nozzle area of the turbine. [m2]
    """

    ambient_pressure: Numbers
    inlet_loss: Numbers
    charge_pressure: Numbers
    path_loss: Numbers
    exhaust_back_pressure: Numbers
    inlet_temperature: Numbers
    air_mass_flow: Numbers
    air_fuel_ratio: Numbers
    exhaust_temperature: Numbers
    compressor_efficiency: Numbers
    turbine_efficiency: Numbers
    mechanical_efficiency: Numbers
    turbine_area: Numbers

    @property
    def compressor_inlet_pressure(self) -> Array:
        """Pressure before the compressor. [Pa]"""
        loss = not_negative("inlet loss", self.inlet_loss)
        return positive("pressure before the compressor", positive("ambient pressure", self.ambient_pressure) - loss)

    @property
    def compressor_outlet_pressure(self) -> Array:
        """Pressure behind the compressor. [Pa]"""
        return positive("charge pressure", self.charge_pressure) + not_negative("path loss", self.path_loss)

    @property
    def turbine_outlet_pressure(self) -> Array:
        """Pressure behind the turbine. [Pa]"""
        back_pressure = not_negative("exhaust back pressure", self.exhaust_back_pressure)
        return positive("ambient pressure", self.ambient_pressure) + back_pressure

    @property
    def exhaust_mass_flow(self) -> Array:
        """Air and fuel together. [kg/s]"""
        fuel_share = 1.0 / positive("air-fuel ratio", self.air_fuel_ratio)
        return positive("air mass flow", self.air_mass_flow) * (1.0 + fuel_share)


@dataclass(frozen=True, slots=True)
class PowerBalance:
    """What follows from a `BoostState` when the shaft balances.

    Attributes
    ----------
    compressor_power : broadcast shape
        Power that the compressor takes, and the turbine gives. [W]
    turbine_inlet_pressure : broadcast shape
        Pressure before the turbine. [Pa]
    expansion_ratio : broadcast shape
        Pressure before over pressure behind the turbine. [1]
    turbine_mass_flow : broadcast shape
        Exhaust through the turbine. [kg/s]
    bypass_fraction : broadcast shape
        Share of the exhaust that goes through the gate; negative where even a shut gate cannot give the power. [1]
    wastegate_area : broadcast shape
        Effective gate area. [m2] NaN where the bypass fraction is negative.
    """

    compressor_power: Array
    turbine_inlet_pressure: Array
    expansion_ratio: Array
    turbine_mass_flow: Array
    bypass_fraction: Array
    wastegate_area: Array


@dataclass(frozen=True, slots=True)
class WastegateSensitivities:
    """By how much the gate area moves: derivatives of its logarithm, all else held.

    Each is d ln(area) / d ln(quantity), except for the three losses, which start at zero: there it is
    d ln(area) / d(loss). `ambient_pressure` moves the pressures before the compressor and behind the turbine
    together, which nearly cancels; its sign is not safe.

    Attributes
    ----------
    ambient_pressure, charge_pressure, inlet_temperature, air_mass_flow, air_fuel_ratio, exhaust_temperature : Array
        Logarithmic sensitivity. [1]
    compressor_efficiency, turbine_efficiency : Array
        Logarithmic sensitivity. [1]
    inlet_loss, path_loss, exhaust_back_pressure : Array
        Sensitivity per pressure. [1/Pa]
    """

    ambient_pressure: Array
    charge_pressure: Array
    inlet_temperature: Array
    air_mass_flow: Array
    air_fuel_ratio: Array
    exhaust_temperature: Array
    compressor_efficiency: Array
    turbine_efficiency: Array
    inlet_loss: Array
    path_loss: Array
    exhaust_back_pressure: Array


def power_balance(state: BoostState) -> PowerBalance:
    """Pressure before the turbine, bypassed share and gate area that hold a charge pressure.

    Parameters
    ----------
    state : BoostState
        Engine and turbocharger; arrays are broadcast together.

    Returns
    -------
    PowerBalance
        NaN where an input is NaN, the compressor does not compress, or the turbine would need a pressure ratio
        above 20.

    Raises
    ------
    ValueError
        A pressure, temperature, flow, ratio or area at or below zero, a negative loss, an efficiency outside
        0.05 to 1.

    Range: steady full load, one scroll; see the module.
    Source: shaft balance of [Watson & Janota] and [Heywood] section 6.8 with the nozzle equation.
    """
    power = _compressor_power(state)
    behind, kelvins = state.turbine_outlet_pressure, kelvin(state.exhaust_temperature)
    area = positive("turbine area", state.turbine_area)
    # Turbine power over behind * area * sqrt(T/R) * cp * efficiencies depends on the expansion ratio alone.
    scale = behind * area * np.sqrt(kelvins / EXHAUST_GAS_CONSTANT) * EXHAUST_SPECIFIC_HEAT * _shaft_efficiency(state)
    ratio = bracketed_root(
        lambda expansion, wanted: _turbine_power_function(expansion) - wanted,
        1.0,
        LARGEST_EXPANSION_RATIO,
        power / scale,
    )
    before = behind * ratio
    swallowed = _nozzle_mass_flow(area, before, ratio, kelvins)
    left_over = state.exhaust_mass_flow - swallowed
    gate = left_over / _nozzle_mass_flow(1.0, before, ratio, kelvins)
    return PowerBalance(
        compressor_power=power,
        turbine_inlet_pressure=before,
        expansion_ratio=ratio,
        turbine_mass_flow=swallowed,
        bypass_fraction=left_over / state.exhaust_mass_flow,
        wastegate_area=np.where(gate >= 0.0, gate, np.nan)[()],
    )


def largest_compressor_power(state: BoostState) -> Array:
    """Power that the turbine gives with the gate shut: the most that this exhaust can do.

    Parameters
    ----------
    state : BoostState
        Engine and turbocharger; the pressures on the compressor's side do not matter here.

    Returns
    -------
    broadcast shape
        Power. [W] NaN where the turbine would need a pressure ratio above 20 to swallow all exhaust.

    Raises
    ------
    ValueError
        A pressure, temperature, flow, ratio or area at or below zero, an efficiency outside 0.05 to 1.

    Range: as `power_balance`.
    Source: as `power_balance`, with all exhaust through the turbine.
    """
    flow, behind, kelvins = state.exhaust_mass_flow, state.turbine_outlet_pressure, kelvin(state.exhaust_temperature)
    area = positive("turbine area", state.turbine_area)
    wanted = flow * np.sqrt(EXHAUST_GAS_CONSTANT * kelvins) / (area * behind)
    ratio = bracketed_root(
        lambda expansion, target: expansion * nozzle_flow_function(1.0 / expansion, EXHAUST_HEAT_RATIO) - target,
        1.0,
        LARGEST_EXPANSION_RATIO,
        wanted,
    )
    drop = EXHAUST_SPECIFIC_HEAT * kelvins * (1.0 - ratio**-EXHAUST_EXPONENT)
    return flow * drop * _shaft_efficiency(state)


def wastegate_sensitivities(state: BoostState) -> WastegateSensitivities:
    """Derivatives of the gate area with respect to everything that moves it, as priors for a comparison.

    Parameters
    ----------
    state : BoostState
        Engine and turbocharger; arrays are broadcast together.

    Returns
    -------
    WastegateSensitivities
        NaN where the gate is shut.

    Raises
    ------
    ValueError
        As `power_balance`.

    Range: as `power_balance`; at least half of each value is in doubt for a real engine.
    Source: central differences of `power_balance`, with steps of 1e-4.
    """
    found = {}
    for entry in fields(WastegateSensitivities):
        value = np.asarray(getattr(state, entry.name), dtype=np.float64)
        if entry.name in _LOSSES:
            # A loss may be zero, so its step is a share of the barometer and forward only.
            step = 1e-5 * np.asarray(state.ambient_pressure, dtype=np.float64)
            points = (value, value + step, value + 2.0 * step)
            here, one, two = (_log_gate_area(state, entry.name, point) for point in points)
            found[entry.name] = (-1.5 * here + 2.0 * one - 0.5 * two) / step
        else:
            less, more = (_log_gate_area(state, entry.name, value * np.exp(side * 1e-4)) for side in (-1.0, 1.0))
            found[entry.name] = (more - less) / 2e-4
    return WastegateSensitivities(**found)


_LOSSES = ("inlet_loss", "path_loss", "exhaust_back_pressure")


def _log_gate_area(state: BoostState, name: str, value: Array) -> Array:
    area = power_balance(replace(state, **{name: value})).wastegate_area
    return np.log(np.where(area > 0.0, area, np.nan))


def _compressor_power(state: BoostState) -> Array:
    ratio = state.compressor_outlet_pressure / state.compressor_inlet_pressure
    work = compressor.specific_work(state.inlet_temperature, ratio, state.compressor_efficiency)
    return positive("air mass flow", state.air_mass_flow) * work


def _shaft_efficiency(state: BoostState) -> Array:
    turbine = within("turbine efficiency", state.turbine_efficiency, 0.05, 1.0, "a fraction is needed")
    return turbine * within("mechanical efficiency", state.mechanical_efficiency, 0.05, 1.0, "a fraction is needed")


def _turbine_power_function(expansion: Array) -> Array:
    """Dimensionless turbine power; rises with the expansion ratio without end."""
    flow = expansion * nozzle_flow_function(1.0 / expansion, EXHAUST_HEAT_RATIO)
    return flow * (1.0 - expansion**-EXHAUST_EXPONENT)


def _nozzle_mass_flow(area: Numbers, before: Array, expansion: Array, temperature: Array) -> Array:
    psi = nozzle_flow_function(1.0 / expansion, EXHAUST_HEAT_RATIO)
    return area * before * psi / np.sqrt(EXHAUST_GAS_CONSTANT * temperature)
