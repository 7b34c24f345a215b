"""The boost controller: target, feed-forward, proportional and integral part. Duty is what comes out of it."""

from types import SimpleNamespace

import numpy as np

from validation.batches import Array
from validation.cars import BoostControl
from validation.runs import Run

__all__ = ["command", "target_pressure"]

LOWEST = 1000.0
"""Engine speed of the first feed-forward point. [rpm]"""


def target_pressure(control: BoostControl, run: Run, state: SimpleNamespace) -> Array:
    """Charge pressure that the control unit asks for at full pedal, absolute. [Pa]"""
    share = state.engine_speed / run.car.engine.redline
    ambient = run.air.pressure
    gauge = control.target + run.hidden.target - 1e5
    gauge = gauge * (1.0 - control.taper * np.clip((share - 0.75) / 0.25, 0.0, 1.0))
    hot = np.maximum(state.intake_sensor + run.hidden.temperature_sensor - 318.0, 0.0)
    base = np.where(control.follows_ambient > 0, ambient, 1e5)
    return np.minimum(base + gauge - control.hot_cut * hot, control.ratio_limit * ambient)


def command(
    cars: SimpleNamespace, state: SimpleNamespace, wanted: Array, sensed: Array, full: Array, step: float
) -> Array:
    """Duty [1]; 1 holds the gate shut. The integral rests while the duty is at a stop and during the spool."""
    control = cars.control
    error = wanted - sensed
    spooling = error > control.band
    forward = _feed_forward(control.feed_forward, state.engine_speed, cars.engine.redline)
    asked = forward + control.proportional * error + state.integral
    held = np.clip(asked, 0.0, 1.0)
    resting = spooling | ~full | ((asked > 1.0) & (error > 0)) | ((asked < 0.0) & (error < 0))
    state.integral = state.integral + step * np.where(resting, 0.0, control.integral * error)
    wanted_duty = np.where(full, np.where(spooling, 1.0, held), 0.9)
    state.duty = state.duty + step / 0.03 * (wanted_duty - state.duty)
    return np.where(full & spooling, np.where(state.duty > 0.995, 1.0, state.duty), state.duty)


def _feed_forward(table: Array, speed: Array, redline: Array) -> Array:
    if not np.isfinite(speed).all():
        raise FloatingPointError("a simulated car ran away: its engine speed is no number")
    last = table.shape[1] - 1
    place = np.clip((speed - LOWEST) / (redline - LOWEST), 0.0, 0.9999) * last
    knot = place.astype(np.int64)
    rows = np.arange(len(knot))
    left = table[rows, knot]
    return left + (place - knot) * (table[rows, knot + 1] - left)
