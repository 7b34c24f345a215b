"""Air flow in pipes with its compressibility: Mach number, static pressure, and what a loss coefficient costs.

A loss coefficient K counts velocity heads of one named area. Losses are of *total* pressure; a sensor in the wall
reads static pressure, which also rises and falls with the bore, without loss. Coefficients are measured at low
speed: above Mach 0.3 they are refused.
"""

import math

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, not_negative, positive
from pullproof.physics.dry_air import GAMMA, GAS_CONSTANT
from pullproof.physics.elementwise import bracketed_root

__all__ = [
    "LARGEST_MACH_NUMBER",
    "isothermal_pressure_drop",
    "largest_mass_flow",
    "mach_number",
    "static_pressure",
    "total_pressure_loss",
    "upstream_total_pressure",
]

LARGEST_MACH_NUMBER = 0.3
"""Above it loss coefficients of fittings are no longer those of the handbooks [1]. Source: [Rennels], [Miller]."""

MASS_FLOW_EXPONENT: float = -(GAMMA + 1.0) / (2.0 * (GAMMA - 1.0))


def mach_number(mass_flow: Numbers, total_pressure: Numbers, total_temperature: Numbers, area: Numbers) -> Array:
    """Mach number of subsonic air from its total state.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    total_pressure : broadcastable
        Total pressure. [Pa]
    total_temperature : broadcastable
        Total temperature. [K]
    area : broadcastable
        Area open to flow. [m2]

    Returns
    -------
    broadcast shape
        Mach number, 0 to 1. [1] NaN where the area cannot pass the flow at all.

    Raises
    ------
    ValueError
        A pressure, temperature or area at or below zero, a negative flow.

    Range: subsonic.
    Source: [NACA 1135] mass-flow relation, solved for the Mach number.
    """
    flux = not_negative("mass flow", mass_flow) / positive("area", area)
    function = flux * np.sqrt(GAS_CONSTANT * kelvin(total_temperature)) / positive("total pressure", total_pressure)
    return bracketed_root(lambda mach, wanted: _mass_flow_function(mach) - wanted, 0.0, 1.0, function)


def largest_mass_flow(total_pressure: Numbers, total_temperature: Numbers, area: Numbers) -> Array:
    """Mass flow at Mach 0.3, the most that loss coefficients are used for here.

    Parameters
    ----------
    total_pressure : broadcastable
        Total pressure. [Pa]
    total_temperature : broadcastable
        Total temperature. [K]
    area : broadcastable
        Area open to flow. [m2]

    Returns
    -------
    broadcast shape
        Mass flow. [kg/s]

    Raises
    ------
    ValueError
        A pressure, temperature or area at or below zero.

    Range: air.
    Source: [NACA 1135] mass-flow relation.
    """
    flux = positive("total pressure", total_pressure) / np.sqrt(GAS_CONSTANT * kelvin(total_temperature))
    return _mass_flow_function(np.float64(LARGEST_MACH_NUMBER)) * flux * positive("area", area)


def static_pressure(mass_flow: Numbers, total_pressure: Numbers, total_temperature: Numbers, area: Numbers) -> Array:
    """Static pressure, as a sensor in the wall reads it.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    total_pressure : broadcastable
        Total pressure. [Pa]
    total_temperature : broadcastable
        Total temperature. [K]
    area : broadcastable
        Area open to flow. [m2]

    Returns
    -------
    broadcast shape
        Static pressure. [Pa] NaN where the area cannot pass the flow.

    Raises
    ------
    ValueError
        As `mach_number`.

    Range: subsonic.
    Source: [NACA 1135] eq. (44).
    """
    mach = mach_number(mass_flow, total_pressure, total_temperature, area)
    return np.asarray(total_pressure, dtype=np.float64) * _static_over_total_pressure(mach)


def isothermal_pressure_drop(
    coefficient: Numbers, mass_flow: Numbers, pressure: Numbers, temperature: Numbers, area: Numbers
) -> Array:
    """Drop of static pressure along a pipe of constant section at constant temperature.

    Parameters
    ----------
    coefficient : broadcastable
        Sum of loss coefficients, friction included, on this area. [1]
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    pressure : broadcastable
        Static pressure at the inlet. [Pa]
    temperature : broadcastable
        Temperature. [K]
    area : broadcastable
        Area open to flow. [m2]

    Returns
    -------
    broadcast shape
        Static pressure at the inlet less static pressure at the outlet. [Pa] NaN where the pipe chokes.

    Raises
    ------
    ValueError
        A pressure, temperature or area at or below zero, a negative flow or coefficient.

    Range: subsonic; what two sensors in walls of equal bore show.
    Source: [Crane TP-410] eq. (1-6): p1^2 - p2^2 = G^2 R T (K + 2 ln(p1/p2)).
    """
    flux = not_negative("mass flow", mass_flow) / positive("area", area)
    inlet = positive("pressure", pressure)
    # The dynamic share is the squared isothermal Mach number; outlet pressures are shares of the inlet pressure.
    dynamic = flux**2 * GAS_CONSTANT * kelvin(temperature) / inlet**2
    moving = np.where((dynamic > 0.0) & (dynamic < 1.0), dynamic, np.nan)
    outlet = bracketed_root(
        lambda share, head, loss: 1.0 - share**2 - head * (loss - 2.0 * np.log(share)),
        np.sqrt(moving),
        1.0 + 1e-9,
        moving,
        not_negative("loss coefficient", coefficient),
    )
    return np.where(dynamic == 0.0, 0.0, inlet * (1.0 - outlet))[()]


