"""Loss coefficients of steps, cones, hose joints, screens and ends; bends have a module of their own.

Every function returns a `LossCoefficient`: the number of velocity heads, the area that the velocity belongs to, and
how far handbooks disagree. The correlations are the `fluids` library's; the basis, the doubt and the ranges are
added here. Handbook fittings are new, round and far apart: a hand-made pipe is worse known than any of them.
"""

import fluids.filters
import fluids.fittings
import numpy as np

from pullproof.arrays import Numbers
from pullproof.physics.domain import positive, within
from pullproof.physics.elementwise import each
from pullproof.physics.loss_coefficient import FITTING_DOUBT, LossCoefficient, fitting, in_series
from pullproof.physics.sections import round_bore

__all__ = [
    "conical_change_rennels",
    "entrance_rounded_rennels",
    "entrance_sharp",
    "exit_loss",
    "hose_joint",
    "perforated_plate_blevins",
    "rounded_contraction_rennels",
    "sudden_change_rennels",
    "wire_screen_blevins",
]

SCREEN_DOUBT = 0.25


def sudden_change_rennels(diameter: Numbers, outlet_diameter: Numbers) -> LossCoefficient:
    """Step from one bore to another, square edge: wider is Borda and Carnot's loss, narrower is Rennels and Hudson's.

    Parameters
    ----------
    diameter : broadcastable
        Bore before the step. [m]
    outlet_diameter : broadcastable
        Bore behind it. [m]

    Returns
    -------
    LossCoefficient
        On the smaller bore.

    Raises
    ------
    ValueError
        A diameter at or below zero.

    Range: turbulent flow, long pipes on both sides.
    Source: [Rennels] ch. 10 and 11 by `fluids.fittings.diffuser_sharp` and `contraction_sharp`.
    """
    before, behind = positive("diameter", diameter), positive("outlet diameter", outlet_diameter)
    value = each(
        lambda d1, d2: (
            fluids.fittings.diffuser_sharp(d1, d2) if d2 >= d1 else fluids.fittings.contraction_sharp(d1, d2)
        ),
        before,
        behind,
    )
    # The momentum balance makes a sudden widening the best known loss of all; 8 % covers uneven velocity profiles.
    doubt = np.where(behind >= before, 0.08, FITTING_DOUBT)
    return fitting(value, np.minimum(before, behind), doubt)


def rounded_contraction_rennels(diameter: Numbers, outlet_diameter: Numbers, edge_radius: Numbers) -> LossCoefficient:
    """Step to a smaller bore with a rounded edge, such as the mouth of a throttle body.

    Parameters
    ----------
    diameter : broadcastable
        Bore before the step. [m]
    outlet_diameter : broadcastable
        Bore behind it, not larger. [m]
    edge_radius : broadcastable
        Radius of the edge. [m]

    Returns
    -------
    LossCoefficient
        On the smaller bore.

    Raises
    ------
    ValueError
        A diameter or a radius at or below zero, a larger bore behind.

    Range: turbulent flow; a radius above 0.14 of the smaller bore prevents separation.
    Source: [Rennels] ch. 10 by `fluids.fittings.contraction_round`.
    """
    before, behind = positive("diameter", diameter), positive("outlet diameter", outlet_diameter)
    within("bore behind over bore before", behind / before, 0.0, 1.0, "an edge is rounded where the pipe gets narrower")
    radius = np.minimum(positive("edge radius", edge_radius), behind)
    value = each(lambda d1, d2, rc: fluids.fittings.contraction_round(d1, d2, rc), before, behind, radius)
    return fitting(value, behind)


def conical_change_rennels(
    diameter: Numbers, outlet_diameter: Numbers, length: Numbers, friction_factor: Numbers
) -> LossCoefficient:
    """Reducer: cone from one bore to another; friction along it is inside.

    Parameters
    ----------
    diameter : broadcastable
        Bore before the cone. [m]
    outlet_diameter : broadcastable
        Bore behind it. [m]
    length : broadcastable
        Length of the cone. [m]
    friction_factor : broadcastable
        Darcy friction factor. [1]

    Returns
    -------
    LossCoefficient
        On the smaller bore.

    Raises
    ------
    ValueError
        A diameter, a length or a friction factor at or below zero.

    Range: turbulent flow. Widening cones of 40 to 120 degrees can lose more than a square step.
    Source: [Rennels] ch. 10 and 11 by `fluids.fittings.diffuser_conical` and `contraction_conical`.
    """
    before, behind = positive("diameter", diameter), positive("outlet diameter", outlet_diameter)
    value = each(_conical, before, behind, positive("length", length), positive("friction factor", friction_factor))
    return fitting(value, np.minimum(before, behind))


def _conical(before: float, behind: float, length: float, friction: float) -> float:
    if before == behind:
        return friction * length / before
    change = fluids.fittings.diffuser_conical if behind > before else fluids.fittings.contraction_conical
    return float(change(before, behind, l=length, fd=friction, method="Rennels"))


