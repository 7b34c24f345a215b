"""Ambient air of the simulation: what is breathed, and weather as it falls on sites and days.

Saturation pressure is the Magnus form (WMO No. 8), deliberately another one than a reader of logs would pick.
"""

from dataclasses import dataclass

import numpy as np

from validation.batches import Array

__all__ = ["GAS_CONSTANT", "Air", "density", "oxygen_share", "site_pressure", "vapour_share"]

GAS_CONSTANT = 287.05
"""Specific gas constant of dry air. [J/(kg K)]"""


@dataclass(frozen=True, slots=True)
class Air:
    """Ambient air, one row a pull: temperature [K], pressure [Pa], relative humidity [1]."""

    temperature: Array
    pressure: Array
    humidity: Array


def vapour_share(air: Air) -> Array:
    """Mass of water vapour in a kilogram of moist air. [1]"""
    celsius = air.temperature - 273.15
    saturation = 611.2 * np.exp(17.62 * celsius / (243.12 + celsius))
    vapour = air.humidity * saturation
    ratio = 0.622 * vapour / (air.pressure - vapour)
    return ratio / (1.0 + ratio)


def oxygen_share(air: Air) -> Array:
    """Mass of dry air in a kilogram of moist air. [1]"""
    return 1.0 - vapour_share(air)


def density(air: Air) -> Array:
    """Density of the moist air. [kg/m3]"""
    return air.pressure / (GAS_CONSTANT * (1.0 + 0.608 * vapour_share(air)) * air.temperature)


def site_pressure(altitude: Array) -> Array:
    """Mean pressure at an altitude [m], standard atmosphere. [Pa]"""
    return 101_325.0 * (1.0 - 2.25577e-5 * altitude) ** 5.25588
