"""What a four-stroke engine breathes and burns: air by speed-density, mixture, fuel, mean effective pressure.

Volumetric efficiency is referred to the state in the manifold. The manifold sensor sits before the air picks up
heat on the way to the valves, and lags: a volumetric efficiency above 1.1 or below 0.6 at full load means a slip
in a unit before it means an engine.
"""

from collections.abc import Mapping
from types import MappingProxyType

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import kelvin, not_negative, positive
from pullproof.physics.dry_air import GAS_CONSTANT

__all__ = [
    "STOICHIOMETRIC_AIR_FUEL_RATIO",
    "air_fuel_ratio",
    "air_mass_flow_by_speed_density",
    "brake_mean_effective_pressure",
    "fuel_mass_flow",
    "injector_duty",
    "lambda_from_air_fuel_ratio",
    "power_from_torque",
    "torque_from_power",
    "volumetric_efficiency",
]

STOICHIOMETRIC_AIR_FUEL_RATIO: Mapping[str, float] = MappingProxyType(
    {
        "petrol": 14.6,
        "e10": 14.0,
        "e85": 9.8,
        "ethanol": 9.0,
        "methanol": 6.47,
        "diesel": 14.5,
        "lpg": 15.7,
        "cng": 17.2,
    }
)
"""Mass of air that burns a mass of fuel completely [1]. Source: [Heywood] eq. (3.6) on each fuel's formula, with
3.773 N2 per O2; blends by mass fraction. Pumped E85 holds 70 to 85 % ethanol: 9.7 to 10.6."""


def air_mass_flow_by_speed_density(
    manifold_pressure: Numbers,
    manifold_temperature: Numbers,
    engine_speed: Numbers,
    displacement: Numbers,
    volumetric_efficiency: Numbers,
) -> Array:
    """Air that a four-stroke engine takes in, from the state of the air in its manifold.

    Parameters
    ----------
    manifold_pressure : broadcastable
        Pressure after the throttle, absolute. [Pa]
    manifold_temperature : broadcastable
        Air temperature in the manifold. [K]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]
    displacement : broadcastable
        Swept volume of all cylinders. [m3]
    volumetric_efficiency : broadcastable
        Air taken in over air of manifold density that fills the swept volume. [1]

    Returns
    -------
    broadcast shape
        Air mass flow. [kg/s]

    Raises
    ------
    ValueError
        A pressure, temperature or displacement at or below zero; a negative speed or efficiency.

    Range: steady running, one breath in two turns.
    Source: [Heywood] section 2.10.
    """
    filled = positive("displacement", displacement) * not_negative("volumetric efficiency", volumetric_efficiency)
    breaths = not_negative("engine speed", engine_speed) / (4.0 * np.pi)
    pressure = positive("manifold pressure", manifold_pressure)
    return filled * breaths * pressure / (GAS_CONSTANT * kelvin(manifold_temperature))


def volumetric_efficiency(
    air_mass_flow: Numbers,
    manifold_pressure: Numbers,
    manifold_temperature: Numbers,
    engine_speed: Numbers,
    displacement: Numbers,
) -> Array:
    """Volumetric efficiency from a measured air flow: inverse of `air_mass_flow_by_speed_density`.

    Parameters
    ----------
    air_mass_flow : broadcastable
        Air taken in. [kg/s]
    manifold_pressure : broadcastable
        Pressure after the throttle, absolute. [Pa]
    manifold_temperature : broadcastable
        Air temperature in the manifold. [K]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]
    displacement : broadcastable
        Swept volume of all cylinders. [m3]

    Returns
    -------
    broadcast shape
        Volumetric efficiency. [1]

    Raises
    ------
    ValueError
        A pressure, temperature, speed or displacement at or below zero; a negative flow.

    Range: steady running.
    Source: [Heywood] section 2.10.
    """
    speed = positive("engine speed", engine_speed)
    full = air_mass_flow_by_speed_density(manifold_pressure, manifold_temperature, speed, displacement, 1.0)
    return not_negative("air mass flow", air_mass_flow) / full


