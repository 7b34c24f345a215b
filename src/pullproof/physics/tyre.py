"""The tyre: from the size moulded on its wall to the distance that it rolls."""

import re

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import positive

__all__ = ["ROLLING_FACTOR", "nominal_diameter", "road_speed", "rolling_radius"]

ROLLING_FACTOR = 3.05
"""Rolling circumference over nominal diameter of a radial tyre at 60 km/h [1]. Source: [ETRTO], from memory.

It is 2.9 % less than pi because the tyre is flattened under load. Growth with speed, wear (5 mm of tread is 1.6 %)
and temperature come on top: a ratio calibrated on a satellite speed is better where there is one.
"""

_SIZE = re.compile(
    r"(?:P|LT)?(\d{3})/(\d{2,3})\s*-?\s*Z?(?:R|RF|-)?\s*(\d{2}(?:\.5)?)C?(?:\s+\(?\d{2,3}.*)?", re.IGNORECASE
)


def nominal_diameter(size: str) -> float:
    """Diameter of an unloaded new tyre from its size, such as `235/35R19`.

    Parameters
    ----------
    size : str
        Section width in mm, aspect ratio in per cent, rim diameter in inches; load and speed marks may follow.

    Returns
    -------
    float
        Nominal outside diameter. [m]

    Raises
    ------
    ValueError
        The text is not a metric tyre size.

    Range: metric sizes; production tolerance of the real diameter is about 1 %.
    Source: [ISO 4000-1]: twice the section height plus the rim, with 25.4 mm to the inch.

    >>> round(nominal_diameter("235/35R19"), 4)
    0.6471
    """
    match = _SIZE.fullmatch(size.strip())
    if match is None:
        raise ValueError(f'"{size}" is not a tyre size: write it as on the wall, for example 235/35R19')
    width, aspect, rim = (float(part) for part in match.groups())
    if not (100 <= width <= 450 and 20 <= aspect <= 100 and 10 <= rim <= 26):
        raise ValueError(f'"{size}" is no road tyre: width 100 to 450 mm, aspect 20 to 100 %, rim 10 to 26 inches')
    return 2e-3 * width * aspect / 100.0 + 0.0254 * rim


def rolling_radius(size: str) -> float:
    """Effective radius: road speed over the wheel's angular speed, rolling freely.

    Parameters
    ----------
    size : str
        Tyre size, as in `nominal_diameter`.

    Returns
    -------
    float
        Rolling radius. [m]

    Raises
    ------
    ValueError
        The text is not a metric tyre size.

    Range: radial tyres near 60 km/h, within 1.5 %; under power a driven wheel slips 1 to 5 % on top.
    Source: [ETRTO], rolling circumference of 3.05 nominal diameters, from memory.
    """
    return ROLLING_FACTOR * nominal_diameter(size) / (2.0 * np.pi)


def road_speed(engine_speed: Numbers, overall_ratio: Numbers, radius: Numbers) -> Array:
    """Road speed of a driven wheel that does not slip, with the clutch closed.

    Parameters
    ----------
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]
    overall_ratio : broadcastable
        Gear ratio times final drive. [1]
    radius : broadcastable
        Rolling radius. [m]

    Returns
    -------
    broadcast shape
        Road speed. [m/s]

    Raises
    ------
    ValueError
        A ratio or a radius at or below zero.

    Range: no slip in clutch, converter or tyre.
    Source: definition.
    """
    gearing = positive("rolling radius", radius) / positive("overall ratio", overall_ratio)
    return np.asarray(engine_speed, dtype=np.float64) * gearing
