"""What one simulated run is made of besides the car: air, driver, road, heat at the start, hidden effects."""

from dataclasses import dataclass, fields

import numpy as np

from validation.air import Air
from validation.batches import Array, length
from validation.cars import Car

__all__ = ["NOISE_STEP", "Driver", "Hidden", "Road", "Run", "Start", "no_hidden", "plain_driver", "plain_road"]

NOISE_STEP = 0.25
"""Spacing of the knots of the slow random processes. [s]"""
NOISE_KNOTS = 121


@dataclass(frozen=True, slots=True)
class Driver:
    """What the driver does. `lift_after` is NaN where the pedal stays down; `shift_speed` NaN where no gear changes."""

    start_speed: Array
    """Engine speed at which the pedal goes down. [rpm]"""
    end_speed: Array
    """[rpm]"""
    gear: Array
    press_time: Array
    """[s]"""
    press_duration: Array
    """[s]"""
    cruise_pedal: Array
    """[%]"""
    full_pedal: Array
    """What the pedal sensor shows at full load: 100 on most cars, less on some. [%]"""
    lift_after: Array
    """[s] after the pedal went down."""
    lift_depth: Array
    """[%]"""
    shift_speed: Array
    """[rpm]"""


@dataclass(frozen=True, slots=True)
class Road:
    """Grade [1], its undulation along the way [m], steady head wind [m/s] and the strength of gusts [m/s]."""

    grade: Array
    undulation: Array
    wavelength: Array
    phase: Array
    wind: Array
    gust: Array


@dataclass(frozen=True, slots=True)
class Start:
    """Heat when the pedal goes down, as the log shows it."""

    core_excess: Array
    """Charge cooler above ambient. [K]"""
    housing_excess: Array
    """Intake sensor's housing above the charge air. [K]"""
    wall: Array
    """Exhaust manifold. [K]"""


@dataclass(frozen=True, slots=True)
class Hidden:
    """Day and run effects that no log shows; all zero means a car on its mean day. Shares unless a unit is given."""

    octane: Array
    """[research octane number]"""
    heating: Array
    work: Array
    friction: Array
    rolling: Array
    tyre_radius: Array
    mass: Array
    """[kg]"""
    filling: Array
    mixture: Array
    filter_loss: Array
    exhaust_loss: Array
    underhood: Array
    """Air at the filter above ambient. [K]"""
    core_air: Array
    core_excess: Array
    """[K]"""
    wall: Array
    """[K]"""
    preload: Array
    """[Pa]"""
    target: Array
    """Boost target, which a control unit moves with what it has learned. [Pa]"""
    shaft: Array
    """Turbocharger speed when the run begins, from how the driver came to it."""
    trim: Array
    """Learned duty at the start. [1]"""
    duty: Array
    """Solenoid. [1]"""
    battery: Array
    """[V]"""
    efficiency: Array
    """Compressor. [1]"""
    pressure_sensor: Array
    """Charge pressure sensor, read by the control unit and the logger alike. [Pa]"""
    ambient_sensor: Array
    """[Pa]"""
    temperature_sensor: Array
    """[K]"""
    air_meter: Array
    gate_noise: Array
    """Strength of the gate's stick and slip. [1 of lift]"""
    knock_noise: Array
    """[deg]"""


@dataclass(frozen=True, slots=True)
class Run:
    """One row a run. `noise` has shape (runs, 3, knots): standard normal knots for gusts, gate and knock."""

    car: Car
    air: Air
    driver: Driver
    road: Road
    start: Start
    hidden: Hidden
    noise: Array


def no_hidden(count: int) -> Hidden:
    """Nothing hidden: the car on its mean day."""
    return Hidden(**{field.name: np.zeros(count) for field in fields(Hidden)})


def plain_road(count: int) -> Road:
    """Level road, still air."""
    zero = np.zeros(count)
    return Road(zero, zero, zero + 400.0, zero, zero, zero)


def plain_driver(car: Car, gear: float = 3.0) -> Driver:
    """From 35 % of the redline to just short of it."""
    count = length(car)
    one = np.ones(count)
    redline = car.engine.redline
    return Driver(
        start_speed=0.35 * redline,
        end_speed=0.985 * redline,
        gear=gear * one,
        press_time=2.0 * one,
        press_duration=0.2 * one,
        cruise_pedal=18.0 * one,
        full_pedal=100.0 * one,
        lift_after=np.nan * one,
        lift_depth=40.0 * one,
        shift_speed=np.nan * one,
    )
