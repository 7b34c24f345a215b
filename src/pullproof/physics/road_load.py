"""Road load: the forces on a car in a straight line, the power they take, and how it slows down by itself.

Wheel power as this project states it counts the whole effective mass, so the engine's own inertia is inside it; a
roller dynamometer shows less. Between two runs of one car in one gear most of the doubts below cancel.
"""

import numpy as np

from pullproof.arrays import Array, Numbers
from pullproof.physics.domain import not_negative, positive, within

__all__ = [
    "GRAVITY",
    "coast_down_time",
    "drag_force",
    "grade_force",
    "rolling_force",
    "rolling_resistance_at",
    "rotating_mass_factor_gillespie",
    "tractive_force",
    "wheel_power",
]

GRAVITY = 9.80665
"""Standard acceleration of free fall [m/s2]."""

ROLLING_TEMPERATURE_COEFFICIENT = 8.6e-3
"""Fall of rolling resistance per kelvin of ambient temperature [1/K]. Source: [SAE J1263] and WLTP, from memory."""

ROLLING_REFERENCE_TEMPERATURE = 293.15


def rotating_mass_factor_gillespie(overall_ratio: Numbers) -> Array:
    """Effective mass over mass in gear: wheels, driveline and engine resist acceleration too.

    Parameters
    ----------
    overall_ratio : any shape
        Gear ratio times final drive. [1]

    Returns
    -------
    same shape
        Factor, 1.04 + 0.0025 ratio^2. [1]

    Raises
    ------
    ValueError
        A ratio at or below zero.

    Range: passenger cars; an average that holds within 30 % of what it adds [common practice], 5 % of the effective
    mass at a ratio of 8 and 2.4 % at 4.3.
    Source: [Gillespie] ch. 2, from memory.
    """
    return 1.04 + 0.0025 * positive("overall ratio", overall_ratio) ** 2


def drag_force(speed: Numbers, air_density: Numbers, drag_area: Numbers, headwind: Numbers = 0.0) -> Array:
    """Air drag in a straight line.

    Parameters
    ----------
    speed : broadcastable
        Road speed. [m/s]
    air_density : broadcastable
        Density of the ambient air. [kg/m3]
    drag_area : broadcastable
        Drag coefficient times frontal area. [m2]
    headwind : broadcastable
        Wind against the direction of travel; negative from behind. [m/s]

    Returns
    -------
    broadcast shape
        Force against the direction of travel; negative where a tail wind is faster than the car. [N]

    Raises
    ------
    ValueError
        A density or drag area at or below zero.

    Range: no side wind; the coefficient is taken as constant.
    Source: [Gillespie] ch. 4.
    """
    air_speed = np.asarray(speed, dtype=np.float64) + np.asarray(headwind, dtype=np.float64)
    head = 0.5 * positive("air density", air_density) * air_speed * np.abs(air_speed)
    return head * positive("drag area", drag_area)


def rolling_force(mass: Numbers, rolling_resistance: Numbers, gradient: Numbers = 0.0) -> Array:
    """Rolling resistance.

    Parameters
    ----------
    mass : broadcastable
        Mass as tested. [kg]
    rolling_resistance : broadcastable
        Rolling resistance coefficient. [1]
    gradient : broadcastable
        Rise of the road per distance along it, sin of its angle. [1]

    Returns
    -------
    broadcast shape
        Force against the direction of travel. [N]

    Raises
    ------
    ValueError
        A mass at or below zero, a negative coefficient.

    Range: below 150 km/h; above, the coefficient itself grows.
    Source: [Gillespie] ch. 4.
    """
    slope = np.asarray(gradient, dtype=np.float64)
    weight = positive("mass", mass) * GRAVITY
    return not_negative("rolling resistance", rolling_resistance) * weight * np.sqrt(1.0 - slope**2)


def grade_force(mass: Numbers, gradient: Numbers) -> Array:
    """Weight along the road: 148 N per per cent at 1510 kg.

    Parameters
    ----------
    mass : broadcastable
        Mass as tested. [kg]
    gradient : broadcastable
        Rise of the road per distance along it, sin of its angle. [1]

    Returns
    -------
    broadcast shape
        Force against the direction of travel; negative downhill. [N]

    Raises
    ------
    ValueError
        A mass at or below zero.

    Range: all.
    Source: [Gillespie] ch. 4.
    """
    return positive("mass", mass) * GRAVITY * np.asarray(gradient, dtype=np.float64)


