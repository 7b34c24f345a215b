"""Bends: smooth and mitred, by the handbooks that compete, and by one value with their distance as its doubt.

The correlations are the `fluids` library's. Bends closer than 10 diameters disturb one another: a second bend 2
diameters behind lowers Miller's coefficient by 40 %. No handbook covers a hand-made pipe.
"""

import fluids.fittings
import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import positive, within
from pullproof.physics.elementwise import each
from pullproof.physics.loss_coefficient import FITTING_DOUBT, LossCoefficient, fitting

__all__ = [
    "bend_mitre_rennels",
    "bend_rounded",
    "bend_rounded_crane",
    "bend_rounded_miller",
    "bend_rounded_rennels",
]


def bend_rounded(
    diameter: Numbers,
    bend_radius: Numbers,
    bend_angle: Numbers,
    friction_factor: Numbers,
    reynolds_number: Numbers,
    roughness: Numbers,
) -> LossCoefficient:
    """Smooth bend: Rennels and Hudson's value, with the distance to Crane and Miller as its doubt.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    bend_radius : broadcastable
        Radius of the centre line. [m]
    bend_angle : broadcastable
        Angle through which the flow is turned. [rad]
    friction_factor : broadcastable
        Darcy friction factor. [1]
    reynolds_number : broadcastable
        Reynolds number. [1]
    roughness : broadcastable
        Height of the roughness. [m]

    Returns
    -------
    LossCoefficient
        On the bore; its doubt is 15 %, or half the largest distance between the methods where that is more.

    Raises
    ------
    ValueError
        As the three methods.

    Range: centre-line radius of half a bore and more, 0 to 180 degrees; a long straight length behind.
    Source: [Rennels] ch. 15, [Crane TP-410], [Miller] ch. 9.
    """
    rennels = bend_rounded_rennels(diameter, bend_radius, bend_angle, friction_factor)
    crane = bend_rounded_crane(diameter, bend_radius, bend_angle)
    tail = 30.0 * np.asarray(diameter, dtype=np.float64)
    miller = bend_rounded_miller(diameter, bend_radius, bend_angle, reynolds_number, roughness, tail)
    # Miller's charts begin at 10 degrees, and Crane's rule is for quarter turns and what comes near: below those
    # angles there is nothing to compare with. Half the distance as a standard uncertainty spans it at 95 %.
    quarter_like = np.asarray(bend_angle, dtype=np.float64) >= np.radians(30.0)
    to_crane = np.where(quarter_like, np.abs(crane.value - rennels.value), 0.0)
    distance = np.fmax(to_crane, np.abs(miller.value - rennels.value))
    doubt = np.maximum(FITTING_DOUBT, 0.5 * distance / np.where(rennels.value > 0.0, rennels.value, np.inf))
    return LossCoefficient(rennels.value, rennels.area, doubt)


def bend_rounded_rennels(
    diameter: Numbers, bend_radius: Numbers, bend_angle: Numbers, friction_factor: Numbers
) -> LossCoefficient:
    """Smooth bend by Rennels and Hudson; the friction along the arc is inside.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    bend_radius : broadcastable
        Radius of the centre line. [m]
    bend_angle : broadcastable
        Angle through which the flow is turned. [rad]
    friction_factor : broadcastable
        Darcy friction factor. [1]

    Returns
    -------
    LossCoefficient
        On the bore.

    Raises
    ------
    ValueError
        A radius below half the bore, an angle above a half turn, a factor at or below zero.

    Range: centre-line radius of half a bore and more, 0 to 180 degrees.
    Source: [Rennels] ch. 15 by `fluids.fittings.bend_rounded`.
    """
    bore, ratio, degrees = _bend(diameter, bend_radius, bend_angle)
    friction = positive("friction factor", friction_factor)
    value = each(
        lambda d, r, a, f: fluids.fittings.bend_rounded(Di=d, angle=a, fd=f, bend_diameters=r, method="Rennels"),
        bore,
        ratio,
        degrees,
        friction,
    )
    return fitting(value, bore)


