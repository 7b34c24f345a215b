"""Dry air as the gas inside pipes, compressors and coolers: the constants, and what follows from them.

Cold air is taken as ideal with constant specific heat: from 0 to 200 degC the ratio of specific heats falls by
0.9 % [CoolProp], which the compressor module names where it matters.
"""

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, positive

__all__ = [
    "GAMMA",
    "GAS_CONSTANT",
    "SPECIFIC_HEAT",
    "density",
    "speed_of_sound",
    "viscosity_sutherland",
]

GAS_CONSTANT = 287.055
"""Specific gas constant of dry air [J/(kg K)]. Source: [ASHRAE 2017] ch. 1, from R = 8314.472 J/(kmol K)."""

GAMMA = 1.4
"""Ratio of specific heats [1]."""

SPECIFIC_HEAT = 1005.0
"""Specific heat at constant pressure [J/(kg K)]; real air has 1005.7 at 0 degC and 1017 at 150 degC [CoolProp]."""


def density(pressure: Numbers, temperature: Numbers) -> Array:
    """Density of dry air, as an ideal gas.

    Parameters
    ----------
    pressure : broadcastable
        Static pressure, absolute. [Pa]
    temperature : broadcastable
        Static temperature. [K]

    Returns
    -------
    broadcast shape
        Density. [kg/m3] NaN where an input is NaN.

    Raises
    ------
    ValueError
        A temperature or a pressure at or below zero, most often degrees Celsius or gauge pressure by mistake.

    Range: pressures and temperatures of an intake tract; humidity is left out, see `moist_air.density`.
    Source: ideal gas law with the gas constant of [ASHRAE 2017].

    >>> round(float(density(101_325.0, 288.15)), 4)
    1.225
    """
    return positive("absolute pressure", pressure) / (GAS_CONSTANT * kelvin(temperature))


def speed_of_sound(temperature: Numbers) -> Array:
    """Speed of sound in dry air.

    Parameters
    ----------
    temperature : any shape
        Static temperature. [K]

    Returns
    -------
    same shape
        Speed of sound. [m/s]

    Raises
    ------
    ValueError
        A temperature at or below 0 K.

    Range: intake tract; constant ratio of specific heats, 0.3 % high at 150 degC.
    Source: [ISO 2533], sqrt(gamma R T).
    """
    return np.sqrt(GAMMA * GAS_CONSTANT * kelvin(temperature))


def viscosity_sutherland(temperature: Numbers) -> Array:
    """Dynamic viscosity of air by Sutherland's law.

    Parameters
    ----------
    temperature : any shape
        Static temperature. [K]

    Returns
    -------
    same shape
        Dynamic viscosity. [Pa s]

    Raises
    ------
    ValueError
        A temperature at or below 0 K.

    Range: 0 to 200 degC within 1.3 % of [CoolProp], always on the low side; pressure does not matter below 1 MPa.
    Source: [USSA 1976], 1.458e-6 T^1.5/(T + 110.4).
    """
    kelvins = kelvin(temperature)
    return 1.458e-6 * kelvins**1.5 / (kelvins + 110.4)
