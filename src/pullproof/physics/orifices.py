"""Flow through nozzles, holes and gates: subsonic, choked, and where one turns into the other.

Up to the critical pressure ratio the flow grows with the pressure difference; beyond it the throat runs at the
speed of sound and only the pressure before it counts. A 3 mm hole at 240 kPa loses 3 g/s: little for power, but
visible in the mixture where the air is metered.
"""

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import fraction, kelvin, not_negative, positive, within
from pullproof.physics.dry_air import GAMMA, GAS_CONSTANT

__all__ = ["critical_pressure_ratio", "nozzle_flow_function", "orifice_mass_flow"]


def critical_pressure_ratio(heat_ratio: Numbers = GAMMA) -> Array:
    """Pressure behind over total pressure before at which the throat just chokes.

    Parameters
    ----------
    heat_ratio : any shape
        Ratio of specific heats. [1]

    Returns
    -------
    same shape
        Critical pressure ratio; 0.528 for air. [1]

    Raises
    ------
    ValueError
        A ratio of specific heats outside 1.05 to 1.7.

    Range: ideal gases.
    Source: [Heywood] appendix C; [ISO 9300].
    """
    gamma = _heat_ratio(heat_ratio)
    return (2.0 / (gamma + 1.0)) ** (gamma / (gamma - 1.0))


def nozzle_flow_function(pressure_ratio: Numbers, heat_ratio: Numbers = GAMMA) -> Array:
    """Dimensionless mass flow of an ideal nozzle: m sqrt(R T0) / (A p0).

    Parameters
    ----------
    pressure_ratio : broadcastable
        Static pressure behind over total pressure before. [1]
    heat_ratio : broadcastable
        Ratio of specific heats. [1]

    Returns
    -------
    broadcast shape
        Flow function; constant below the critical ratio, zero at 1. [1]

    Raises
    ------
    ValueError
        A pressure ratio outside 0 to 1, a ratio of specific heats outside 1.05 to 1.7.

    Range: ideal gases, no swirl.
    Source: [Heywood] appendix C, eq. (C.8) and (C.9).
    """
    gamma = _heat_ratio(heat_ratio)
    # Below the critical ratio the throat does not feel the pressure behind it: that is physics, not a clipped input.
    at_throat = np.maximum(fraction("pressure ratio", pressure_ratio), critical_pressure_ratio(gamma))
    cooling = 1.0 - at_throat ** ((gamma - 1.0) / gamma)
    return at_throat ** (1.0 / gamma) * np.sqrt(2.0 * gamma / (gamma - 1.0) * cooling)


def orifice_mass_flow(
    area: Numbers,
    discharge_coefficient: Numbers,
    upstream_pressure: Numbers,
    downstream_pressure: Numbers,
    upstream_temperature: Numbers,
) -> Array:
    """Air that leaves through a hole, choked or not.

    Parameters
    ----------
    area : broadcastable
        Area of the hole. [m2]
    discharge_coefficient : broadcastable
        Effective over geometric area; 0.6 sharp to 0.85 rounded, from memory. [1]
    upstream_pressure : broadcastable
        Total pressure before the hole. [Pa]
    downstream_pressure : broadcastable
        Static pressure behind it, not above the pressure before it. [Pa]
    upstream_temperature : broadcastable
        Total temperature before it. [K]

    Returns
    -------
    broadcast shape
        Mass flow. [kg/s]

    Raises
    ------
    ValueError
        A pressure behind above the pressure before; an impossible pressure, temperature, area or coefficient.

    Range: air as an ideal gas with constant specific heats.
    Source: [Heywood] appendix C.
    """
    before = positive("upstream pressure", upstream_pressure)
    ratio = positive("downstream pressure", downstream_pressure) / before
    effective = not_negative("area", area) * fraction("discharge coefficient", discharge_coefficient)
    return effective * before * nozzle_flow_function(ratio) / np.sqrt(GAS_CONSTANT * kelvin(upstream_temperature))


def _heat_ratio(heat_ratio: Numbers) -> Array:
    return within("ratio of specific heats", heat_ratio, 1.05, 1.7, "gases have 1.1 to 1.67")