def bend_rounded_crane(diameter: Numbers, bend_radius: Numbers, bend_angle: Numbers) -> LossCoefficient:
    """Smooth bend by Crane, in clean commercial steel; nearly always on the high side for drawn tube.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    bend_radius : broadcastable
        Radius of the centre line. [m]
    bend_angle : broadcastable
        Angle through which the flow is turned. [rad]

    Returns
    -------
    LossCoefficient
        On the bore.

    Raises
    ------
    ValueError
        A radius below half the bore, an angle above a half turn.

    Range: centre-line radius of one bore and more.
    Source: [Crane TP-410] page A-30 by `fluids.fittings.bend_rounded`.
    """
    bore, ratio, degrees = _bend(diameter, bend_radius, bend_angle)
    value = each(
        lambda d, r, a: fluids.fittings.bend_rounded(Di=d, angle=a, bend_diameters=r, method="Crane"),
        bore,
        ratio,
        degrees,
    )
    return fitting(value, bore)


def bend_rounded_miller(
    diameter: Numbers,
    bend_radius: Numbers,
    bend_angle: Numbers,
    reynolds_number: Numbers,
    roughness: Numbers,
    outlet_length: Numbers,
) -> LossCoefficient:
    """Smooth bend by Miller's charts, which know the straight length behind the bend.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    bend_radius : broadcastable
        Radius of the centre line. [m]
    bend_angle : broadcastable
        Angle through which the flow is turned. [rad]
    reynolds_number : broadcastable
        Reynolds number. [1]
    roughness : broadcastable
        Height of the roughness. [m]
    outlet_length : broadcastable
        Straight length behind the bend. [m]

    Returns
    -------
    LossCoefficient
        On the bore. NaN outside the charts.

    Raises
    ------
    ValueError
        A radius below half the bore, an angle above a half turn, a Reynolds number at or below zero.

    Range: centre-line radius of 0.5 to 10 bores, 10 to 180 degrees, Reynolds numbers of 1e4 to 1e8.
    Source: [Miller] ch. 9 by `fluids.fittings.bend_rounded`.
    """
    bore, ratio, degrees = _bend(diameter, bend_radius, bend_angle)
    value = each(
        lambda d, r, a, number, rough, tail: fluids.fittings.bend_rounded_Miller(
            Di=d, angle=a, Re=number, bend_diameters=r, roughness=rough, L_unimpeded=tail
        ),
        bore,
        ratio,
        degrees,
        positive("Reynolds number", reynolds_number),
        roughness,
        outlet_length,
    )
    charted = (ratio <= 10.0) & (degrees >= 10.0) & (np.asarray(reynolds_number) >= 1e4)
    return fitting(np.where(charted, value, np.nan)[()], bore)


def bend_mitre_rennels(diameter: Numbers, bend_angle: Numbers) -> LossCoefficient:
    """Mitre: pipe cut and welded at one joint.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    bend_angle : broadcastable
        Angle through which the flow is turned. [rad]

    Returns
    -------
    LossCoefficient
        On the bore.

    Raises
    ------
    ValueError
        A diameter at or below zero, an angle above 150 degrees.

    Range: 0 to 150 degrees in one cut; two cuts of half the angle far apart lose about half.
    Source: [Rennels] ch. 15 by `fluids.fittings.bend_miter`.
    """
    angle = within("bend angle", bend_angle, 0.0, np.radians(150.0) + 1e-9, "radians are needed, up to 150 degrees")
    value = each(lambda a: fluids.fittings.bend_miter(angle=a, method="Rennels"), np.degrees(angle))
    return fitting(value, diameter)


def _bend(diameter: Numbers, bend_radius: Numbers, bend_angle: Numbers) -> tuple[Array, Array, Array]:
    """Checked bore, radius in bores, and angle in degrees."""
    bore = positive("diameter", diameter)
    ratio = within(
        "bend radius over bore", positive("bend radius", bend_radius) / bore, 0.5, 50.0, "see mitre for sharp"
    )
    angle = within("bend angle", bend_angle, 0.0, np.pi, "radians are needed, up to a half turn")
    return bore, ratio, np.degrees(angle)
