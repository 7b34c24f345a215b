"""The right answer: what the change did, by running the simulator again with all chance taken out.

Definition. Take all the pulls of a comparison, of both sets. Average their ambient temperature, pressure and
humidity, the engine speed at which the pedal went down, the time it took, the heat in cooler, intake housing and
exhaust manifold at that moment, grade, undulation and head wind. Run the car before the change and the car after it
once each in these mean conditions, with no day effect, no run effect, no gust and no noise, to just short of the
redline. The truth of a measure over a window is its value on the second run less its value on the first, read from
signals at 100 Hz without a logger in between. Where nothing was changed it is zero by definition.

Boost achieved. The contract counts it among the conditions that are accounted for. So for every measure but boost
itself (`WHOLE_EFFECT`) the truth is the difference at equal mean boost: each car is run once more with its target
raised a little, which gives the measure's slope over mean boost, and the effect of the difference in mean boost is
taken out at the mean slope of the two cars. Where boost cannot move, because the gate is shut, that slope does not
exist and neither does the truth. The runner keeps the whole effect beside it for every measure.
"""

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from validation.batches import Array, join
from validation.cars import Car
from validation.measure import MEASURES, read_measures
from validation.runs import Driver, Run, no_hidden
from validation.simulate import Recording

__all__ = [
    "MEAN_ROWS",
    "WHOLE_EFFECT",
    "CleanPulls",
    "Truth",
    "clean_channels",
    "clean_pulls",
    "mean_run",
    "true_differences",
]

B = TypeVar("B")
TARGET_STEP = 3e3
"""How far the boost target is raised to find a measure's slope over boost. [Pa]"""
WHOLE_EFFECT = ("boost.mean", "boost.peak")
MEAN_ROWS = 4
"""Runs that the truth of one comparison takes."""
READ = (
    "engine_speed",
    "manifold_pressure",
    "charge_pressure",
    "wastegate_duty",
    "air_mass_flow",
    "wheel_power",
    "intake_air_temperature",
    "ignition_timing",
    "knock_retard",
    "lambda",
)


@dataclass(frozen=True, slots=True)
class CleanPulls:
    """Clean pulls: before, after, and both once more with a raised target; the instants of full load [s]."""

    channels: tuple[dict[str, tuple[Array, Array]], ...]
    spans: tuple[tuple[float, float], ...]


@dataclass(frozen=True, slots=True)
class Truth:
    """A measure before, its whole difference, and its difference at equal mean boost (NaN where boost cannot move)."""

    before: float
    whole: float
    equal_boost: float

    def of(self, measure: str) -> float:
        """The difference that counts for a measure."""
        return self.whole if measure in WHOLE_EFFECT else self.equal_boost


def _mean(batch: B, count: int) -> B:
    values = {}
    for field in fields(batch):  # type: ignore[arg-type]
        column = getattr(batch, field.name)
        values[field.name] = np.full(count, column.mean())
    return replace(batch, **values)  # type: ignore[type-var]


def mean_run(run: Run, before: Car, after: Car) -> Run:
    """`before` and `after`, and both with a raised target, in the mean conditions of all the pulls in `run`."""
    count = MEAN_ROWS
    driver: Driver = _mean(run.driver, count)
    driver = replace(
        driver,
        end_speed=0.992 * before.engine.redline.repeat(count),
        gear=np.full(count, run.driver.gear[0]),
        lift_after=np.full(count, np.nan),
        shift_speed=np.full(count, np.nan),
    )
    road = replace(_mean(run.road, count), gust=np.zeros(count))
    return Run(
        join([before, after, _raised(before), _raised(after)]),
        _mean(run.air, count),
        driver,
        road,
        _mean(run.start, count),
        no_hidden(count),
        np.zeros((count, *run.noise.shape[1:])),
    )


def _raised(car: Car) -> Car:
    return replace(car, control=replace(car.control, target=car.control.target + TARGET_STEP))


def clean_channels(
    recording: Recording, row: int, run: Run, names: tuple[str, ...] = READ
) -> dict[str, tuple[Array, Array]]:
    """One run's signals as true channels: `charge_pressure` is the pressure at that car's own sensor."""
    last = recording.last[row] + 1
    time = recording.time[:last]
    channels = {}
    for name in names:
        source = name
        if name == "charge_pressure" and run.car.control.at_compressor[row] > 0:
            source = "compressor_outlet_pressure"
        channels[name] = (time, recording.signals[source][:last, row].astype(np.float64))
    channels["ambient_pressure"] = (time[:1], run.air.pressure[row : row + 1] * 1e-3)
    if run.car.engine.diesel[row] > 0:
        channels.pop("ignition_timing", None)
        channels.pop("knock_retard", None)
    return channels


def clean_pulls(recording: Recording, first: int, run: Run, logged: set[str]) -> CleanPulls:
    """Clean channels of the rows of a `mean_run`; pressures that the logger does not have are left out here too."""
    names = tuple(name for name in READ if name in logged or name not in ("manifold_pressure", "charge_pressure"))
    rows = range(first, first + MEAN_ROWS)
    return CleanPulls(
        tuple(clean_channels(recording, row, run, names) for row in rows),
        tuple((float(recording.full_from[row]), float(recording.full_to[row])) for row in rows),
    )


def true_differences(pulls: CleanPulls, window: tuple[float, float]) -> dict[str, Truth]:
    """The truth of every measure over a window [rpm]; NaN where a measure does not exist."""
    read = [read_measures(channels, span, window) for channels, span in zip(pulls.channels, pulls.spans, strict=True)]
    before, after, before_up, after_up = read
    moved = after["boost.mean"] - before["boost.mean"]
    steps = (before_up["boost.mean"] - before["boost.mean"], after_up["boost.mean"] - after["boost.mean"])
    found = {}
    for name in MEASURES:
        whole = after[name] - before[name]
        equal = np.nan
        if min(steps) > 1e-4 * TARGET_STEP:
            slopes = ((before_up[name] - before[name]) / steps[0], (after_up[name] - after[name]) / steps[1])
            equal = whole - 0.5 * (slopes[0] + slopes[1]) * moved
        found[name] = Truth(before[name], whole, equal)
    return found
