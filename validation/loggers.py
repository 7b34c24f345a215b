"""What a logger makes of a run: which channels, how often, how coarse, how late, with which noise, held or blank.

One logger belongs to a car for all its comparisons, unless a scenario swaps it. Values are in the contract's units;
`files` writes them in whatever units and words the file's style has.
"""

from dataclasses import dataclass

import numpy as np

from validation.batches import Array
from validation.runs import Run
from validation.simulate import Recording
from validation.truth import clean_channels

__all__ = ["Logger", "Sampled", "draw_logger", "record"]

ALWAYS = ("engine_speed",)
OFTEN = {
    "pedal_position": 0.85,
    "throttle_position": 0.7,
    "vehicle_speed": 0.8,
    "wastegate_duty": 0.9,
    "charge_pressure_target": 0.55,
    "air_mass_flow": 0.65,
    "intake_air_temperature": 0.85,
    "charge_air_temperature": 0.15,
    "compressor_outlet_temperature": 0.1,
    "exhaust_gas_temperature": 0.15,
    "lambda": 0.65,
    "ignition_timing": 0.7,
    "knock_retard": 0.55,
    "turbo_speed": 0.08,
    "engine_torque": 0.25,
    "engine_load": 0.3,
    "coolant_temperature": 0.75,
    "oil_temperature": 0.3,
    "ambient_pressure": 0.5,
    "ambient_temperature": 0.3,
    "battery_voltage": 0.3,
    "gear": 0.25,
}
"""How often a logger has a channel."""

STEPS: dict[str, tuple[float, ...]] = {
    "engine_speed": (0.25, 1.0, 1.0, 10.0),
    "vehicle_speed": (0.01, 0.1, 1.0),
    "pedal_position": (0.1, 0.39, 1.0),
    "throttle_position": (0.1, 0.39, 1.0),
    "manifold_pressure": (0.05, 0.1, 0.69, 1.0),
    "charge_pressure": (0.05, 0.1, 0.69, 1.0),
    "charge_pressure_target": (0.05, 0.1, 1.0),
    "wastegate_duty": (0.1, 0.39, 0.5, 1.0),
    "air_mass_flow": (0.01, 0.1, 0.5),
    "intake_air_temperature": (0.1, 0.75, 1.0),
    "lambda": (0.001, 0.005, 0.01),
    "ignition_timing": (0.1, 0.5, 0.75),
    "knock_retard": (0.1, 0.35, 0.75),
    "ambient_pressure": (0.1, 1.0),
    "ambient_temperature": (0.5, 1.0),
    "battery_voltage": (0.1,),
}
"""Smallest steps that loggers show; everything else comes in steps of 1."""

NOISE = {
    "engine_speed": 6.0,
    "vehicle_speed": 0.05,
    "manifold_pressure": 0.4,
    "charge_pressure": 0.4,
    "air_mass_flow": 0.6,
    "lambda": 0.003,
    "wastegate_duty": 0.05,
    "engine_torque": 2.0,
    "intake_air_temperature": 0.05,
    "exhaust_gas_temperature": 2.0,
}
"""Standard deviation of noise from sample to sample."""

LATE = {
    "vehicle_speed": 0.15,
    "air_mass_flow": 0.05,
    "lambda": 0.2,
    "charge_pressure": 0.02,
    "manifold_pressure": 0.02,
    "wastegate_duty": 0.01,
    "engine_torque": 0.05,
}
"""Usual lag [s]; a logger has between none and twice that."""

RATES = (3.0, 4.0, 5.0, 8.0, 10.0, 10.0, 14.0, 20.0, 20.0, 25.0, 50.0, 100.0)


@dataclass(frozen=True, slots=True)
class Logger:
    """A logger. `refresh` rows pass between two samples of one channel; `layout` says what stands in between."""

    rate: float
    """Rows a second. [Hz]"""
    refresh: int
    layout: str
    """`rows` (everything new in each row), `held` or `blank`."""
    channels: tuple[str, ...]
    steps: dict[str, float]
    lags: dict[str, float]
    jitter: float
    """Standard deviation of the time between rows, as a share of it."""
    noise: float
    """Factor on the usual noise."""
    pressure_top: float
    """Largest pressure that the channel can show. [kPa]"""


@dataclass(frozen=True, slots=True)
class Sampled:
    """A recorded run: row times from the log's first row [s], and per channel a value (or NaN) in each row.

    `own` holds each channel's new samples alone: their row times and values.
    """

    time: Array
    values: dict[str, Array]
    own: dict[str, tuple[Array, Array]]
    started: float
    """The run's clock at the first row. [s]"""


