"""Air flow in pipes at low speed: velocity, Reynolds number, friction, the loss of a straight pipe, filling.

The friction factor is Darcy's, four times Fanning's. Where the loss is more than 1 % of the pressure the air's
expansion counts, see `compressible_flow`.
"""

import fluids.friction
import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, not_negative, positive, within
from pullproof.physics.dry_air import GAS_CONSTANT
from pullproof.physics.elementwise import each

__all__ = [
    "fill_mass",
    "fill_time",
    "friction_factor",
    "incompressible_loss",
    "pipe_coefficient",
    "reynolds_number",
    "velocity",
]


def velocity(mass_flow: Numbers, density: Numbers, area: Numbers) -> Array:
    """Mean velocity.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    density : broadcastable
        Static density. [kg/m3]
    area : broadcastable
        Area open to flow. [m2]

    Returns
    -------
    broadcast shape
        Velocity. [m/s]

    Raises
    ------
    ValueError
        A density or an area at or below zero, a negative flow.

    Range: all.
    Source: continuity.
    """
    return not_negative("mass flow", mass_flow) / (positive("density", density) * positive("area", area))


def reynolds_number(mass_flow: Numbers, hydraulic_diameter: Numbers, area: Numbers, viscosity: Numbers) -> Array:
    """Reynolds number.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    hydraulic_diameter : broadcastable
        Four times area over perimeter. [m]
    area : broadcastable
        Area open to flow. [m2]
    viscosity : broadcastable
        Dynamic viscosity. [Pa s]

    Returns
    -------
    broadcast shape
        Reynolds number. [1]

    Raises
    ------
    ValueError
        A diameter, area or viscosity at or below zero, a negative flow.

    Range: all.
    Source: definition, [Crane TP-410] ch. 1.
    """
    flux = not_negative("mass flow", mass_flow) / positive("area", area)
    return flux * positive("hydraulic diameter", hydraulic_diameter) / positive("viscosity", viscosity)


def friction_factor(reynolds_number: Numbers, relative_roughness: Numbers) -> Array:
    """Darcy friction factor: Colebrook's equation solved, laminar below a Reynolds number of 2040.

    Parameters
    ----------
    reynolds_number : broadcastable
        Reynolds number. [1]
    relative_roughness : broadcastable
        Height of the roughness over hydraulic diameter. [1]

    Returns
    -------
    broadcast shape
        Darcy friction factor. [1]

    Raises
    ------
    ValueError
        A Reynolds number at or below zero, a roughness outside 0 to 0.05.

    Range: fully developed flow; between 2040 and 4000 no factor is sure. Chart and formula are good to 5 to 10 %.
    Source: [Colebrook 1939] by `fluids.friction.friction_factor`.
    """
    number = positive("Reynolds number", reynolds_number)
    roughness = within("relative roughness", relative_roughness, 0.0, 0.05, "metres over metres are needed")
    return each(lambda re, rough: fluids.friction.friction_factor(Re=re, eD=rough), number, roughness)


def pipe_coefficient(friction_factor: Numbers, length: Numbers, hydraulic_diameter: Numbers) -> Array:
    """Loss coefficient of a straight pipe, f L/D.

    Parameters
    ----------
    friction_factor : broadcastable
        Darcy friction factor. [1]
    length : broadcastable
        Length of the pipe. [m]
    hydraulic_diameter : broadcastable
        Four times area over perimeter. [m]

    Returns
    -------
    broadcast shape
        Loss coefficient on the pipe's own area. [1]

    Raises
    ------
    ValueError
        A factor or a diameter at or below zero, a negative length.

    Range: constant section.
    Source: Darcy and Weisbach, [Crane TP-410] eq. (1-4).
    """
    lengths = not_negative("length", length) / positive("hydraulic diameter", hydraulic_diameter)
    return positive("friction factor", friction_factor) * lengths


def incompressible_loss(coefficient: Numbers, mass_flow: Numbers, density: Numbers, area: Numbers) -> Array:
    """Total-pressure loss at constant density.

    Parameters
    ----------
    coefficient : broadcastable
        Loss coefficient on this area. [1]
    mass_flow : broadcastable
        Air through the pipe. [kg/s]
    density : broadcastable
        Density. [kg/m3]
    area : broadcastable
        The area that the coefficient is based on. [m2]

    Returns
    -------
    broadcast shape
        Loss. [Pa]

    Raises
    ------
    ValueError
        A density or an area at or below zero, a negative flow or coefficient.

    Range: losses below 1 % of the pressure; above, 1 to 4 % low, see `compressible_flow`.
    Source: [Crane TP-410] eq. (2-2), K rho V^2/2.
    """
    heads = not_negative("loss coefficient", coefficient)
    return heads * 0.5 * positive("density", density) * velocity(mass_flow, density, area) ** 2


def fill_mass(volume: Numbers, pressure_rise: Numbers, temperature: Numbers) -> Array:
    """Air that a volume takes up while its pressure rises.

    Parameters
    ----------
    volume : broadcastable
        Volume. [m3]
    pressure_rise : broadcastable
        Rise of pressure. [Pa]
    temperature : broadcastable
        Temperature of the air. [K]

    Returns
    -------
    broadcast shape
        Mass. [kg]

    Raises
    ------
    ValueError
        A temperature at or below 0 K.

    Range: constant temperature.
    Source: ideal gas law.
    """
    rise = np.asarray(volume, dtype=np.float64) * np.asarray(pressure_rise, dtype=np.float64)
    return rise / (GAS_CONSTANT * kelvin(temperature))


def fill_time(volume: Numbers, pressure_rise: Numbers, temperature: Numbers, surplus_mass_flow: Numbers) -> Array:
    """Time by which boost comes later because of extra volume; negative for less volume.

    Parameters
    ----------
    volume : broadcastable
        Extra volume between compressor and throttle. [m3]
    pressure_rise : broadcastable
        Boost to be filled in. [Pa]
    temperature : broadcastable
        Temperature of the air. [K]
    surplus_mass_flow : broadcastable
        Air that the compressor gives beyond what the engine takes while boost builds. [kg/s]

    Returns
    -------
    broadcast shape
        Time. [s]

    Raises
    ------
    ValueError
        A temperature or a surplus at or below zero.

    Range: constant temperature and surplus; an estimate.
    Source: ideal gas law.
    """
    return fill_mass(volume, pressure_rise, temperature) / positive("surplus mass flow", surplus_mass_flow)
