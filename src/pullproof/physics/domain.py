"""What a physical quantity cannot be: one check for each kind, so that a wrong unit stops at the door.

NaN passes every check and comes out as NaN. A value that is impossible in any unit system of ours raises
ValueError; the sentence names the likely slip, which is nearly always a unit.
"""

import numpy as np

from pullproof.arrays import Array, Numbers

__all__ = ["fraction", "kelvin", "not_negative", "positive", "within"]


def kelvin(temperature: Numbers) -> Array:
    """Absolute temperatures as an array.

    Parameters
    ----------
    temperature : any shape
        Absolute temperature. [K]

    Raises
    ------
    ValueError
        A temperature at or below 0 K, most often degrees Celsius by mistake.
    """
    values = np.asarray(temperature, dtype=np.float64)
    if np.any(values <= 0):
        raise ValueError(f"temperature of {np.nanmin(values):g} K: absolute kelvin are needed, not degrees Celsius")
    return values


def positive(what: str, values: Numbers) -> Array:
    """Numbers above zero as an array.

    Raises
    ------
    ValueError
        A value at or below zero.
    """
    numbers = np.asarray(values, dtype=np.float64)
    if np.any(numbers <= 0):
        raise ValueError(f"{what} must be above zero, not {np.nanmin(numbers):g}")
    return numbers


def not_negative(what: str, values: Numbers) -> Array:
    """Numbers at or above zero as an array.

    Raises
    ------
    ValueError
        A value below zero.
    """
    numbers = np.asarray(values, dtype=np.float64)
    if np.any(numbers < 0):
        raise ValueError(f"{what} must not be negative, but is {np.nanmin(numbers):g}")
    return numbers


def fraction(what: str, values: Numbers) -> Array:
    """Numbers from 0 to 1 as an array.

    Raises
    ------
    ValueError
        A value outside 0 to 1, most often per cent by mistake.
    """
    return within(what, values, 0.0, 1.0, "a fraction is needed, not per cent")


def within(what: str, values: Numbers, low: float, high: float, hint: str) -> Array:
    """Numbers from `low` to `high`, both included, as an array.

    Raises
    ------
    ValueError
        A value outside; the sentence ends with `hint`.
    """
    numbers = np.asarray(values, dtype=np.float64)
    outside = numbers[(numbers < low) | (numbers > high)]
    if outside.size:
        raise ValueError(f"{what} of {outside.flat[0]:g} is outside {low:g} to {high:g}: {hint}")
    return numbers
