"""What differs between days and between runs without anybody having changed anything.

Every car has its own liability to each of the two kinds of scatter, and on a third of the cars the runs have heavy
tails. The figures are what the trade tells of fuel, tyres, oil, sensors and actuators (common practice, no source);
how large the scatter of a measure becomes is an outcome of the simulation.
"""

from dataclasses import dataclass, fields

import numpy as np

from validation.batches import Array
from validation.runs import NOISE_KNOTS, NOISE_STEP, Hidden

__all__ = ["Liability", "draw_day", "draw_liability", "draw_noise", "draw_runs"]

DAY = {
    "octane": 0.7,
    "heating": 0.005,
    "work": 0.003,
    "friction": 0.04,
    "rolling": 0.05,
    "tyre_radius": 0.002,
    "mass": 12.0,
    "filling": 0.003,
    "mixture": 0.006,
    "filter_loss": 0.05,
    "exhaust_loss": 0.03,
    "underhood": 1.5,
    "core_air": 0.06,
    "core_excess": 1.0,
    "preload": 400.0,
    "target": 600.0,
    "trim": 0.010,
    "duty": 0.003,
    "battery": 0.15,
    "efficiency": 0.004,
    "pressure_sensor": 350.0,
    "ambient_sensor": 150.0,
    "temperature_sensor": 0.5,
    "air_meter": 0.008,
}
"""Standard deviations between days, in the units of `Hidden`."""

RUN = {
    "heating": 0.003,
    "work": 0.003,
    "friction": 0.01,
    "rolling": 0.02,
    "mass": 1.0,
    "filling": 0.003,
    "mixture": 0.004,
    "underhood": 1.0,
    "core_excess": 1.2,
    "wall": 20.0,
    "preload": 250.0,
    "target": 200.0,
    "shaft": 0.1,
    "trim": 0.008,
    "duty": 0.003,
    "battery": 0.05,
    "efficiency": 0.003,
    "pressure_sensor": 120.0,
    "temperature_sensor": 0.2,
    "air_meter": 0.003,
}
"""Standard deviations between runs of one day."""

FASTEST_START = 0.5
"""Largest logarithm of the turbocharger's speed over its usual speed at a start: heavy tails of chance must not begin
a pull at full charge, which drove a simulated car to pressures without end."""

GATE_NOISE = 0.008
KNOCK_NOISE = 0.35
MEMORY = 0.6
"""Time over which the slow random processes forget. [s]"""


@dataclass(frozen=True, slots=True)
class Liability:
    """How much more or less than usual a car scatters between days and runs; `tails` are degrees of freedom."""

    day: float
    run: float
    tails: float


def draw_liability(rng: np.random.Generator) -> Liability:
    """A car's own scatter: within a factor of about two of the usual one."""
    return Liability(
        float(np.exp(rng.normal(0.0, 0.35))),
        float(np.exp(rng.normal(0.0, 0.35))),
        4.0 if rng.random() < 1 / 3 else np.inf,
    )


def draw_day(rng: np.random.Generator, liability: Liability) -> dict[str, float]:
    """One day's hidden effects."""
    return {name: liability.day * deviation * rng.normal() for name, deviation in DAY.items()}


def draw_runs(
    rng: np.random.Generator, liability: Liability, days: list[dict[str, float]], size: float = 1.0
) -> Hidden:
    """Hidden effects of runs, one on each of `days` (repeat a day for more runs on it)."""
    count = len(days)
    values: dict[str, Array] = {}
    for field in fields(Hidden):
        run = RUN.get(field.name, 0.0) * liability.run * size * _draws(rng, liability.tails, count)
        values[field.name] = run + np.array([day.get(field.name, 0.0) for day in days])
    values["shaft"] = np.clip(values["shaft"], -FASTEST_START, FASTEST_START)
    values["gate_noise"] = np.full(count, GATE_NOISE * liability.run)
    values["knock_noise"] = np.full(count, KNOCK_NOISE * liability.run)
    return Hidden(**values)


def _draws(rng: np.random.Generator, tails: float, count: int) -> Array:
    """Unit variance, normal or with Student's tails."""
    if np.isinf(tails):
        return rng.normal(size=count)
    return rng.standard_t(tails, size=count) * np.sqrt((tails - 2.0) / tails)


def draw_noise(rng: np.random.Generator, count: int) -> Array:
    """Slow random processes of unit variance, shape (count, 3, knots)."""
    keep = np.exp(-NOISE_STEP / MEMORY)
    fresh = rng.normal(size=(count, 3, NOISE_KNOTS))
    noise = np.empty_like(fresh)
    noise[:, :, 0] = fresh[:, :, 0]
    for knot in range(1, NOISE_KNOTS):
        noise[:, :, knot] = keep * noise[:, :, knot - 1] + np.sqrt(1.0 - keep**2) * fresh[:, :, knot]
    return noise