def total_pressure_loss(
    coefficient: Numbers, mass_flow: Numbers, total_pressure: Numbers, total_temperature: Numbers, area: Numbers
) -> Array:
    """Loss of total pressure in a pipe or fitting, with the air speeding up as it expands.

    Nearly no heat passes the wall in a metre of pipe, so the total temperature stays and the losses follow Fanno's
    flow. For small losses this is K rho V^2/2.

    Parameters
    ----------
    coefficient : broadcastable
        Loss coefficient on this area. [1]
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    total_pressure : broadcastable
        Total pressure at the inlet. [Pa]
    total_temperature : broadcastable
        Total temperature. [K]
    area : broadcastable
        The area that the coefficient is based on. [m2]

    Returns
    -------
    broadcast shape
        Loss. [Pa] NaN where an input is NaN.

    Raises
    ------
    ValueError
        A Mach number above 0.3 at the inlet or the outlet, where the coefficient no longer holds; a pressure,
        temperature or area at or below zero; a negative flow or coefficient.

    Range: up to Mach 0.3; ask `mach_number` first.
    Source: [NACA 1135] Fanno flow; [Rennels] ch. 4.
    """
    flow = not_negative("mass flow", mass_flow)
    inlet = mach_number(np.where(flow > 0.0, flow, np.nan), total_pressure, total_temperature, area)
    left_at_inlet = _fanno_function(inlet)
    left_at_outlet = left_at_inlet - not_negative("loss coefficient", coefficient)
    too_small = largest_mass_flow(total_pressure, total_temperature, area) < flow
    if np.any(too_small) or np.any(left_at_outlet < _fanno_function(np.float64(LARGEST_MACH_NUMBER))):
        raise ValueError(f"Mach number above {LARGEST_MACH_NUMBER:g}, where loss coefficients no longer hold")
    outlet = bracketed_root(
        lambda mach, wanted: _fanno_function(mach) - wanted,
        inlet * (1.0 - 1e-9),
        LARGEST_MACH_NUMBER * (1.0 + 1e-9),
        left_at_outlet,
    )
    share = _mass_flow_function(inlet) / _mass_flow_function(outlet)
    return np.where(flow == 0.0, 0.0, np.asarray(total_pressure, dtype=np.float64) * (1.0 - share))[()]


def upstream_total_pressure(
    coefficient: Numbers, mass_flow: Numbers, total_pressure: Numbers, total_temperature: Numbers, area: Numbers
) -> Array:
    """Total pressure before a pipe or fitting from the one behind it: `total_pressure_loss` walked against the flow.

    Parameters
    ----------
    coefficient : broadcastable
        Loss coefficient on this area. [1]
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    total_pressure : broadcastable
        Total pressure at the outlet. [Pa]
    total_temperature : broadcastable
        Total temperature. [K]
    area : broadcastable
        The area that the coefficient is based on. [m2]

    Returns
    -------
    broadcast shape
        Total pressure at the inlet. [Pa] NaN where an input is NaN.

    Raises
    ------
    ValueError
        A Mach number above 0.3 at the outlet; a pressure, temperature or area at or below zero; a negative flow or
        coefficient.

    Range: up to Mach 0.3; ask `largest_mass_flow` first.
    Source: [NACA 1135] Fanno flow.
    """
    flow = not_negative("mass flow", mass_flow)
    if np.any(largest_mass_flow(total_pressure, total_temperature, area) < flow):
        raise ValueError(f"Mach number above {LARGEST_MACH_NUMBER:g}, where loss coefficients no longer hold")
    outlet = mach_number(np.where(flow > 0.0, flow, np.nan), total_pressure, total_temperature, area)
    inlet = bracketed_root(
        lambda mach, wanted: _fanno_function(mach) - wanted,
        1e-3 * outlet,
        outlet * (1.0 + 1e-9),
        _fanno_function(outlet) + not_negative("loss coefficient", coefficient),
    )
    share = _mass_flow_function(outlet) / _mass_flow_function(inlet)
    return np.asarray(total_pressure, dtype=np.float64) * np.where(flow == 0.0, 1.0, share)


def _mass_flow_function(mach: Array | np.float64) -> Array:
    """Dimensionless mass flow m sqrt(R T0)/(A p0) at a Mach number."""
    speed: Array = np.asarray(mach, dtype=np.float64)
    stretch: Array = 1.0 + 0.5 * (GAMMA - 1.0) * speed**2
    return math.sqrt(GAMMA) * speed * stretch**MASS_FLOW_EXPONENT


def _static_over_total_pressure(mach: Array) -> Array:
    return (1.0 + 0.5 * (GAMMA - 1.0) * mach**2) ** (-GAMMA / (GAMMA - 1.0))


def _fanno_function(mach: Array | np.float64) -> Array:
    """Loss coefficient that is left until the flow chokes, f L*/D."""
    square: Array = np.asarray(mach, dtype=np.float64) ** 2
    stretched = (GAMMA + 1.0) * square / (2.0 + (GAMMA - 1.0) * square)
    return (1.0 - square) / (GAMMA * square) + (GAMMA + 1.0) / (2.0 * GAMMA) * np.log(stretched)
