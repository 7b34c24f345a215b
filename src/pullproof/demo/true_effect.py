"""What a change really does to the invented car: both builds driven in the same air, with nothing left to chance.

The measures are taken from the simulation's own signals in a few lines, on purpose not with the code under test.
"""

from collections.abc import Mapping

import numpy as np

from pullproof.arrays import Array
from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull, PullMark
from pullproof.demo.simulator import Drive, simulate_drive
from pullproof.demo.weather import Weather

__all__ = ["measured", "true_effect", "without_chance"]

SCRIPT = (Cruise(60.0, 6.0), FullPull(), Cruise(70.0, 18.0), FullPull())
"""A pull to bring the car to temperature, then the one that counts."""


def true_effect(before: DemoCar, after: DemoCar, weather: Weather, window: tuple[float, float]) -> Mapping[str, float]:
    """After minus before by measure id, in the contract's units, in the same weather; window in rpm."""
    old, new = (without_chance(car, weather, window) for car in (before, after))
    return {measure: new[measure] - old[measure] for measure in old}


def without_chance(car: DemoCar, weather: Weather, window: tuple[float, float]) -> dict[str, float]:
    """Measures of one pull of a car in some weather, with nothing left to chance; window in rpm."""
    drive = simulate_drive(car, weather, SCRIPT, None)
    return measured(drive, drive.pulls[-1], window)


def measured(drive: Drive, pull: PullMark, window: tuple[float, float]) -> dict[str, float]:
    """Measures of one pull, straight from the signals of the simulation."""
    time = drive.signals["time"]
    inside = (time >= pull.start) & (time < pull.end)
    signal = {name: values[inside] for name, values in drive.signals.items()}
    speed = np.maximum.accumulate(signal["engine_speed"])
    grid = np.linspace(*window, 201)
    over = {name: np.interp(grid, speed, values) for name, values in signal.items()}
    boost = signal["charge_pressure"] - drive.weather.pressure_kpa
    mean_boost = float(np.mean(np.interp(grid, speed, boost)))
    power = np.interp(grid, speed, _wheel_power(drive, signal))
    return {
        "wastegate_duty.peak": float(over["wastegate_duty"].max()),
        "wastegate_duty.mean": float(over["wastegate_duty"].mean()),
        "boost.mean": mean_boost,
        "boost.peak": float(np.interp(grid, speed, boost).max()),
        "boost.reaches": float(speed[np.argmax(boost >= 0.9 * mean_boost)]),
        "air_mass_flow.mean": float(over["air_mass_flow"].mean()),
        "air_mass_flow.peak": float(over["air_mass_flow"].max()),
        "wheel_power.mean": float(power.mean()),
        "pull.time": float(over["time"][-1] - over["time"][0]),
        "intake_air_temperature.mean": float(over["intake_air_temperature"].mean()),
        "ignition_timing.mean": float(over["ignition_timing"].mean()),
        "lambda.mean": float(over["lambda"].mean()),
    }


def _wheel_power(drive: Drive, signal: Mapping[str, Array]) -> Array:
    """Power to the road and into the rotating parts. [kW] The contract's definition, still air, level road."""
    chassis, speed = drive.car.chassis, signal["vehicle_speed"] / 3.6
    ratio = float(np.median(signal["engine_speed"] / speed))
    gear = int(np.argmin([abs(chassis.rpm_per_speed(gear + 1) - ratio) for gear in range(len(chassis.gear_ratios))]))
    inertia = chassis.mass * chassis.rotating_mass_factor[gear]
    drag = 0.5 * drive.weather.density * chassis.drag_area * speed**2
    rolling = chassis.rolling_resistance * chassis.mass * 9.80665
    return np.asarray((inertia * np.gradient(speed, signal["time"]) + drag + rolling) * speed / 1e3, dtype=np.float64)