def draw_logger(rng: np.random.Generator, diesel: bool, *, need_duty: bool = False) -> Logger:
    """A random logger for a petrol or a diesel car."""
    channels = [name for name, often in OFTEN.items() if rng.random() < often]
    pressure = str(rng.choice(["charge_pressure", "manifold_pressure", "both"], p=[0.45, 0.35, 0.2]))
    channels += ["charge_pressure", "manifold_pressure"] if pressure == "both" else [pressure]
    if diesel:
        channels = [name for name in channels if name not in ("ignition_timing", "knock_retard", "throttle_position")]
    wanted = {"pedal_position"} if diesel or "throttle_position" not in channels else set()
    wanted |= {"wastegate_duty"} if need_duty else set()
    order = [*ALWAYS, *dict.fromkeys([*channels, *sorted(wanted)])]
    layout = str(rng.choice(["rows", "held", "blank"], p=[0.6, 0.25, 0.15]))
    sample = float(rng.choice(RATES))
    refresh = 1 if layout == "rows" else int(rng.integers(2, 7))
    if layout != "rows":
        sample = min(sample, 20.0)
    return Logger(
        rate=min(sample * refresh, 100.0),
        refresh=refresh,
        layout=layout,
        channels=tuple(order),
        steps={name: float(rng.choice(STEPS.get(name, (1.0,)))) for name in order},
        lags={name: float(LATE.get(name, 0.01) * rng.uniform(0.0, 2.0)) for name in order},
        jitter=float(rng.choice([0.0, 0.02, 0.1])),
        noise=float(rng.uniform(0.5, 1.8)),
        pressure_top=255.0 if rng.random() < 0.08 else 500.0,
    )


def record(recording: Recording, row: int, run: Run, logger: Logger, rng: np.random.Generator) -> Sampled:
    """Log one run. The sensors' hidden offsets are in the values, as they are in a real log."""
    end = recording.time[recording.last[row]]
    started = float(rng.uniform(0.0, 0.4))
    count = int((end - started) * logger.rate)
    spacing = np.maximum(1.0 + logger.jitter * rng.normal(size=count), 0.05) / logger.rate
    time = started + np.cumsum(spacing) - spacing[0]
    time = time[time < end]
    values, own = {}, {}
    for index, name in enumerate(logger.channels):
        source = _signal(recording, row, run, name)
        if source is None:
            continue
        fresh = np.arange(len(time)) % logger.refresh == index % logger.refresh
        sampled = np.interp(time[fresh] - logger.lags[name], *source)
        digits = _digits(name, sampled, logger, rng)
        own[name] = (time[fresh] - time[0], digits)
        values[name] = _spread(digits, fresh, logger.layout)
    return Sampled(time - time[0], values, own, started=float(time[0]))


def _spread(values: Array, fresh: "np.ndarray[tuple[int], np.dtype[np.bool_]]", layout: str) -> Array:
    """Values into rows: held until the next sample, or blank in between."""
    if layout == "blank":
        rows = np.full(len(fresh), np.nan)
        rows[fresh] = values
        return rows
    place = np.maximum(np.cumsum(fresh) - 1, 0)
    return values[place]


def _digits(name: str, values: Array, logger: Logger, rng: np.random.Generator) -> Array:
    """Noise, steps and the end of the range."""
    noisy = values + logger.noise * NOISE.get(name, 0.0) * rng.normal(size=len(values))
    stepped = np.round(noisy / logger.steps[name]) * logger.steps[name]
    if name in ("pedal_position", "throttle_position", "wastegate_duty"):
        return np.clip(stepped, 0.0, 100.0)
    if name in ("charge_pressure", "manifold_pressure"):
        return np.clip(stepped, 10.0, logger.pressure_top)
    if name in ("knock_retard", "vehicle_speed", "engine_speed", "air_mass_flow"):
        return np.maximum(stepped, 0.0)
    return stepped


def _signal(recording: Recording, row: int, run: Run, name: str) -> tuple[Array, Array] | None:
    """The sensor's own signal, offset included; None where the car has no such channel."""
    hidden = run.hidden
    if name in recording.signals or name == "charge_pressure":
        channels = clean_channels(recording, row, run, (name,))
        if name not in channels:
            return None
        time, values = channels[name]
        if name in ("charge_pressure", "manifold_pressure"):
            return time, values + 1e-3 * hidden.pressure_sensor[row]
        if name == "intake_air_temperature":
            return time, values + hidden.temperature_sensor[row]
        if name == "air_mass_flow":
            return time, values * (1.0 + hidden.air_meter[row])
        return time, values
    return _steady(recording, row, run, name)


def _steady(recording: Recording, row: int, run: Run, name: str) -> tuple[Array, Array]:
    """Channels that hardly move in a pull, and those that follow from others."""
    time = recording.time[: recording.last[row] + 1]
    if name == "engine_load":
        flow = recording.signals["air_mass_flow"][: len(time), row].astype(np.float64)
        speed = recording.signals["engine_speed"][: len(time), row].astype(np.float64)
        full = 0.5 * 1.2e3 * run.car.engine.displacement[row] * speed / 60.0
        return time, 100.0 * flow / full
    level = {
        "coolant_temperature": 88.0 + 4.0 * np.sin(0.1 * time),
        "oil_temperature": 96.0 - 60.0 * run.hidden.friction[row] + 0.3 * time,
        "ambient_pressure": np.full(len(time), 1e-3 * (run.air.pressure[row] + run.hidden.ambient_sensor[row])),
        "ambient_temperature": np.full(
            len(time), run.air.temperature[row] - 273.15 + run.hidden.underhood[row] / 2 + 1.0
        ),
        "battery_voltage": np.full(len(time), 13.9 + run.hidden.battery[row]),
    }
    return time, level[name]
