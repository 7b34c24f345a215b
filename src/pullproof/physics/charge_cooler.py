"""Charge cooler: effectiveness from a log, effectiveness from size, density gained, pressure lost.

Effectiveness here is of the charge side, which holds where the charge air has the smaller heat capacity flow:
air-to-air in motion yes, air-to-water with a small pump no. A pull is short: the core's own heat makes the first
seconds look too good, so steady formulas speak only where the outlet temperature has settled.
"""

import numpy as np
from scipy.special import gammainc

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import fraction, kelvin, not_negative, positive, within
from pullproof.physics.elementwise import bracketed_root

__all__ = [
    "LOSS_EXPONENT",
    "density_gain",
    "effectiveness",
    "effectiveness_crossflow",
    "outlet_temperature",
    "scaled_pressure_loss",
    "transfer_units_crossflow",
]

LOSS_EXPONENT = 1.8
"""A core's pressure loss grows with this power of mass flow [1]. Source: from memory, between 1.7 and 1.9."""

MOST_TRANSFER_UNITS = 20.0


def effectiveness(inlet_temperature: Numbers, outlet_temperature: Numbers, coolant_temperature: Numbers) -> Array:
    """Effectiveness from measured temperatures, charge side.

    Parameters
    ----------
    inlet_temperature : broadcastable
        Charge air before the cooler. [K]
    outlet_temperature : broadcastable
        Charge air behind the cooler. [K]
    coolant_temperature : broadcastable
        Cooling air at the core's face, 5 to 15 K above ambient behind another cooler, or water. [K]

    Returns
    -------
    broadcast shape
        Effectiveness. [1] Above 1 while the core still takes up heat; NaN where the charge is not hotter than the
        coolant.

    Raises
    ------
    ValueError
        A temperature at or below 0 K.

    Range: settled temperatures; charge side with the smaller heat capacity flow.
    Source: definition, [Incropera] section 11.4.
    """
    inlet, coolant = kelvin(inlet_temperature), kelvin(coolant_temperature)
    largest = np.where(inlet > coolant, inlet - coolant, np.nan)
    return (inlet - kelvin(outlet_temperature)) / largest


def outlet_temperature(inlet_temperature: Numbers, coolant_temperature: Numbers, effectiveness: Numbers) -> Array:
    """Charge temperature behind the cooler: inverse of `effectiveness`.

    Parameters
    ----------
    inlet_temperature : broadcastable
        Charge air before the cooler. [K]
    coolant_temperature : broadcastable
        Cooling air at the core's face, or water. [K]
    effectiveness : broadcastable
        Effectiveness, charge side. [1]

    Returns
    -------
    broadcast shape
        Charge air behind the cooler. [K]

    Raises
    ------
    ValueError
        A temperature at or below 0 K, an effectiveness outside 0 to 1.

    Range: settled temperatures.
    Source: definition, [Incropera] section 11.4.
    """
    inlet, coolant = kelvin(inlet_temperature), kelvin(coolant_temperature)
    return inlet - fraction("effectiveness", effectiveness) * (inlet - coolant)


def effectiveness_crossflow(transfer_units: Numbers, capacity_ratio: Numbers) -> Array:
    """Effectiveness of a cross-flow core, both streams unmixed: the exact series, not the usual closed formula.

    Parameters
    ----------
    transfer_units : broadcastable
        Number of transfer units, UA over the smaller heat capacity flow. [1]
    capacity_ratio : broadcastable
        Smaller over larger heat capacity flow. [1]

    Returns
    -------
    broadcast shape
        Effectiveness. [1]

    Raises
    ------
    ValueError
        Transfer units outside 0 to 20, a capacity ratio outside 0 to 1.

    Range: up to 20 transfer units; converged to 1e-12. The closed formula of the textbooks is 0.5 to 1.6 % off.
    Source: [Mason 1955]: a double series whose inner sums are regularised incomplete gamma functions.
    """
    units = within("transfer units", transfer_units, 0.0, MOST_TRANSFER_UNITS, "no real core has more")
    ratio = fraction("capacity ratio", capacity_ratio)
    # The limit of an infinite coolant stream, 1 - exp(-units), is reached smoothly: 1e-12 in place of zero will do.
    cold = np.maximum(units * ratio, 1e-12)
    total = np.zeros(np.broadcast_shapes(np.shape(units), np.shape(ratio)))
    for order in range(1, 100):
        term = gammainc(order, units) * gammainc(order, cold)
        total = total + term
        if not np.any(term > 1e-15 * total):
            break
    return total / cold


