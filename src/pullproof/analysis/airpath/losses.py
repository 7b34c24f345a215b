"""Pressure loss along a path over the car's flow: element by element, from the throttle back to the compressor.

The pressure that is known is the one at the end, where boost is measured. So the path is walked against the flow, and
each element adds what it loses. Every loss carries a standard uncertainty; how those add up is said in `spread`.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.analysis.airpath.elements import (
    Bend,
    Cooler,
    Element,
    Entrance,
    Exit,
    Flattened,
    HoseJoint,
    Mitre,
    Oval,
    Pipe,
    Reducer,
    Screen,
    Step,
    Throttle,
)
from pullproof.analysis.airpath.path import AirPath, Side
from pullproof.arrays import Array
from pullproof.physics import bends, charge_cooler, compressible_flow, dry_air, fittings, pipe_flow
from pullproof.physics.loss_coefficient import LossCoefficient, in_series
from pullproof.physics.sections import Section, round_bore

__all__ = ["Air", "ElementLoss", "crowded_bends", "path_losses", "spread", "spread_of_difference"]

FRICTION_DOUBT = 0.08
"""Relative standard uncertainty of friction in straight pipe: chart, roughness, short pieces [common practice]."""

CROWDED_DOUBT = 0.25
"""The same of a bend with less than 10 bores of straight pipe behind it: Miller's charts then move by 40 %."""

CLEAR_BORES = 10.0

COOLER_EXPONENT_DOUBT = 0.1


@dataclass(frozen=True, slots=True)
class Air:
    """The air at the end of the path at each engine speed, SI units, all of one shape."""

    mass_flow: Array
    end_pressure: Array
    temperature: dict[Side, Array]


@dataclass(frozen=True, slots=True)
class ElementLoss:
    """What one element loses, over engine speed. Pressures in Pa.

    `mach` is the largest Mach number in it. Where that passes 0.3 the handbooks end: loss and doubt are NaN there.
    """

    element: Element
    loss: Array
    doubt: Array
    mach: Array
    velocity: Array


def path_losses(path: AirPath, air: Air) -> tuple[ElementLoss, ...]:
    """Loss of every element, in the order of the path.

    Parameters
    ----------
    path : AirPath
        The path.
    air : Air
        What flows through it.
    """
    found: list[ElementLoss] = []
    pressure = air.end_pressure
    crowded = crowded_bends(path.elements)
    for index in range(len(path.elements) - 1, -1, -1):
        element, temperature = path.elements[index], air.temperature[path.sides[index]]
        one = _element_loss(element, air.mass_flow, pressure, temperature, crowded=crowded[index])
        pressure = pressure + one.loss
        found.append(one)
    return tuple(reversed(found))


def spread(losses: Sequence[ElementLoss]) -> Array:
    """Standard uncertainty of the sum of losses. [Pa]

    Half of the variance of an element's doubt is its kind's own (all bends of a path are misjudged together, by the
    same handbook), half is the element's.
    """
    return _combine([(one.element, one.doubt) for one in losses])


def spread_of_difference(before: Sequence[ElementLoss], after: Sequence[ElementLoss]) -> Array:
    """Standard uncertainty of the difference of two sums. [Pa] Elements that both paths share err alike and cancel."""
    left, right = list(before), list(after)
    for one in before:
        twin = next((other for other in right if other.element == one.element), None)
        if twin is not None:
            left.remove(one)
            right.remove(twin)
    same = np.zeros_like(before[0].loss)
    return same + _combine([(one.element, one.doubt) for one in right] + [(one.element, -one.doubt) for one in left])


def _combine(doubts: list[tuple[Element, Array]]) -> Array:
    kinds: dict[type, Array] = {}
    own = np.zeros(())
    for element, doubt in doubts:
        kinds[type(element)] = kinds.get(type(element), np.zeros(())) + doubt
        own = own + doubt**2
    shared = sum((total**2 for total in kinds.values()), start=np.zeros(()))
    return np.sqrt(0.5 * (own + shared))


def _element_loss(
    element: Element, mass_flow: Array, end_pressure: Array, temperature: Array, *, crowded: bool
) -> ElementLoss:
    if isinstance(element, Cooler):
        loss, doubt = _cooler_loss(element, mass_flow, end_pressure, temperature)
        area = round_bore(element.outlet).area
        mach = compressible_flow.mach_number(mass_flow, end_pressure, temperature, area)
    else:
        narrow = _narrowest(element)
        area, mach = narrow.area, compressible_flow.mach_number(mass_flow, end_pressure, temperature, narrow.area)
        slow = np.where(mach <= compressible_flow.LARGEST_MACH_NUMBER, mass_flow, np.nan)
        coefficient = _coefficient(element, slow, end_pressure, temperature)
        start = compressible_flow.upstream_total_pressure(
            coefficient.value, slow, end_pressure, temperature, coefficient.area
        )
        loss = start - end_pressure
        relative = np.maximum(coefficient.doubt, CROWDED_DOUBT) if crowded else coefficient.doubt
        doubt = loss * relative
    velocity = pipe_flow.velocity(mass_flow, dry_air.density(end_pressure, temperature), area)
    return ElementLoss(element, loss, doubt, mach, velocity)


