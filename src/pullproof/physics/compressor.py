"""Compressor: temperatures, work, efficiency, and flow and speed referred to a map's own reference state.

Pressures and temperatures are totals, at the wheel's own ports: before it after filter and inlet pipe, behind it
before the cooler. Specific heat is constant; against real air the outlet temperature is 0.4 to 0.8 K high up to a
pressure ratio of 3. An efficiency above 0.80 or below 0.50 from a log means a sensor, not a wheel [common practice].
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, not_negative, positive, within
from pullproof.physics.dry_air import GAMMA, SPECIFIC_HEAT

__all__ = [
    "Corrected",
    "ReferenceState",
    "corrected_mass_flow",
    "corrected_speed",
    "density_ratio",
    "isentropic_efficiency",
    "outlet_temperature",
    "specific_work",
    "work_sensitivity",
]

EXPONENT = (GAMMA - 1.0) / GAMMA


@dataclass(frozen=True, slots=True)
class ReferenceState:
    """The state that a compressor map is referred to. Makers use several: it belongs to every corrected number.

    Attributes
    ----------
    temperature : float
        Reference temperature. [K]
    pressure : float
        Reference pressure, absolute. [Pa]
    """

    temperature: float
    pressure: float

    def __post_init__(self) -> None:
        kelvin(self.temperature)
        positive("reference pressure", self.pressure)


@dataclass(frozen=True, slots=True)
class Corrected:
    """A corrected quantity with the state that it is referred to.

    Attributes
    ----------
    value : broadcast shape
        Flow or speed as it would be at the reference state, in the unit of the quantity that was corrected.
    reference : ReferenceState
        The state.
    """

    value: Array
    reference: ReferenceState


def _isentropic_rise(pressure_ratio: Numbers) -> Array:
    """Relative temperature rise without losses; NaN where nothing is compressed."""
    ratio = positive("pressure ratio", pressure_ratio)
    return np.where(ratio < 1.0, np.nan, ratio**EXPONENT - 1.0)[()]


def outlet_temperature(inlet_temperature: Numbers, pressure_ratio: Numbers, isentropic_efficiency: Numbers) -> Array:
    """Temperature of the air behind the compressor.

    Parameters
    ----------
    inlet_temperature : broadcastable
        Total temperature before the compressor. [K]
    pressure_ratio : broadcastable
        Total pressure behind over total pressure before. [1]
    isentropic_efficiency : broadcastable
        Isentropic efficiency, total to total. [1]

    Returns
    -------
    broadcast shape
        Total temperature behind the compressor. [K] NaN where the pressure ratio is below 1.

    Raises
    ------
    ValueError
        A temperature or ratio at or below zero, an efficiency outside 0.05 to 1.

    Range: pressure ratios up to 4 and 0 to 50 degC at the inlet, 0.4 to 0.8 K high at a ratio of 2.4 to 3.
    Source: [Watson & Janota] ch. 3; [Heywood] section 6.8.
    """
    efficiency = within("isentropic efficiency", isentropic_efficiency, 0.05, 1.0, "a fraction is needed")
    return kelvin(inlet_temperature) * (1.0 + _isentropic_rise(pressure_ratio) / efficiency)


def specific_work(inlet_temperature: Numbers, pressure_ratio: Numbers, isentropic_efficiency: Numbers) -> Array:
    """Shaft work per mass of air.

    Parameters
    ----------
    inlet_temperature : broadcastable
        Total temperature before the compressor. [K]
    pressure_ratio : broadcastable
        Total pressure behind over total pressure before. [1]
    isentropic_efficiency : broadcastable
        Isentropic efficiency, total to total. [1]

    Returns
    -------
    broadcast shape
        Work per mass. [J/kg] NaN where the pressure ratio is below 1.

    Raises
    ------
    ValueError
        As `outlet_temperature`.

    Range: as `outlet_temperature`.
    Source: [Heywood] section 6.8, eq. (6.42).
    """
    rise = outlet_temperature(inlet_temperature, pressure_ratio, isentropic_efficiency) - kelvin(inlet_temperature)
    return SPECIFIC_HEAT * rise


def isentropic_efficiency(inlet_temperature: Numbers, outlet_temperature: Numbers, pressure_ratio: Numbers) -> Array:
    """Isentropic efficiency from measured temperatures: inverse of `outlet_temperature`.

    Parameters
    ----------
    inlet_temperature : broadcastable
        Total temperature before the compressor. [K]
    outlet_temperature : broadcastable
        Total temperature behind the compressor, before the cooler. [K]
    pressure_ratio : broadcastable
        Total pressure behind over total pressure before. [1]

    Returns
    -------
    broadcast shape
        Isentropic efficiency. [1] NaN where the pressure ratio is below 1 or the air got no warmer.

    Raises
    ------
    ValueError
        A temperature or ratio at or below zero.

    Range: steady running; heat from the turbine side spoils it at low flow.
    Source: [Watson & Janota] ch. 3; [Heywood] eq. (6.39).
    """
    inlet = kelvin(inlet_temperature)
    rise = kelvin(outlet_temperature) - inlet
    warmed = np.where(rise > 0.0, rise, np.nan)
    return inlet * _isentropic_rise(pressure_ratio) / warmed


def density_ratio(pressure_ratio: Numbers, inlet_temperature: Numbers, outlet_temperature: Numbers) -> Array:
    """Density behind over density before, for a compressor alone or with its cooler.

    Parameters
    ----------
    pressure_ratio : broadcastable
        Pressure behind over pressure before. [1]
    inlet_temperature : broadcastable
        Temperature before. [K]
    outlet_temperature : broadcastable
        Temperature behind. [K]

    Returns
    -------
    broadcast shape
        Density ratio. [1]

    Raises
    ------
    ValueError
        A temperature or ratio at or below zero.

    Range: all.
    Source: ideal gas law.
    """
    return positive("pressure ratio", pressure_ratio) * kelvin(inlet_temperature) / kelvin(outlet_temperature)


def work_sensitivity(pressure_ratio: Numbers) -> Array:
    """By how many per cent the work grows when the pressure ratio grows by one.

    Parameters
    ----------
    pressure_ratio : any shape
        Total pressure behind over total pressure before, above 1. [1]

    Returns
    -------
    same shape
        d ln(work) / d ln(pressure ratio). [1] NaN where the pressure ratio is not above 1.

    Raises
    ------
    ValueError
        A ratio at or below zero.

    Range: at equal efficiency; falls from infinity at 1 towards 2/7.
    Source: derivative of `specific_work`.
    """
    ratio = positive("pressure ratio", pressure_ratio)
    power = np.where(ratio > 1.0, ratio, np.nan) ** EXPONENT
    return EXPONENT * power / (power - 1.0)


def corrected_mass_flow(
    mass_flow: Numbers, inlet_temperature: Numbers, inlet_pressure: Numbers, reference: ReferenceState
) -> Corrected:
    """Mass flow that the same wheel at the same Mach numbers would pass at the reference state.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the compressor. [kg/s]
    inlet_temperature : broadcastable
        Total temperature before the compressor. [K]
    inlet_pressure : broadcastable
        Total pressure before the compressor. [Pa]
    reference : ReferenceState
        The map's own reference state.

    Returns
    -------
    Corrected
        Corrected flow [kg/s] with its reference.

    Raises
    ------
    ValueError
        A temperature or pressure at or below zero, a negative flow.

    Range: all.
    Source: [Watson & Janota] ch. 3; the reference state belongs to the map.
    """
    temperature_ratio = kelvin(inlet_temperature) / reference.temperature
    pressure_ratio = positive("inlet pressure", inlet_pressure) / reference.pressure
    return Corrected(not_negative("mass flow", mass_flow) * np.sqrt(temperature_ratio) / pressure_ratio, reference)


def corrected_speed(shaft_speed: Numbers, inlet_temperature: Numbers, reference: ReferenceState) -> Corrected:
    """Shaft speed that gives the same Mach numbers at the reference state.

    Parameters
    ----------
    shaft_speed : broadcastable
        Speed of the turbocharger's shaft. [rad/s]
    inlet_temperature : broadcastable
        Total temperature before the compressor. [K]
    reference : ReferenceState
        The map's own reference state.

    Returns
    -------
    Corrected
        Corrected speed [rad/s] with its reference.

    Raises
    ------
    ValueError
        A temperature at or below zero, a negative speed.

    Range: all.
    Source: [Watson & Janota] ch. 3.
    """
    temperature_ratio = kelvin(inlet_temperature) / reference.temperature
    return Corrected(not_negative("shaft speed", shaft_speed) / np.sqrt(temperature_ratio), reference)
