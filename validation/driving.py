"""Driver and road: pedal, gear change, what holds the car back."""

from types import SimpleNamespace

import numpy as np

from validation.batches import Array
from validation.cars import Vehicle
from validation.runs import Driver, Road

__all__ = ["Controls", "gear_ratio", "pedal_of", "resistance"]

SHIFT_TIME = 0.35
LIFT_TIME = 0.6


def gear_ratio(vehicle: Vehicle, gear: Array) -> Array:
    """Engine turns per wheel turn."""
    rows = np.arange(len(gear))
    return vehicle.gear_ratios[rows, gear.astype(np.int64) - 1] * vehicle.final_drive


class Controls:
    """Where each driver is in the run: has lifted, is changing gear."""

    def __init__(self, count: int) -> None:
        self.lifted_at = np.full(count, np.nan)
        self.shift_until = np.full(count, -1.0)
        self.shifted = np.zeros(count, dtype=bool)
        self.shifting = np.zeros(count, dtype=bool)

    def finished(self, now: float, after: float) -> bool:
        """Whether every driver lifted at least `after` seconds ago."""
        return bool(np.all(now > self.lifted_at + after))

    def gear_of(self, driver: Driver) -> Array:
        """Gear that is engaged."""
        return driver.gear + self.shifted

    def change_gear(self, driver: Driver, vehicle: Vehicle, state: SimpleNamespace, now: float) -> Array:
        """Begin gear changes that are due; the overall ratio that is engaged from now on."""
        due = ~self.shifted & (state.engine_speed >= driver.shift_speed)
        if due.any():
            self.shifted = self.shifted | due
            self.shift_until = np.where(due, now + SHIFT_TIME, self.shift_until)
            state.ratio = np.where(due, gear_ratio(vehicle, driver.gear + 1), state.ratio)
        self.shifting = now < self.shift_until
        return np.asarray(state.ratio)


def pedal_of(driver: Driver, controls: Controls, engine_speed: Array, now: float) -> Array:
    """Pedal [%]: steady, pressed down, perhaps eased once, lifted at the end."""
    ready = now > driver.press_time + driver.press_duration
    stalled = now > driver.press_time + 20.0
    ends = np.isnan(controls.lifted_at) & ((ready & (engine_speed >= driver.end_speed)) | stalled)
    controls.lifted_at = np.where(ends, now, controls.lifted_at)
    pressed = np.clip((now - driver.press_time) / driver.press_duration, 0.0, 1.0)
    pedal = driver.cruise_pedal + (driver.full_pedal - driver.cruise_pedal) * pressed
    since = now - driver.press_time - driver.lift_after
    eased = (since > 0.0) & (since < LIFT_TIME)
    pedal = np.where(eased, driver.lift_depth, pedal)
    off = np.clip((now - controls.lifted_at) / 0.1, 0.0, 1.0)
    return np.where(np.isnan(controls.lifted_at), pedal, driver.full_pedal * (1.0 - off))


def resistance(vehicle: Vehicle, road: Road, density: Array, speed: Array, distance: Array, gust: Array) -> Array:
    """Rolling, air and grade. [N]"""
    wind = speed + road.wind + road.gust * gust
    slope = road.grade + road.undulation * np.sin(2.0 * np.pi * distance / road.wavelength + road.phase)
    weight = vehicle.mass * 9.81
    return weight * (vehicle.rolling + slope) + 0.5 * density * vehicle.drag_area * wind * np.abs(wind)
