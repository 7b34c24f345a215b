"""Fill a car's feed-forward map as a calibrator does: one slow pull at 20 degC, then the map is never touched again."""

from dataclasses import replace

import numpy as np

from validation.air import Air
from validation.batches import Array, length
from validation.cars import Car
from validation.garage import FEED_FORWARD_POINTS
from validation.runs import NOISE_KNOTS, Run, Start, no_hidden, plain_driver, plain_road
from validation.simulate import Recording, simulate

__all__ = ["calibrated", "quiet_run", "steady_start"]

LOAD = 3.0
"""How much heavier the car is on the calibrator's brake, so that boost settles."""


def steady_start(count: int) -> Start:
    """A warm car after a few minutes at part load."""
    one = np.ones(count)
    return Start(6.0 * one, 1.0 * one, 800.0 * one)


def quiet_run(car: Car, air: Air) -> Run:
    """A run with nothing hidden, on a level road in still air."""
    count = length(car)
    return Run(
        car,
        air,
        plain_driver(car),
        plain_road(count),
        steady_start(count),
        no_hidden(count),
        np.zeros((count, 3, NOISE_KNOTS)),
    )


def calibrated(car: Car, errors: Array) -> Car:
    """The cars with their feed-forward filled; `errors` (cars, 2) is the map's offset and tilt. [1]"""
    count = length(car)
    one = np.ones(count)
    heavy = replace(car, vehicle=replace(car.vehicle, mass=car.vehicle.mass * LOAD))
    run = quiet_run(heavy, Air(293.15 * one, 1e5 * one, 0.5 * one))
    run = replace(run, driver=replace(run.driver, gear=2.0 * one))
    recording = simulate(run)
    grid = 1000.0 + (car.engine.redline[:, None] - 1000.0) * np.linspace(0, 1, FEED_FORWARD_POINTS)
    table = np.array([_read(recording, row, grid[row]) for row in range(count)])
    wave = np.linspace(-1, 1, FEED_FORWARD_POINTS)
    table = np.clip(table + errors[:, :1] + errors[:, 1:] * wave, 0.2, 1.0)
    return replace(car, control=replace(car.control, feed_forward=table))


def _read(recording: Recording, row: int, grid: Array) -> Array:
    """Duty over engine speed where the controller has settled; the first settled value stands below."""
    signals = recording.signals
    settled = (recording.time > recording.full_from[row] + 0.5) & (recording.time < recording.full_to[row])
    duty, speed = signals["wastegate_duty"][:, row], signals["engine_speed"][:, row]
    near = signals["charge_pressure_target"][:, row] - signals["charge_pressure"][:, row] < 4.0
    chosen = settled & (near | (np.maximum.accumulate(near & settled)))
    if chosen.sum() < 20:
        chosen = settled
    order = np.argsort(speed[chosen])
    window = np.ones(15) / 15
    smooth = np.convolve(np.pad(duty[chosen][order], 7, mode="edge"), window, mode="valid")
    return np.interp(grid, speed[chosen][order], smooth) / 100.0
