"""Sensors that cannot be believed: a channel that never moves, and one that sits at its end."""

import numpy as np

from pullproof.analysis.watch.result import SensorDoubt
from pullproof.analysis.watch.scene import Scene
from pullproof.arrays import Array

__all__ = ["constant_channels", "sensor_doubts"]

MOVES = (
    "lambda", "charge_pressure", "manifold_pressure", "air_mass_flow", "oil_pressure", "fuel_pressure",
    "fuel_rail_pressure", "injector_duty", "exhaust_gas_temperature", "charge_air_temperature",
    "intake_air_temperature", "turbo_speed", "knock_retard", "coolant_temperature", "oil_temperature",
    "battery_voltage", "compressor_outlet_temperature", "charge_pressure_target", "lambda_target",
)  # fmt: skip
"""Channels that are watched, and that move on a living engine."""

STEADY_S = {
    "coolant_temperature": 900.0, "oil_temperature": 900.0, "battery_voltage": 600.0, "intake_air_temperature": 180.0,
    "charge_air_temperature": 180.0, "lambda_target": 1e9,
}  # fmt: skip
"""Channels that may stand still for so long. [s] Common practice, no source."""

USUALLY_STEADY_S = 20.0

QUIET = ("knock_retard",)
"""Channels whose silence is what one hopes for."""

ENDS = {
    "manifold_pressure": 255.0,
    "charge_pressure": 255.0,
    "air_mass_flow": 655.35,
    "exhaust_gas_temperature": 1000.0,
}
"""Where a usual encoding or sensor ends, in the channel's unit: SAE J1979 PIDs 0B and 10; thermocouple amplifiers of
5 V for 1000 degC are common practice. A flat top there is no reading."""

FLAT_TOP = 3
PINNED_SAMPLES, PINNED_S, ALIVE = 10, 0.5, 0.05
"""A lambda that repeats its richest or leanest value so often and so long at full load is at the end of its sensor,
if it moves by so much elsewhere. Common practice, no source."""


def constant_channels(scene: Scene) -> frozenset[str]:
    """Channels that hold one value all through a log in which the engine was at work."""
    return frozenset(name for name in MOVES if name in scene.log.traces and _constant(scene, name) is not None)


def sensor_doubts(scene: Scene) -> tuple[SensorDoubt, ...]:
    """Everything that speaks against a sensor of this log."""
    found = []
    for name in MOVES:
        if name not in scene.log.traces:
            continue
        value = _constant(scene, name)
        words = name.replace("_", " ")
        if value is not None:
            detail = f"{words} reads {value:g} from first to last: stuck, or not what it is called"
            found.append(SensorDoubt(scene.log.file, name, "constant", detail))
        elif name in ENDS and _flat_at(scene, name, ENDS[name]):
            detail = f"{words} stays at {ENDS[name]:g}, where its encoding or sensor ends: the truth lies beyond"
            found.append(SensorDoubt(scene.log.file, name, "at its end", detail))
    pinned = _pinned_lambda(scene)
    return (*found, pinned) if pinned else tuple(found)


def _constant(scene: Scene, name: str) -> float | None:
    trace = scene.log.traces[name]
    known = np.isfinite(trace.values)
    values, time = trace.values[known], trace.time[known]
    if name in QUIET or values.size < 2 or np.ptp(values) > 0.0 or not _at_work(scene):
        return None
    return float(values[0]) if np.ptp(time) > STEADY_S.get(name, USUALLY_STEADY_S) else None


def _at_work(scene: Scene) -> bool:
    """Whether engine speed moved enough for everything else to move with it."""
    if not scene.has("engine_speed"):
        return False
    speed = scene.samples("engine_speed").values
    return float(np.percentile(speed, 98) - np.percentile(speed, 2)) > 800.0


def _flat_at(scene: Scene, name: str, end: float) -> bool:
    values = scene.samples(name).values
    return int(np.count_nonzero(np.abs(values - end) < 0.01)) >= FLAT_TOP and float(values.max()) <= end + 0.01


def _pinned_lambda(scene: Scene) -> SensorDoubt | None:
    if not scene.has("lambda") or not len(scene.load):
        return None
    everywhere = scene.samples("lambda").values
    loaded = scene.at_load(scene.signal("lambda"))
    if not loaded.values.size or np.ptp(everywhere) < ALIVE:
        return None
    for value, side in ((everywhere.min(), "richer"), (everywhere.max(), "leaner")):
        count, lasts = _longest_run(loaded.time, loaded.values == value)
        if count >= PINNED_SAMPLES and lasts >= PINNED_S:
            detail = f"lambda repeats {value:.3f} at full load, the end of its sensor: the mixture may be {side}"
            return SensorDoubt(scene.log.file, "lambda", "at its end", detail)
    return None


def _longest_run(time: Array, same: Array) -> tuple[int, float]:
    """Samples of the longest run of True, and how long it lasts [s]."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], same.astype(np.int8), [0]))))
    firsts, ends = edges[::2], edges[1::2]
    if not firsts.size:
        return 0, 0.0
    longest = int(np.argmax(ends - firsts))
    first, last = int(firsts[longest]), int(ends[longest]) - 1
    return last - first + 1, float(time[last] - time[first])
