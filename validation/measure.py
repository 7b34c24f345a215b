"""The contract's measures, read from one pull. Written from the contract's words, not from anybody's code.

The same functions serve the truth (clean signals, 100 Hz) and the oracle (signals as a logger gave them): a channel
is a pair of its own times and values, interpolated where needed. NaN where a measure does not exist.
"""

from collections.abc import Mapping

import numpy as np

from validation.batches import Array

__all__ = ["MEASURES", "Sheet", "crossing", "read_measures"]

Channels = Mapping[str, tuple[Array, Array]]

MEASURES = (
    "wastegate_duty.peak",
    "wastegate_duty.mean",
    "wastegate.opens_at",
    "boost.mean",
    "boost.peak",
    "boost.reaches",
    "air_mass_flow.mean",
    "air_mass_flow.peak",
    "wheel_power.mean",
    "wheel_power.peak",
    "pull.time",
    "intake_air_temperature.rise",
    "intake_air_temperature.mean",
    "ignition_timing.mean",
    "knock_retard.mean",
    "knock_retard.worst",
    "lambda.mean",
    "lambda.leanest",
    "charge_pressure_drop.mean",
)
SMOOTHING = 0.25
"""Width of the moving mean taken before a peak is read. [s]"""
POINTS = 161


class Sheet:
    """What turns engine speed into wheel power; used for logs only, the truth has the simulator's own power."""

    def __init__(self, mass: float, turning: float, per_rpm: float, rolling: float, drag_area: float) -> None:
        self.mass, self.turning, self.per_rpm, self.rolling, self.drag_area = mass, turning, per_rpm, rolling, drag_area

    def power(self, time: Array, speed: Array, density: float) -> Array:
        """Wheel power from engine speed [rpm]: local lines over half a second. [kW]"""
        middle, slope = _local_lines(time, speed * self.per_rpm, 0.25)
        force = (self.mass + self.turning) * slope + self.mass * 9.81 * self.rolling
        return (force + 0.5 * density * self.drag_area * middle**2) * middle * 1e-3


def _local_lines(time: Array, values: Array, half: float) -> tuple[Array, Array]:
    """Value and slope of a straight line through the neighbourhood of every sample."""
    ramp = np.concatenate(([0.0], np.cumsum(np.ones_like(time))))
    sums = [np.concatenate(([0.0], np.cumsum(q))) for q in (time, values, time * time, time * values)]
    left = np.minimum(np.searchsorted(time, time - half), np.maximum(np.arange(len(time)) - 1, 0))
    right = np.maximum(np.searchsorted(time, time + half, "right"), np.minimum(np.arange(len(time)) + 2, len(time)))
    count = ramp[right] - ramp[left]
    st, sv, stt, stv = (total[right] - total[left] for total in sums)
    slope = (stv - st * sv / count) / np.maximum(stt - st * st / count, 1e-12)
    return sv / count + slope * (time - st / count), slope


def crossing(time: Array, speed: Array, level: float) -> float:
    """When the speed first gets through a level for good; NaN where it does not. [s]"""
    below = np.flatnonzero(speed < level)
    if len(below) == 0 or below[-1] + 1 >= len(speed):
        return np.nan
    index = below[-1]
    return float(np.interp(level, speed[index : index + 2], time[index : index + 2]))


def read_measures(channels: Channels, pull: tuple[float, float], window: tuple[float, float]) -> dict[str, float]:
    """Every measure of one pull [start, end in s] over a window of engine speed [rpm]."""
    time, speed = channels["engine_speed"]
    inside = (time >= pull[0]) & (time <= pull[1])
    pull_time, pull_speed = time[inside], speed[inside]
    smooth = _moving_mean(pull_time, pull_speed, 0.1)
    results = dict.fromkeys(MEASURES, np.nan)
    if len(pull_time) < 4:
        return results
    grid = np.linspace(*window, POINTS)
    at = np.array([crossing(pull_time, smooth, level) for level in window])
    if np.isnan(at[1]) and smooth[-1] > window[1] - 60:
        at[1] = pull_time[-1]
    if np.isnan(at[0]) and smooth[0] < window[0] + 60:
        at[0] = pull_time[0]
    if np.isnan(at).any():
        return results
    rising = np.maximum.accumulate(smooth)
    instants = np.interp(grid, rising + 1e-6 * np.arange(len(rising)), pull_time)
    results["pull.time"] = at[1] - at[0]
    reader = _Reader(channels, instants, (float(at[0]), float(at[1])), pull, grid)
    reader.duty(results, pull_time, smooth)
    reader.boost(results, pull_time, smooth)
    for name in ("air_mass_flow", "wheel_power"):
        results[f"{name}.mean"], results[f"{name}.peak"] = reader.mean(name), reader.peak(name)
    results["intake_air_temperature.mean"] = reader.mean("intake_air_temperature")
    results["intake_air_temperature.rise"] = reader.rise("intake_air_temperature")
    results["ignition_timing.mean"] = reader.mean("ignition_timing")
    results["knock_retard.mean"], results["knock_retard.worst"] = (
        reader.mean("knock_retard"),
        reader.peak("knock_retard"),
    )
    results["lambda.mean"], results["lambda.leanest"] = reader.mean("lambda"), reader.peak("lambda")
    if "charge_pressure" in channels and "manifold_pressure" in channels:
        results["charge_pressure_drop.mean"] = reader.mean("charge_pressure") - reader.mean("manifold_pressure")
    return results