def _cooler_loss(cooler: Cooler, mass_flow: Array, end_pressure: Array, temperature: Array) -> tuple[Array, Array]:
    density = dry_air.density(end_pressure, temperature)
    known = (cooler.known_loss, cooler.known_mass_flow, cooler.known_density)
    loss = charge_cooler.scaled_pressure_loss(mass_flow, density, *known)
    stretched = COOLER_EXPONENT_DOUBT * np.log(np.where(mass_flow > 0.0, mass_flow, np.nan) / cooler.known_mass_flow)
    return loss, loss * np.sqrt(cooler.loss_doubt**2 + stretched**2)


def _narrowest(element: Element) -> Section:
    if isinstance(element, Flattened | Oval):
        return element.section
    return round_bore(min(element.inlet, element.outlet))


def _coefficient(element: Element, mass_flow: Array, pressure: Array, temperature: Array) -> LossCoefficient:
    match element:
        case Pipe() | Oval():
            section = element.section if isinstance(element, Oval) else round_bore(element.diameter)
            return _friction(section, element.length, element.tube.roughness, mass_flow, temperature)
        case Bend():
            bore, roughness = element.diameter, element.tube.roughness
            number, factor = _reynolds_and_friction(round_bore(bore), roughness, mass_flow, temperature)
            return bends.bend_rounded(bore, element.radius, element.angle, factor, number, roughness)
        case Mitre():
            cut = bends.bend_mitre_rennels(element.diameter, element.angle / element.cuts)
            run = _friction(
                round_bore(element.diameter), element.length, element.tube.roughness, mass_flow, temperature
            )
            return in_series(run, *[cut] * element.cuts)
        case HoseJoint():
            return fittings.hose_joint(element.diameter, element.hose_diameter, element.outlet_diameter)
        case Reducer():
            narrow = _narrowest(element)
            _, factor = _reynolds_and_friction(narrow, element.tube.roughness, mass_flow, temperature)
            return fittings.conical_change_rennels(element.inlet, element.outlet, element.length, factor)
        case Step():
            return fittings.sudden_change_rennels(element.inlet, element.outlet)
        case Flattened():
            return _flattened(element, mass_flow, temperature)
        case Screen():
            return _screen(element, mass_flow, pressure, temperature)
        case Throttle():
            if element.edge_radius > 0.0 and element.outlet < element.inlet:
                return fittings.rounded_contraction_rennels(element.inlet, element.outlet, element.edge_radius)
            return fittings.sudden_change_rennels(element.inlet, element.outlet)
        case Entrance():
            if element.edge_radius > 0.0:
                return fittings.entrance_rounded_rennels(element.diameter, element.edge_radius)
            return fittings.entrance_sharp(element.diameter)
        case Exit():
            return fittings.exit_loss(element.diameter)
        case Cooler():
            raise TypeError("a cooler has a known loss, not a coefficient")


def _reynolds_and_friction(
    section: Section, roughness: float, mass_flow: Array, temperature: Array
) -> tuple[Array, Array]:
    hydraulic = section.hydraulic_diameter
    viscosity = dry_air.viscosity_sutherland(temperature)
    moving = np.where(mass_flow > 0.0, mass_flow, np.nan)
    number = pipe_flow.reynolds_number(moving, hydraulic, section.area, viscosity)
    return number, pipe_flow.friction_factor(number, roughness / hydraulic)


def _friction(
    section: Section, length: float, roughness: float, mass_flow: Array, temperature: Array
) -> LossCoefficient:
    _, factor = _reynolds_and_friction(section, roughness, mass_flow, temperature)
    heads = pipe_flow.pipe_coefficient(factor, length, section.hydraulic_diameter)
    return LossCoefficient(heads, section.area, np.asarray(FRICTION_DOUBT))


def _flattened(element: Flattened, mass_flow: Array, temperature: Array) -> LossCoefficient:
    """In, along, and out again; the ends as cones between bores of equal area, or as steps without transition."""
    section = element.section
    narrow = float(section.equal_area_diameter)
    run = _friction(section, element.flat, element.tube.roughness, mass_flow, temperature)
    if element.transition == 0.0:
        ends = [
            fittings.sudden_change_rennels(element.diameter, narrow),
            fittings.sudden_change_rennels(narrow, element.diameter),
        ]
    else:
        _, factor = _reynolds_and_friction(section, element.tube.roughness, mass_flow, temperature)
        ends = [
            fittings.conical_change_rennels(*bores, element.transition, factor)
            for bores in ((element.diameter, narrow), (narrow, element.diameter))
        ]
    return in_series(run, *ends)


def _screen(element: Screen, mass_flow: Array, pressure: Array, temperature: Array) -> LossCoefficient:
    if element.opening is None:
        return fittings.perforated_plate_blevins(element.diameter, element.open_fraction)
    density = dry_air.density(pressure, temperature)
    speed = pipe_flow.velocity(mass_flow, density, round_bore(element.diameter).area)
    kinematic = dry_air.viscosity_sutherland(temperature) / density
    return fittings.wire_screen_blevins(element.diameter, element.open_fraction, element.opening, speed, kinematic)


def crowded_bends(elements: Sequence[Element]) -> list[bool]:
    """Which bends have less than 10 bores of straight pipe before the next thing that turns or disturbs the flow."""
    crowded = []
    for index, element in enumerate(elements):
        straight = 0.0
        for behind in elements[index + 1 :]:
            if not isinstance(behind, Pipe):
                break
            straight += behind.length
        else:
            straight = np.inf  # Nothing follows that could be disturbed.
        crowded.append(isinstance(element, Bend | Mitre) and straight < CLEAR_BORES * element.diameter)
    return crowded
