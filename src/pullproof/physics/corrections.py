"""Standard power corrections: factors as the standards print them, and whether their limits hold.

A factor converts the *crankshaft* power of an engine whose power follows ambient density to the standard day. It
does not describe a controller that holds absolute charge pressure, and driveline losses do not scale with it. So
nothing here decides to correct: the caller prints the factor together with `within_limits` and `reason`.

The standards reckon temperature as degrees Celsius + 273 and refer to 298, which is kept: with 273.15 in one place
only, the factor would be 1e-4 off.
"""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, positive

__all__ = [
    "Correction",
    "Edition",
    "Induction",
    "fuel_per_swept_volume",
    "iso_1585_compression_ignition",
    "iso_1585_spark_ignition",
    "sae_j1349",
]

Edition = Literal["iso-1585", "un-r85"]
"""Which text gives the exponents for compression ignition; they are not the same."""

Induction = Literal["naturally aspirated", "turbocharged", "turbocharged, liquid-cooled charge air"]

REFERENCE_PRESSURE = 99_000.0
REFERENCE_TEMPERATURE = 298.0

# Exponents of (99 kPa / dry pressure) and (T / 298 K), per edition and kind of induction, from memory.
COMPRESSION_IGNITION: dict[Edition, dict[Induction, tuple[float, float]]] = {
    "iso-1585": {
        "naturally aspirated": (1.0, 0.7),
        "turbocharged": (0.7, 1.2),
        "turbocharged, liquid-cooled charge air": (0.7, 0.7),
    },
    "un-r85": {
        "naturally aspirated": (1.0, 0.7),
        "turbocharged": (0.7, 1.5),
        "turbocharged, liquid-cooled charge air": (0.7, 1.5),
    },
}

# Below and above these fuel rates [mg per litre swept and unit of boost ratio] the engine factor is constant.
ENGINE_FACTOR_ENDS: dict[Edition, tuple[float, float, float, float]] = {
    "iso-1585": (37.2, 0.2, 65.0, 1.2),
    "un-r85": (40.0, 0.3, 65.0, 1.2),
}


@dataclass(frozen=True, slots=True)
class Correction:
    """A factor to multiply crankshaft power with, and whether the standard's own limits hold.

    Attributes
    ----------
    factor : broadcast shape
        Corrected over measured power. [1] NaN where an input is NaN.
    within_limits : broadcast shape
        True where the standard allows its use.
    reason : broadcast shape
        Which limit is passed, as text; empty where none is.
    """

    factor: Array
    within_limits: NDArray[np.bool_]
    reason: NDArray[np.str_]


def _judged(factor: Array, *limits: tuple[str, Array, float, float]) -> Correction:
    """Put the reasons of all limits that are passed into one text."""
    reason = np.where(np.isnan(factor), "pressure or temperature not known", "")
    for what, values, low, high in limits:
        # A limit itself is inside; 15 degC in kelvin minus 0.15 K misses 288 K by a rounding error.
        outside = (values < low * (1.0 - 1e-12)) | (values > high * (1.0 + 1e-12))
        text = np.where(reason == "", what, np.strings.add(np.strings.add(reason, "; "), what))
        reason = np.where(outside, text, reason)
    return Correction(factor, reason == "", reason)


def _standard_temperature(temperature: Numbers) -> Array:
    """Degrees Celsius plus 273, as the standards reckon."""
    return kelvin(temperature) - 0.15


def sae_j1349(dry_pressure: Numbers, temperature: Numbers) -> Correction:
    """Correction factor of SAE J1349, as printed: 1.18 (99/p) (T/298)^0.5 - 0.18.

    Parameters
    ----------
    dry_pressure : broadcastable
        Pressure of the air without its water vapour, see `moist_air.dry_air_pressure`. [Pa]
    temperature : broadcastable
        Temperature of the air at the engine's inlet. [K]

    Returns
    -------
    Correction
        Factor [1], and whether 15 to 35 degC, 90 to 105 kPa and 0.93 to 1.07 hold.

    Raises
    ------
    ValueError
        A pressure or a temperature at or below zero.

    Range: computed everywhere, flagged outside the limits.
    Source: [SAE J1349] (June 1990 text); limits from memory. 0.18 is the standard's own rounding of 85 % mechanical
    efficiency: unrounded, the factor is 2e-4 lower at 1.08.
    """
    pressure, kelvins = positive("dry-air pressure", dry_pressure), _standard_temperature(temperature)
    factor = 1.18 * (REFERENCE_PRESSURE / pressure) * (kelvins / REFERENCE_TEMPERATURE) ** 0.5 - 0.18
    return _judged(
        factor,
        ("air temperature outside 15 to 35 degC", kelvins, 288.0, 308.0),
        ("dry-air pressure outside 90 to 105 kPa", pressure, 90e3, 105e3),
        ("factor outside 0.93 to 1.07", factor, 0.93, 1.07),
    )