def transfer_units_crossflow(effectiveness: Numbers, capacity_ratio: Numbers) -> Array:
    """Transfer units that give an effectiveness: inverse of `effectiveness_crossflow`.

    Parameters
    ----------
    effectiveness : broadcastable
        Effectiveness. [1]
    capacity_ratio : broadcastable
        Smaller over larger heat capacity flow. [1]

    Returns
    -------
    broadcast shape
        Number of transfer units. [1] NaN where more than 20 would be needed, or an input is NaN.

    Raises
    ------
    ValueError
        An effectiveness or a capacity ratio outside 0 to 1.

    Range: 0 to 20 transfer units.
    Source: [Mason 1955], solved by bracketing.
    """
    return bracketed_root(
        lambda units, wanted, ratio: effectiveness_crossflow(units, ratio) - wanted,
        0.0,
        MOST_TRANSFER_UNITS,
        fraction("effectiveness", effectiveness),
        fraction("capacity ratio", capacity_ratio),
    )


def density_gain(
    inlet_pressure: Numbers, outlet_pressure: Numbers, inlet_temperature: Numbers, outlet_temperature: Numbers
) -> Array:
    """Density behind the cooler over density before: what the cooling gives less what the loss takes.

    Parameters
    ----------
    inlet_pressure : broadcastable
        Pressure before the cooler, absolute. [Pa]
    outlet_pressure : broadcastable
        Pressure behind the cooler, absolute. [Pa]
    inlet_temperature : broadcastable
        Charge air before the cooler. [K]
    outlet_temperature : broadcastable
        Charge air behind the cooler. [K]

    Returns
    -------
    broadcast shape
        Density ratio. [1]

    Raises
    ------
    ValueError
        A pressure or temperature at or below zero.

    Range: all.
    Source: ideal gas law.
    """
    pressure_ratio = positive("outlet pressure", outlet_pressure) / positive("inlet pressure", inlet_pressure)
    return pressure_ratio * kelvin(inlet_temperature) / kelvin(outlet_temperature)


def scaled_pressure_loss(
    mass_flow: Numbers, density: Numbers, known_loss: Numbers, known_mass_flow: Numbers, known_density: Numbers
) -> Array:
    """Pressure loss of a core at another flow, scaled from one measured point.

    Parameters
    ----------
    mass_flow : broadcastable
        Air through the core. [kg/s]
    density : broadcastable
        Mean density in the core. [kg/m3]
    known_loss : broadcastable
        Measured loss. [Pa]
    known_mass_flow : broadcastable
        Flow at which it was measured. [kg/s]
    known_density : broadcastable
        Density at which it was measured. [kg/m3]

    Returns
    -------
    broadcast shape
        Pressure loss. [Pa]

    Raises
    ------
    ValueError
        A density or known value at or below zero, a negative flow.

    Range: half to double the measured flow; the exponent's own doubt of 0.1 is 7 % at double the flow.
    Source: loss ~ m^1.8/density, from memory; dimensions alone do not predict a core.
    """
    flow_ratio = not_negative("mass flow", mass_flow) / positive("known mass flow", known_mass_flow)
    density_ratio = positive("known density", known_density) / positive("density", density)
    return positive("known loss", known_loss) * flow_ratio**LOSS_EXPONENT * density_ratio
