"""The standard atmosphere, and the way from a reported pressure back to the pressure at the place.

Weather services and phones report pressure *reduced to sea level*; an engine breathes the pressure at the place.
Taking one for the other at 500 m is a 6 % error. Pressure altitude and density altitude are display values.
"""

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, positive, within

__all__ = [
    "density",
    "density_altitude",
    "geopotential_altitude",
    "pressure",
    "pressure_altitude",
    "station_pressure_from_altimeter_setting",
    "station_pressure_from_sea_level_pressure",
    "temperature",
]

# [ISO 2533] table 1 and section 2: the constants that define the atmosphere.
SEA_LEVEL_TEMPERATURE = 288.15
SEA_LEVEL_PRESSURE = 101_325.0
LAPSE_RATE = 0.0065
GRAVITY = 9.80665
GAS_CONSTANT = 287.05287
EARTH_RADIUS = 6_356_766.0
EXPONENT = GRAVITY / (GAS_CONSTANT * LAPSE_RATE)


def _within_troposphere(altitude: Numbers) -> Array:
    return within("altitude", altitude, -2_000.0, 11_000.0, "only the lowest layer, up to 11 km, is described here")


def geopotential_altitude(altitude: Numbers) -> Array:
    """Geopotential altitude of a height above sea level; 0.3 m less at 1500 m.

    Parameters
    ----------
    altitude : any shape
        Geometric altitude above sea level. [m]

    Returns
    -------
    same shape
        Geopotential altitude. [m]

    Raises
    ------
    ValueError
        An altitude outside -2 to 11 km.

    Range: -2 to 11 km.
    Source: [ISO 2533] section 2.3, with its earth radius.
    """
    heights = _within_troposphere(altitude)
    return EARTH_RADIUS * heights / (EARTH_RADIUS + heights)


def temperature(altitude: Numbers) -> Array:
    """Temperature of the standard atmosphere.

    Parameters
    ----------
    altitude : any shape
        Geopotential altitude. [m]

    Returns
    -------
    same shape
        Temperature. [K]

    Raises
    ------
    ValueError
        An altitude outside -2 to 11 km.

    Range: -2 to 11 km.
    Source: [ISO 2533].
    """
    return SEA_LEVEL_TEMPERATURE - LAPSE_RATE * _within_troposphere(altitude)


def pressure(altitude: Numbers) -> Array:
    """Pressure of the standard atmosphere.

    Parameters
    ----------
    altitude : any shape
        Geopotential altitude. [m]

    Returns
    -------
    same shape
        Pressure. [Pa]

    Raises
    ------
    ValueError
        An altitude outside -2 to 11 km.

    Range: -2 to 11 km.
    Source: [ISO 2533].

    >>> round(float(pressure(500.0)))
    95461
    """
    return SEA_LEVEL_PRESSURE * (temperature(altitude) / SEA_LEVEL_TEMPERATURE) ** EXPONENT


def density(altitude: Numbers) -> Array:
    """Density of the standard atmosphere.

    Parameters
    ----------
    altitude : any shape
        Geopotential altitude. [m]

    Returns
    -------
    same shape
        Density. [kg/m3]

    Raises
    ------
    ValueError
        An altitude outside -2 to 11 km.

    Range: -2 to 11 km.
    Source: [ISO 2533].
    """
    return pressure(altitude) / (GAS_CONSTANT * temperature(altitude))


def pressure_altitude(pressure: Numbers) -> Array:
    """Altitude at which the standard atmosphere has this pressure: inverse of `pressure`.

    Parameters
    ----------
    pressure : any shape
        Pressure at the place. [Pa]

    Returns
    -------
    same shape
        Geopotential altitude. [m]

    Raises
    ------
    ValueError
        A pressure at or below zero.

    Range: up to 11 km. For display only.
    Source: [ISO 2533], solved for the altitude.
    """
    ratio = positive("pressure", pressure) / SEA_LEVEL_PRESSURE
    return SEA_LEVEL_TEMPERATURE / LAPSE_RATE * (1.0 - ratio ** (1.0 / EXPONENT))


def density_altitude(density: Numbers) -> Array:
    """Altitude at which the standard atmosphere has this density: inverse of `density`.

    Parameters
    ----------
    density : any shape
        Density of the air at the place, humidity included. [kg/m3]

    Returns
    -------
    same shape
        Geopotential altitude. [m]

    Raises
    ------
    ValueError
        A density at or below zero.

    Range: up to 11 km. For display only.
    Source: [ISO 2533], solved for the altitude.
    """
    at_sea_level = SEA_LEVEL_PRESSURE / (GAS_CONSTANT * SEA_LEVEL_TEMPERATURE)
    ratio = positive("density", density) / at_sea_level
    return SEA_LEVEL_TEMPERATURE / LAPSE_RATE * (1.0 - ratio ** (1.0 / (EXPONENT - 1.0)))


def station_pressure_from_altimeter_setting(altimeter_setting: Numbers, altitude: Numbers) -> Array:
    """Pressure at the place from the altimeter setting (QNH) that airfields report.

    Parameters
    ----------
    altimeter_setting : broadcastable
        Pressure reduced to sea level through the standard atmosphere (QNH). [Pa]
    altitude : broadcastable
        Altitude of the place above sea level. [m]

    Returns
    -------
    broadcast shape
        Pressure at the place. [Pa]

    Raises
    ------
    ValueError
        A pressure at or below zero, an altitude outside -2 to 11 km.

    Range: -0.4 to 5 km. The older Smithsonian form is 0.3 hPa higher.
    Source: [ICAO 7488]: the altimeter setting's own pressure altitude, raised by the altitude of the place.
    """
    ratio = positive("altimeter setting", altimeter_setting) / SEA_LEVEL_PRESSURE
    climb = LAPSE_RATE * _within_troposphere(altitude) / SEA_LEVEL_TEMPERATURE
    return SEA_LEVEL_PRESSURE * (ratio ** (1.0 / EXPONENT) - climb) ** EXPONENT


def station_pressure_from_sea_level_pressure(
    sea_level_pressure: Numbers, altitude: Numbers, temperature: Numbers
) -> Array:
    """Pressure at the place from a pressure reduced with the temperature of the day (QFF), as weather maps print.

    Parameters
    ----------
    sea_level_pressure : broadcastable
        Pressure reduced to sea level. [Pa]
    altitude : broadcastable
        Altitude of the place above sea level. [m]
    temperature : broadcastable
        Air temperature at the place. [K]

    Returns
    -------
    broadcast shape
        Pressure at the place. [Pa]

    Raises
    ------
    ValueError
        A pressure or a temperature at or below zero, an altitude outside -2 to 11 km.

    Range: -0.4 to 3 km. Services differ in the temperature that they take; 5 K is 0.1 % at 500 m.
    Source: hydrostatic equation with half the standard lapse over the column of air, as [Hess 1959] section 6.5.
    """
    heights = _within_troposphere(altitude)
    column = kelvin(temperature) + 0.5 * LAPSE_RATE * heights
    return positive("sea-level pressure", sea_level_pressure) * np.exp(-heights * GRAVITY / (GAS_CONSTANT * column))
