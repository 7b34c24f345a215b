"""Moist air: from temperature, pressure and relative humidity to what an engine breathes.

Saturation pressure first, then vapour and dry-air pressure, humidity ratio and density. The mixture is ideal:
compressibility and the enhancement factor are left out, which makes the density 4e-4 low and the humidity ratio
0.5 % low. Where the humidity is unknown, the caller decides what to assume and how far to widen.
"""

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import fraction, kelvin, positive, within
from pullproof.physics.dry_air import GAS_CONSTANT

__all__ = [
    "VAPOUR_GAS_CONSTANT",
    "density",
    "dry_air_pressure",
    "humidity_ratio",
    "relative_humidity_from_dew_point",
    "saturation_pressure",
    "vapour_pressure",
]

VAPOUR_GAS_CONSTANT = 461.52
"""Specific gas constant of water vapour [J/(kg K)]. Source: [ASHRAE 2017] ch. 1."""

MASS_RATIO = 0.621945
"""Molar mass of water over that of dry air [1]. Source: [ASHRAE 2017] ch. 1 eq. (20)."""

TRIPLE_POINT = 273.16

# [ASHRAE 2017] ch. 1 eq. (5), over ice, and eq. (6), over liquid water: factors of 1/T, 1, T, T2, T3, T4, ln T.
OVER_ICE = (-5.6745359e3, 6.3925247, -9.677843e-3, 6.2215701e-7, 2.0747825e-9, -9.484024e-13, 4.1635019)
OVER_WATER = (-5.8002206e3, 1.3914993, -4.8640239e-2, 4.1764768e-5, -1.4452093e-8, 0.0, 6.5459673)


def saturation_pressure(temperature: Numbers) -> Array:
    """Pressure of water vapour in equilibrium with liquid water, or with ice below the triple point.

    Parameters
    ----------
    temperature : any shape
        Air temperature. [K]

    Returns
    -------
    same shape
        Saturation vapour pressure. [Pa] NaN where the input is NaN.

    Raises
    ------
    ValueError
        A temperature outside -100 to 200 degC, most often degrees Celsius by mistake.

    Range: 173.15 to 473.15 K; between 0 and 45 degC within 0.05 % of the steam tables [IAPWS-95].
    Source: [ASHRAE 2017] ch. 1 eq. (5) and (6).

    >>> round(float(saturation_pressure(298.15)), 1)
    3169.2
    """
    values = within("temperature", kelvin(temperature), 173.15, 473.15, "kelvin are needed")
    ice, water = (_saturation(values, factors) for factors in (OVER_ICE, OVER_WATER))
    return np.where(values < TRIPLE_POINT, ice, water)[()]


def _saturation(temperature: Array, factors: tuple[float, ...]) -> Array:
    inverse, *powers, logarithm = factors
    polynomial = sum(factor * temperature**power for power, factor in enumerate(powers))
    return np.exp(inverse / temperature + polynomial + logarithm * np.log(temperature))


def vapour_pressure(temperature: Numbers, relative_humidity: Numbers) -> Array:
    """Partial pressure of the water vapour in the air.

    Parameters
    ----------
    temperature : broadcastable
        Air temperature. [K]
    relative_humidity : broadcastable
        Relative humidity, as a fraction. [1]

    Returns
    -------
    broadcast shape
        Vapour pressure. [Pa]

    Raises
    ------
    ValueError
        A humidity outside 0 to 1 (per cent by mistake), a temperature outside -100 to 200 degC.

    Range: as `saturation_pressure`.
    Source: [ASHRAE 2017] ch. 1 eq. (22), ideal mixture.
    """
    return fraction("relative humidity", relative_humidity) * saturation_pressure(temperature)


def relative_humidity_from_dew_point(temperature: Numbers, dew_point: Numbers) -> Array:
    """Relative humidity from the dew point that weather stations report.

    Parameters
    ----------
    temperature : broadcastable
        Air temperature. [K]
    dew_point : broadcastable
        Temperature at which the vapour would condense. [K]

    Returns
    -------
    broadcast shape
        Relative humidity, as a fraction. [1]

    Raises
    ------
    ValueError
        A dew point above the air temperature, a temperature outside -100 to 200 degC.

    Range: as `saturation_pressure`.
    Source: [ASHRAE 2017] ch. 1 eq. (36) with eq. (22).
    """
    ratio = saturation_pressure(dew_point) / saturation_pressure(temperature)
    return within("relative humidity", ratio, 0.0, 1.0, "the dew point cannot be above the air temperature")


def dry_air_pressure(pressure: Numbers, temperature: Numbers, relative_humidity: Numbers) -> Array:
    """Pressure of the air without its water vapour: what oxygen and the standard corrections go with.

    Parameters
    ----------
    pressure : broadcastable
        Barometric pressure at the place, not reduced to sea level. [Pa]
    temperature : broadcastable
        Air temperature. [K]
    relative_humidity : broadcastable
        Relative humidity, as a fraction. [1]

    Returns
    -------
    broadcast shape
        Partial pressure of dry air. [Pa]

    Raises
    ------
    ValueError
        A vapour pressure at or above the barometric pressure, or an input that `vapour_pressure` refuses.

    Range: as `saturation_pressure`.
    Source: Dalton's law; [ASHRAE 2017] ch. 1.
    """
    vapour = vapour_pressure(temperature, relative_humidity)
    return positive("pressure of the dry air", positive("barometric pressure", pressure) - vapour)


def humidity_ratio(pressure: Numbers, temperature: Numbers, relative_humidity: Numbers) -> Array:
    """Mass of water vapour per mass of dry air.

    Parameters
    ----------
    pressure : broadcastable
        Barometric pressure at the place. [Pa]
    temperature : broadcastable
        Air temperature. [K]
    relative_humidity : broadcastable
        Relative humidity, as a fraction. [1]

    Returns
    -------
    broadcast shape
        Humidity ratio. [1]

    Raises
    ------
    ValueError
        An input that `dry_air_pressure` refuses.

    Range: as `saturation_pressure`; about 0.5 % low, because the enhancement factor is left out.
    Source: [ASHRAE 2017] ch. 1 eq. (20).
    """
    vapour = vapour_pressure(temperature, relative_humidity)
    return MASS_RATIO * vapour / dry_air_pressure(pressure, temperature, relative_humidity)


def density(pressure: Numbers, temperature: Numbers, relative_humidity: Numbers) -> Array:
    """Density of moist air, as an ideal mixture.

    Parameters
    ----------
    pressure : broadcastable
        Barometric pressure at the place, not reduced to sea level. [Pa]
    temperature : broadcastable
        Air temperature. [K]
    relative_humidity : broadcastable
        Relative humidity, as a fraction. [1]

    Returns
    -------
    broadcast shape
        Density. [kg/m3] NaN where an input is NaN.

    Raises
    ------
    ValueError
        An input that `dry_air_pressure` refuses.

    Range: 0 to 45 degC, 60 to 110 kPa: low by 3e-4 to 6e-4 against [CIPM-2007].
    Source: ideal mixture with the gas constants of [ASHRAE 2017].
    """
    kelvins = kelvin(temperature)
    dry = dry_air_pressure(pressure, temperature, relative_humidity)
    vapour = vapour_pressure(temperature, relative_humidity)
    return dry / (GAS_CONSTANT * kelvins) + vapour / (VAPOUR_GAS_CONSTANT * kelvins)