def hose_joint(diameter: Numbers, hose_diameter: Numbers, outlet_diameter: Numbers) -> LossCoefficient:
    """Hose over two pipe ends with a gap between them: the air steps out into the hose and in again.

    Parameters
    ----------
    diameter : broadcastable
        Bore of the pipe before. [m]
    hose_diameter : broadcastable
        Bore of the hose, which is the outside diameter of the pipe; smaller where a clamp or a bead squeezes it. [m]
    outlet_diameter : broadcastable
        Bore of the pipe behind. [m]

    Returns
    -------
    LossCoefficient
        On the bore of the pipe before.

    Raises
    ------
    ValueError
        A diameter at or below zero.

    Range: a gap of several wall thicknesses; pipe ends that touch lose less. No handbook covers it: a doubt of 30 %
    stands for that.
    Source: two steps in series, [Rennels] ch. 10 and 11.
    """
    both = in_series(
        sudden_change_rennels(diameter, hose_diameter).on(round_bore(diameter).area),
        sudden_change_rennels(hose_diameter, outlet_diameter),
    )
    return LossCoefficient(both.value, both.area, np.maximum(2.0 * FITTING_DOUBT, both.doubt))


def wire_screen_blevins(
    diameter: Numbers, open_fraction: Numbers, opening: Numbers, velocity: Numbers, kinematic_viscosity: Numbers
) -> LossCoefficient:
    """Screen of round wires across the pipe.

    Parameters
    ----------
    diameter : broadcastable
        Bore of the pipe. [m]
    open_fraction : broadcastable
        Open area over area of the pipe. [1]
    opening : broadcastable
        Clear distance between wires. [m]
    velocity : broadcastable
        Velocity in the pipe. [m/s]
    kinematic_viscosity : broadcastable
        Viscosity over density. [m2/s]

    Returns
    -------
    LossCoefficient
        On the bore of the pipe.

    Raises
    ------
    ValueError
        A diameter, opening or viscosity at or below zero, an open fraction outside 0.05 to 0.95.

    Range: open fractions of 0.05 to 0.8 in the handbook, carried on to 0.95; a clean screen.
    Source: [Blevins] by `fluids.filters.round_edge_screen`.
    """
    opened = within("open fraction", open_fraction, 0.05, 0.95, "a fraction is needed; measure what is outside")
    through = np.asarray(velocity, dtype=np.float64) / opened
    number = through * positive("opening", opening) / positive("kinematic viscosity", kinematic_viscosity)
    value = each(lambda a, re: fluids.filters.round_edge_screen(a, re), opened, number)
    return fitting(value, diameter, SCREEN_DOUBT)


def perforated_plate_blevins(diameter: Numbers, open_fraction: Numbers) -> LossCoefficient:
    """Plate with square-edged holes across the pipe.

    Parameters
    ----------
    diameter : broadcastable
        Bore of the pipe. [m]
    open_fraction : broadcastable
        Open area over area of the pipe. [1]

    Returns
    -------
    LossCoefficient
        On the bore of the pipe.

    Raises
    ------
    ValueError
        A diameter at or below zero, an open fraction outside 0.05 to 1.

    Range: turbulent flow through the holes.
    Source: [Blevins] by `fluids.filters.square_edge_screen`.
    """
    opened = within("open fraction", open_fraction, 0.05, 1.0, "a fraction is needed; measure what is outside")
    return fitting(each(fluids.filters.square_edge_screen, opened), diameter, SCREEN_DOUBT)


def entrance_sharp(diameter: Numbers) -> LossCoefficient:
    """Square-edged entrance, flush with a wall, out of still air.

    Parameters
    ----------
    diameter : any shape
        Bore. [m]

    Returns
    -------
    LossCoefficient
        0.57 on the bore; 0.50 by Crane, inside the doubt.

    Raises
    ------
    ValueError
        A diameter at or below zero.

    Range: turbulent flow.
    Source: [Rennels] ch. 9 by `fluids.fittings.entrance_sharp`.
    """
    return fitting(fluids.fittings.entrance_sharp(method="Rennels"), diameter)


def entrance_rounded_rennels(diameter: Numbers, edge_radius: Numbers) -> LossCoefficient:
    """Rounded entrance, flush with a wall, out of still air.

    Parameters
    ----------
    diameter : broadcastable
        Bore. [m]
    edge_radius : broadcastable
        Radius of the edge. [m]

    Returns
    -------
    LossCoefficient
        On the bore.

    Raises
    ------
    ValueError
        A diameter or a radius at or below zero.

    Range: turbulent flow; constant from a radius of one bore up.
    Source: [Rennels] ch. 9 by `fluids.fittings.entrance_rounded`.
    """
    bore, radius = positive("diameter", diameter), positive("edge radius", edge_radius)
    value = each(lambda d, rc: fluids.fittings.entrance_rounded(d, rc, method="Rennels"), bore, radius)
    return fitting(value, bore)


def exit_loss(diameter: Numbers) -> LossCoefficient:
    """Exit into still air or a plenum: the whole velocity head.

    Parameters
    ----------
    diameter : any shape
        Bore. [m]

    Returns
    -------
    LossCoefficient
        1 on the bore.

    Raises
    ------
    ValueError
        A diameter at or below zero.

    Range: all.
    Source: [Rennels] ch. 12; [Crane TP-410] page A-30.
    """
    return fitting(1.0, diameter, 0.05)