class _Reader:
    """One pull's channels, read at the instants at which the engine passes the grid of speeds."""

    def __init__(
        self, channels: Channels, instants: Array, span: tuple[float, float], pull: tuple[float, float], grid: Array
    ) -> None:
        self.channels, self.instants, self.span, self.pull, self.grid = channels, instants, span, pull, grid

    def mean(self, name: str) -> float:
        """Mean over engine speed."""
        if name not in self.channels:
            return np.nan
        values = np.interp(self.instants, *self.channels[name])
        return float(np.trapezoid(values, self.grid) / (self.grid[-1] - self.grid[0]))

    def peak(self, name: str) -> float:
        """Largest smoothed value in the window."""
        if name not in self.channels:
            return np.nan
        time, values = self.channels[name]
        near = (time >= self.span[0] - 1.0) & (time <= self.pull[1])
        time, values = time[near], values[near]
        smooth = _moving_mean(time, values, SMOOTHING)
        inside = (time >= self.span[0]) & (time <= self.span[1])
        return float(smooth[inside].max()) if inside.any() else np.nan

    def rise(self, name: str) -> float:
        """From the pull's start to its end."""
        if name not in self.channels:
            return np.nan
        first, last = np.interp(self.pull, *self.channels[name])
        return float(last - first)

    def duty(self, results: dict[str, float], time: Array, speed: Array) -> None:
        """The three measures of the wastegate."""
        if "wastegate_duty" not in self.channels:
            return
        results["wastegate_duty.peak"] = self.peak("wastegate_duty")
        results["wastegate_duty.mean"] = self.mean("wastegate_duty")
        fine = np.arange(self.pull[0], self.pull[1], 0.01)
        duty = np.interp(fine, *self.channels["wastegate_duty"])
        held = np.flatnonzero(duty >= 99.0)
        if len(held) == 0:
            return
        open_long = np.convolve(duty < 99.0, np.ones(20))[19 : len(duty)] >= 19.5
        after = np.flatnonzero(open_long[held[0] :]) + held[0] if held[0] < len(open_long) else np.array([])
        if len(after):
            results["wastegate.opens_at"] = float(np.interp(fine[after[0]], time, speed))

    def boost(self, results: dict[str, float], time: Array, speed: Array) -> None:
        """Mean, peak and arrival of boost."""
        name = "charge_pressure" if "charge_pressure" in self.channels else "manifold_pressure"
        if name not in self.channels:
            return
        ambient = float(self.channels["ambient_pressure"][1].mean())
        mean = self.mean(name) - ambient
        results["boost.mean"], results["boost.peak"] = mean, self.peak(name) - ambient
        fine = np.arange(self.pull[0], self.pull[1], 0.01)
        gauge = np.interp(fine, *self.channels[name]) - ambient
        reached = np.flatnonzero(gauge >= 0.9 * mean)
        if len(reached) and reached[0] > 0:
            results["boost.reaches"] = float(np.interp(fine[reached[0]], time, speed))


def _moving_mean(time: Array, values: Array, width: float) -> Array:
    """Mean of the samples within half a width on either side, at least the sample itself."""
    total = np.concatenate(([0.0], np.cumsum(values)))
    left = np.searchsorted(time, time - width / 2 - 1e-9)
    right = np.searchsorted(time, time + width / 2 + 1e-9, "right")
    # An even window at the ends: never average over a one-sided neighbourhood.
    reach = np.minimum(np.arange(len(time)) - left, right - 1 - np.arange(len(time)))
    low, high = np.arange(len(time)) - reach, np.arange(len(time)) + reach + 1
    return (total[high] - total[low]) / (high - low)