def iso_1585_spark_ignition(dry_pressure: Numbers, temperature: Numbers) -> Correction:
    """Correction factor of ISO 1585 and UN R85 for spark ignition: (99/p)^1.2 (T/298)^0.6.

    Parameters
    ----------
    dry_pressure : broadcastable
        Pressure of the air without its water vapour. [Pa]
    temperature : broadcastable
        Temperature of the air at the engine's inlet. [K]

    Returns
    -------
    Correction
        Factor [1], and whether 15 to 35 degC, 80 to 110 kPa and 0.93 to 1.07 hold.

    Raises
    ------
    ValueError
        A pressure or a temperature at or below zero.

    Range: computed everywhere, flagged outside the limits.
    Source: [ISO 1585] and [UN R85]; exponents and limits from memory.
    """
    pressure, kelvins = positive("dry-air pressure", dry_pressure), _standard_temperature(temperature)
    factor = (REFERENCE_PRESSURE / pressure) ** 1.2 * (kelvins / REFERENCE_TEMPERATURE) ** 0.6
    return _judged(
        factor,
        ("air temperature outside 15 to 35 degC", kelvins, 288.0, 308.0),
        ("dry-air pressure outside 80 to 110 kPa", pressure, 80e3, 110e3),
        ("factor outside 0.93 to 1.07", factor, 0.93, 1.07),
    )


def fuel_per_swept_volume(fuel_mass_flow: Numbers, displacement: Numbers, engine_speed: Numbers) -> Array:
    """Fuel of one working cycle per swept volume, four-stroke: q of the compression-ignition correction.

    Parameters
    ----------
    fuel_mass_flow : broadcastable
        Fuel burnt. [kg/s]
    displacement : broadcastable
        Swept volume of all cylinders. [m3]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]

    Returns
    -------
    broadcast shape
        Fuel per cycle and swept volume; 0.001 kg/m3 is the standard's 1 mg per litre and cycle. [kg/m3]

    Raises
    ------
    ValueError
        A negative flow; a displacement or a speed at or below zero.

    Range: four-stroke engines.
    Source: definition in [ISO 1585]; its factor of 120 000 is the same in g/s, litres and rpm.
    """
    cycles_per_second = positive("engine speed", engine_speed) / (4.0 * np.pi)
    swept = positive("displacement", displacement) * cycles_per_second
    return np.asarray(fuel_mass_flow, dtype=np.float64) / swept


def iso_1585_compression_ignition(
    dry_pressure: Numbers,
    temperature: Numbers,
    fuel_per_swept_volume: Numbers,
    boost_ratio: Numbers,
    *,
    induction: Induction,
    edition: Edition,
) -> Correction:
    """Correction factor for compression ignition: f_a^f_m, with the engine factor f_m from the fuel rate.

    Parameters
    ----------
    dry_pressure : broadcastable
        Pressure of the air without its water vapour. [Pa]
    temperature : broadcastable
        Temperature of the air at the engine's inlet. [K]
    fuel_per_swept_volume : broadcastable
        Fuel per cycle and swept volume, see `fuel_per_swept_volume`. [kg/m3]
    boost_ratio : broadcastable
        Absolute charge pressure over ambient pressure; 1 without a charger. [1]
    induction : str
        Kind of induction; it picks the exponents of the atmospheric factor.
    edition : str
        Which text to follow: `iso-1585`, or `un-r85` (also 80/1269/EEC).

    Returns
    -------
    Correction
        Factor [1], and whether 10 to 40 degC, 80 to 110 kPa and 0.9 to 1.1 hold.

    Raises
    ------
    ValueError
        A pressure, temperature, fuel rate or boost ratio at or below zero.

    Range: computed everywhere, flagged outside the limits.
    Source: [ISO 1585] and [UN R85]; f_m = 0.036 q/r - 1.14. Exponents and ends of f_m from memory.
    """
    pressure, kelvins = positive("dry-air pressure", dry_pressure), _standard_temperature(temperature)
    pressure_exponent, temperature_exponent = COMPRESSION_IGNITION[edition][induction]
    atmospheric = (REFERENCE_PRESSURE / pressure) ** pressure_exponent
    atmospheric = atmospheric * (kelvins / REFERENCE_TEMPERATURE) ** temperature_exponent
    milligrams_per_litre = 1e3 * positive("fuel per swept volume", fuel_per_swept_volume)
    rate = milligrams_per_litre / positive("boost ratio", boost_ratio)
    factor = atmospheric ** _engine_factor(rate, edition)
    return _judged(
        factor,
        ("air temperature outside 10 to 40 degC", kelvins, 283.0, 313.0),
        ("dry-air pressure outside 80 to 110 kPa", pressure, 80e3, 110e3),
        ("factor outside 0.9 to 1.1", factor, 0.9, 1.1),
    )


def _engine_factor(rate: Array, edition: Edition) -> Array:
    low, at_low, high, at_high = ENGINE_FACTOR_ENDS[edition]
    sloping = 0.036 * rate - 1.14
    return np.where(rate < low, at_low, np.where(rate > high, at_high, sloping))