def lambda_from_air_fuel_ratio(air_fuel_ratio: Numbers, stoichiometric_ratio: Numbers) -> Array:
    """Excess-air ratio lambda.

    Parameters
    ----------
    air_fuel_ratio : broadcastable
        Mass of air per mass of fuel. [1]
    stoichiometric_ratio : broadcastable
        The ratio that burns completely, as the *logger* reckons it, see `STOICHIOMETRIC_AIR_FUEL_RATIO`. [1]

    Returns
    -------
    broadcast shape
        Lambda; below 1 is rich. [1]

    Raises
    ------
    ValueError
        A ratio at or below zero.

    Range: any mixture.
    Source: definition, [Heywood] section 2.9.
    """
    return positive("air-fuel ratio", air_fuel_ratio) / positive("stoichiometric ratio", stoichiometric_ratio)


def air_fuel_ratio(lambda_ratio: Numbers, stoichiometric_ratio: Numbers) -> Array:
    """Air-fuel ratio from lambda.

    Parameters
    ----------
    lambda_ratio : broadcastable
        Excess-air ratio. [1]
    stoichiometric_ratio : broadcastable
        The ratio that burns completely. [1]

    Returns
    -------
    broadcast shape
        Mass of air per mass of fuel. [1]

    Raises
    ------
    ValueError
        A ratio at or below zero.

    Range: any mixture.
    Source: definition, [Heywood] section 2.9.
    """
    return positive("lambda", lambda_ratio) * positive("stoichiometric ratio", stoichiometric_ratio)


def fuel_mass_flow(air_mass_flow: Numbers, lambda_ratio: Numbers, stoichiometric_ratio: Numbers) -> Array:
    """Fuel that goes with an air flow at a given lambda.

    Parameters
    ----------
    air_mass_flow : broadcastable
        Air taken in. [kg/s]
    lambda_ratio : broadcastable
        Excess-air ratio. [1]
    stoichiometric_ratio : broadcastable
        The ratio that burns completely. [1]

    Returns
    -------
    broadcast shape
        Fuel mass flow. [kg/s]

    Raises
    ------
    ValueError
        A ratio at or below zero, a negative flow.

    Range: no air blown through unburnt.
    Source: definition, [Heywood] section 2.9.
    """
    return not_negative("air mass flow", air_mass_flow) / air_fuel_ratio(lambda_ratio, stoichiometric_ratio)


def brake_mean_effective_pressure(torque: Numbers, displacement: Numbers) -> Array:
    """Brake mean effective pressure of a four-stroke engine.

    Parameters
    ----------
    torque : broadcastable
        Torque at the crankshaft. [N m]
    displacement : broadcastable
        Swept volume of all cylinders. [m3]

    Returns
    -------
    broadcast shape
        Mean effective pressure. [Pa]

    Raises
    ------
    ValueError
        A displacement at or below zero.

    Range: four-stroke engines.
    Source: [Heywood] section 2.7, 4 pi T/V.
    """
    return 4.0 * np.pi * np.asarray(torque, dtype=np.float64) / positive("displacement", displacement)


def power_from_torque(torque: Numbers, engine_speed: Numbers) -> Array:
    """Power from torque and crankshaft speed.

    Parameters
    ----------
    torque : broadcastable
        Torque at the crankshaft. [N m]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]

    Returns
    -------
    broadcast shape
        Power. [W]

    Range: all.
    Source: definition.
    """
    return np.asarray(torque, dtype=np.float64) * np.asarray(engine_speed, dtype=np.float64)


def torque_from_power(power: Numbers, engine_speed: Numbers) -> Array:
    """Torque from power and crankshaft speed.

    Parameters
    ----------
    power : broadcastable
        Power. [W]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]

    Returns
    -------
    broadcast shape
        Torque. [N m]

    Raises
    ------
    ValueError
        A speed at or below zero.

    Range: all.
    Source: definition.
    """
    return np.asarray(power, dtype=np.float64) / positive("engine speed", engine_speed)


def injector_duty(opening_time: Numbers, engine_speed: Numbers) -> Array:
    """Share of a four-stroke cycle during which a port injector is open.

    Parameters
    ----------
    opening_time : broadcastable
        Time open per working cycle. [s]
    engine_speed : broadcastable
        Crankshaft speed. [rad/s]

    Returns
    -------
    broadcast shape
        Duty; above 1 the injector cannot close any more. [1]

    Raises
    ------
    ValueError
        A negative time or speed.

    Range: one injection per cycle; direct injection has only part of the cycle to itself.
    Source: definition: two turns per cycle.
    """
    cycles_per_second = not_negative("engine speed", engine_speed) / (4.0 * np.pi)
    return not_negative("opening time", opening_time) * cycles_per_second