def tractive_force(
    speed: Numbers,
    acceleration: Numbers,
    mass: Numbers,
    rotating_mass_factor: Numbers,
    air_density: Numbers,
    drag_area: Numbers,
    rolling_resistance: Numbers,
    gradient: Numbers = 0.0,
    headwind: Numbers = 0.0,
) -> Array:
    """Force at the wheels that explains a motion: inertia, rolling, drag and grade.

    Parameters
    ----------
    speed : broadcastable
        Road speed. [m/s]
    acceleration : broadcastable
        Acceleration along the road, from a speed and not from a sensor that feels the slope. [m/s2]
    mass : broadcastable
        Mass as tested. [kg]
    rotating_mass_factor : broadcastable
        Effective mass over mass in this gear. [1]
    air_density : broadcastable
        Density of the ambient air. [kg/m3]
    drag_area : broadcastable
        Drag coefficient times frontal area. [m2]
    rolling_resistance : broadcastable
        Rolling resistance coefficient. [1]
    gradient : broadcastable
        Rise of the road per distance along it. [1]
    headwind : broadcastable
        Wind against the direction of travel. [m/s]

    Returns
    -------
    broadcast shape
        Tractive force, rotating parts included. [N]

    Raises
    ------
    ValueError
        A mass, factor, density or drag area at or below zero, a negative coefficient.

    Range: straight road, no slip.
    Source: [Gillespie] ch. 2.
    """
    effective = positive("mass", mass) * positive("rotating mass factor", rotating_mass_factor)
    return (
        effective * np.asarray(acceleration, dtype=np.float64)
        + rolling_force(mass, rolling_resistance, gradient)
        + drag_force(speed, air_density, drag_area, headwind)
        + grade_force(mass, gradient)
    )


def wheel_power(force: Numbers, speed: Numbers) -> Array:
    """Power of a force at a road speed.

    Parameters
    ----------
    force : broadcastable
        Tractive force, see `tractive_force`. [N]
    speed : broadcastable
        Road speed. [m/s]

    Returns
    -------
    broadcast shape
        Power at the wheels. [W]

    Range: all.
    Source: definition.
    """
    return np.asarray(force, dtype=np.float64) * np.asarray(speed, dtype=np.float64)


def rolling_resistance_at(rolling_resistance: Numbers, temperature: Numbers) -> Array:
    """Rolling resistance coefficient at another ambient temperature than the standard 20 degC.

    Parameters
    ----------
    rolling_resistance : broadcastable
        Coefficient at 20 degC, warm tyre. [1]
    temperature : broadcastable
        Ambient temperature. [K]

    Returns
    -------
    broadcast shape
        Coefficient at that temperature. [1]

    Raises
    ------
    ValueError
        A temperature outside -40 to 60 degC, a negative coefficient.

    Range: measured between 5 and 35 degC, 0.86 % per kelvin.
    Source: [SAE J1263], from memory: a force measured at t is multiplied by 1 + 8.6e-3 (t - 20) to refer it to 20 degC.
    """
    warmer = within("temperature", temperature, 233.15, 333.15, "kelvin are needed") - ROLLING_REFERENCE_TEMPERATURE
    return not_negative("rolling resistance", rolling_resistance) / (1.0 + ROLLING_TEMPERATURE_COEFFICIENT * warmer)


def coast_down_time(
    initial_speed: Numbers,
    speed: Numbers,
    effective_mass: Numbers,
    constant_force: Numbers,
    linear_coefficient: Numbers,
    quadratic_coefficient: Numbers,
) -> Array:
    """Time in which a car slows down by itself, against a force A + B v + C v^2: exact closed form.

    Parameters
    ----------
    initial_speed : broadcastable
        Speed at the start. [m/s]
    speed : broadcastable
        Speed at the end, not above the start. [m/s]
    effective_mass : broadcastable
        Mass with its rotating parts, in neutral. [kg]
    constant_force : broadcastable
        A, above zero. [N]
    linear_coefficient : broadcastable
        B. [N s/m]
    quadratic_coefficient : broadcastable
        C. [N s2/m2]

    Returns
    -------
    broadcast shape
        Time. [s]

    Raises
    ------
    ValueError
        A mass or a constant force at or below zero, a negative coefficient or speed, an end speed above the start.

    Range: level road, no wind, coefficients at or above zero.
    Source: integral of m dv/F; the case B = 0 is the arc tangent of the textbooks.
    """
    start, end = not_negative("initial speed", initial_speed), not_negative("speed", speed)
    mass = positive("effective mass", effective_mass)
    slowed = not_negative("initial speed less end speed", start - end)
    # With F at both ends, the time is m * g(x), x = (v0 - v)/(2A + B(v0 + v) + 2C v0 v): the addition theorem of
    # arc tangent and its hyperbolic twin in one argument, so that no case loses digits.
    constant = positive("constant force", constant_force)
    linear = not_negative("linear coefficient", linear_coefficient)
    quadratic = not_negative("quadratic coefficient", quadratic_coefficient)
    argument = slowed / (2.0 * constant + linear * (start + end) + 2.0 * quadratic * start * end)
    discriminant = 4.0 * constant * quadratic - linear**2
    return mass * _inverse_tangent(argument, discriminant)


def _inverse_tangent(argument: Array, discriminant: Array) -> Array:
    """2 atan(x s)/s with s^2 the discriminant; its hyperbolic twin where that is negative; 2 x where it is zero."""
    root = np.sqrt(np.abs(discriminant))
    safe = np.where(root > 0.0, root, 1.0)
    scaled = argument * root
    circular = 2.0 * np.arctan(scaled) / safe
    hyperbolic = 2.0 * np.arctanh(np.where(discriminant < 0.0, scaled, 0.0)) / safe
    return np.select(
        [discriminant > 0.0, discriminant < 0.0, discriminant == 0.0], [circular, hyperbolic, 2.0 * argument], np.nan
    )[()]
