"""Cross-sections of pipes: round, elliptical, flat-sided oval, and a round tube pressed flat.

Friction goes with the hydraulic diameter, velocity with the true area, and fittings of other than round pipe with
the round bore of equal area.
"""

from dataclasses import dataclass

import numpy as np
from scipy.special import ellipe

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import not_negative, positive

__all__ = ["Section", "elliptical", "flattened_round", "round_bore", "stadium"]


@dataclass(frozen=True, slots=True)
class Section:
    """Inside of a pipe, cut square.

    Attributes
    ----------
    area : Array
        Area open to flow. [m2]
    perimeter : Array
        Wetted perimeter. [m]
    """

    area: Array
    perimeter: Array

    @property
    def hydraulic_diameter(self) -> Array:
        """Four times area over perimeter. [m]"""
        return 4.0 * self.area / self.perimeter

    @property
    def equal_area_diameter(self) -> Array:
        """Diameter of the round bore with this area. [m]"""
        return np.sqrt(4.0 * self.area / np.pi)


def round_bore(diameter: Numbers) -> Section:
    """Round pipe.

    Parameters
    ----------
    diameter : any shape
        Inside diameter. [m]

    Returns
    -------
    Section
        Area [m2] and perimeter [m].

    Raises
    ------
    ValueError
        A diameter at or below zero.

    Range: all.
    Source: geometry.
    """
    bore = positive("diameter", diameter)
    return Section(np.pi / 4.0 * bore**2, np.pi * bore)


def elliptical(width: Numbers, height: Numbers) -> Section:
    """Elliptical pipe.

    Parameters
    ----------
    width : broadcastable
        Inside width, one axis. [m]
    height : broadcastable
        Inside height, the other axis. [m]

    Returns
    -------
    Section
        Area [m2] and perimeter [m].

    Raises
    ------
    ValueError
        A width or a height at or below zero.

    Range: all.
    Source: geometry; perimeter by the complete elliptic integral of the second kind.
    """
    sides = positive("width", width), positive("height", height)
    long, short = np.maximum(*sides), np.minimum(*sides)
    return Section(np.pi / 4.0 * long * short, 2.0 * long * ellipe(1.0 - (short / long) ** 2))


def stadium(width: Numbers, height: Numbers) -> Section:
    """Oval with two flat sides and two half-round ends, as a bead roller or a press leaves it.

    Parameters
    ----------
    width : broadcastable
        Inside width over the round ends. [m]
    height : broadcastable
        Inside height between the flats, not above the width. [m]

    Returns
    -------
    Section
        Area [m2] and perimeter [m].

    Raises
    ------
    ValueError
        A width or a height at or below zero, a height above the width.

    Range: all.
    Source: geometry.
    """
    low = positive("height", height)
    flat = not_negative("width less height", positive("width", width) - low)
    return Section(np.pi / 4.0 * low**2 + flat * low, np.pi * low + 2.0 * flat)


def flattened_round(diameter: Numbers, height: Numbers) -> Section:
    """Round tube pressed to a height between flats; the wall keeps its length.

    Parameters
    ----------
    diameter : broadcastable
        Inside diameter before. [m]
    height : broadcastable
        Inside height after, not above the diameter. [m]

    Returns
    -------
    Section
        Area [m2] and perimeter [m].

    Raises
    ------
    ValueError
        A diameter or a height at or below zero, a height above the diameter.

    Range: wall not stretched or buckled.
    Source: geometry: perimeter of the round tube kept, shape of `stadium`.
    """
    bore, low = positive("diameter", diameter), positive("height", height)
    pressed = not_negative("diameter less height", bore - low)
    return stadium(low + np.pi / 2.0 * pressed, low)
