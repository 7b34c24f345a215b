"""Drive the invented car through a script in some weather, and keep every signal.

The model shares no assumption with the analysis: what it knows is pipes, wheels, valves and a control loop. So what the
analysis finds in these logs can be held against what was really put in.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.demo.air_side import AirSide
from pullproof.demo.car import DemoCar
from pullproof.demo.chance import Chance
from pullproof.demo.control_unit import ControlUnit
from pullproof.demo.driving import Command, Driver, Motion, PullMark, Script
from pullproof.demo.hot_side import HotSide
from pullproof.demo.speed_table import SpeedTable
from pullproof.demo.weather import Weather

__all__ = ["SIGNALS", "Drive", "simulate_drive"]

STEP = 0.02
"""Time step. [s]"""
GRAVITY = 9.80665
"""[m/s2]"""
RADIANS = math.pi / 30.0
"""Angular speed in rad/s of 1 rpm."""

SIGNALS = (
    "time", "engine_speed", "vehicle_speed", "pedal_position", "throttle_position", "manifold_pressure",
    "charge_pressure", "charge_pressure_target", "ambient_pressure", "wastegate_duty", "air_mass_flow",
    "intake_air_temperature", "charge_air_temperature", "ambient_temperature", "compressor_outlet_temperature",
    "coolant_temperature", "oil_temperature", "exhaust_gas_temperature", "lambda", "lambda_target", "ignition_timing",
    "knock_retard", "turbo_speed", "engine_torque", "battery_voltage",
    "compressor_outlet_pressure", "turbine_inlet_pressure", "wastegate_lift",
)  # fmt: skip
"""Columns of a drive. Canonical names and units, then three that no logger of this car shows: kPa, kPa, mm."""


@dataclass(frozen=True, slots=True)
class Drive:
    """Everything that happened on one drive, without sensors: `signals` by name, each of shape (n,).

    `pulls` are the driver's own word on when he pulled and whether he spoiled it.
    """

    car: DemoCar
    weather: Weather
    signals: Mapping[str, Array]
    pulls: tuple[PullMark, ...]


def simulate_drive(
    car: DemoCar, weather: Weather, script: Script, rng: np.random.Generator | None, *, step: float = STEP
) -> Drive:
    """One drive from a warm engine.

    Parameters
    ----------
    rng : generator or None
        Source of everything that varies without being wanted: gusts, friction, knock, noise in the control loop, the
        driver's foot. None drives the same script without any of it, which is how the true effect is found.
    step : float
        Time step. [s]
    """
    run = _Run(car, weather, Chance(rng), step)
    rows = [run.advance(command) for command in run.driver.commands(script)]
    table = np.asarray(rows, dtype=np.float64).T
    return Drive(car, weather, dict(zip(SIGNALS, table, strict=True)), tuple(run.driver.marks))


class _Run:
    """The parts of the car put together, and the motion of the whole."""

    def __init__(self, car: DemoCar, weather: Weather, chance: Chance, step: float) -> None:
        self._car, self._weather, self._chance, self._dt = car, weather, chance, step
        self._air_density, self._dry_share = weather.density, weather.dry_share
        self._motion = Motion(0.0, 0.0, car.engine.idle)
        self.driver = Driver(car.chassis, self._motion, chance)
        self._air = AirSide(car, weather)
        self._hot = HotSide(car, weather)
        self._control = ControlUnit(car, weather, chance)
        self._friction = SpeedTable(car.engine.friction)
        self._hot_gas = SpeedTable(car.engine.exhaust_temperature)
        self._pulling = False
        self._throttle = 0.02
        self._torque = 0.0
        self._gust = 0.0
        self._intake_sensor = weather.temperature + 14.0
        self._coolant, self._oil = 361.0, 363.0

    def advance(self, command: Command) -> tuple[float, ...]:
        """One step; the row of signals after it."""
        dt, air, hot, control = self._dt, self._air, self._hot, self._control
        if self.driver.pulling and not self._pulling:
            hot.stick(500.0 * self._chance.normal())
        self._pulling = self.driver.pulling
        self._throttle += (max(command.pedal, 0.02) - self._throttle) * dt / 0.07
        motion = self._motion
        control.step(
            dt,
            engine_speed=motion.engine_speed,
            pedal=command.pedal,
            charge_pressure=air.charge_pressure,
            charge_temperature=air.charge_temperature,
        )
        air.step(
            dt, shaft=hot.shaft, engine_speed=motion.engine_speed, throttle=self._throttle, road_speed=motion.speed
        )
        hot.step(
            dt,
            flow=air.engine_flow * (1.0 + 1.0 / (self._car.engine.stoichiometric * control.mixture)),
            temperature=self._exhaust_temperature(),
            duty=control.duty,
            boost=air.outlet_pressure - self._weather.pressure,
            compressor_power=air.compressor_power,
        )
        self._turn(command)
        self._move(command)
        self._warm()
        return self._row(command)

    def _exhaust_temperature(self) -> float:
        """At the turbine [K]: hotter with speed, load, a leaner mixture (on the rich side) and retarded ignition."""
        control, flow = self._control, self._air.engine_flow
        mixture = min(control.mixture, 1.0)
        full = self._hot_gas(self._motion.engine_speed) + 420.0 * (mixture - 0.85) + 6.0 * control.retard
        return full - 420.0 / (1.0 + (flow / 0.025) ** 2) if control.mixture < 1.3 else 650.0

    def _turn(self, command: Command) -> None:
        """Torque at the crankshaft. [N m]"""
        engine, control = self._car.engine, self._control
        speed = self._motion.engine_speed
        loss = self._friction(speed) + 12.0 * max(1.0 - self._air.manifold_pressure / 100e3, 0.0)
        burnt = self._air.engine_flow * self._dry_share / max(control.mixture, 1.0)
        heat = burnt / engine.stoichiometric * engine.heating_value * (1.0 - 0.35 * max(1.0 - control.mixture, 0.0))
        work = heat * engine.indicated_efficiency * (1.0 - 0.009 * control.retard)
        if command.pedal < 0.01 and speed > 1300.0:
            work = 0.0
        self._torque = work / (speed * RADIANS) - loss

    def _move(self, command: Command) -> None:
        """Road speed after the step, then the engine speed that goes with it."""
        dt, motion, chassis = self._dt, self._motion, self._car.chassis
        self._gust += -self._gust * dt / 4.0 + 0.35 * self._chance.normal() * dt**0.5
        wind = motion.speed + self._weather.headwind + self._gust
        drag = 0.5 * self._air_density * chassis.drag_area * wind * abs(wind)
        force = -drag - chassis.rolling_resistance * chassis.mass * GRAVITY * min(motion.speed, 1.0)
        inertia = chassis.mass * 1.03
        if command.gear:
            efficiency = chassis.driveline_efficiency
            kept = efficiency if self._torque > 0.0 else 1.0 / efficiency
            force += self._torque * chassis.rpm_per_speed(command.gear) * RADIANS * kept
            inertia = chassis.mass * chassis.rotating_mass_factor[command.gear - 1]
        motion.speed = max(motion.speed + (force / inertia - command.braking) * dt, 0.0)
        self._couple(command)
        motion.time += dt

    def _couple(self, command: Command) -> None:
        """Engine speed: tied to the wheels once the clutch has caught them, else on its way there or to idle."""
        motion, wanted, lag = self._motion, self._car.engine.idle, 0.7
        if command.gear:
            lowest = 1150.0 if command.pedal > 0.0 else wanted
            wanted, lag = max(motion.speed * self._car.chassis.rpm_per_speed(command.gear), lowest), 0.15
        if command.gear and abs(wanted - motion.engine_speed) < 60.0:
            motion.engine_speed = wanted
        else:
            motion.engine_speed += (wanted - motion.engine_speed) * self._dt / lag

    def _warm(self) -> None:
        """Sensors and fluids that lag behind."""
        dt, flow = self._dt, self._air.engine_flow
        self._intake_sensor += (self._air.charge_temperature + 1.0 - self._intake_sensor) * dt / 0.9
        self._coolant += (361.0 + 60.0 * flow - self._coolant) * dt / 25.0
        self._oil += (363.0 + 160.0 * flow - self._oil) * dt / 40.0

    def _row(self, command: Command) -> tuple[float, ...]:
        air, hot, control, motion, weather = self._air, self._hot, self._control, self._motion, self._weather
        return (
            motion.time,
            motion.engine_speed,
            motion.speed * 3.6,
            command.pedal * 100.0,
            self._throttle * 100.0,
            air.manifold_pressure / 1e3,
            air.charge_pressure / 1e3,
            control.target / 1e3,
            weather.pressure_kpa,
            control.duty,
            air.engine_flow * 1e3,
            self._intake_sensor - 273.15,
            air.charge_temperature - 273.15,
            weather.temperature_c,
            air.outlet_temperature - 273.15,
            self._coolant - 273.15,
            self._oil - 273.15,
            hot.temperature - 273.15,
            control.mixture,
            control.lambda_target,
            control.ignition,
            control.knock_retard,
            hot.shaft / RADIANS,
            self._torque,
            14.1 + (0.1 if motion.engine_speed > 1000.0 else 0.0),
            air.outlet_pressure / 1e3,
            hot.pressure / 1e3,
            hot.lift * 1e3,
        )
