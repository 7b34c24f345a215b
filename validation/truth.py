"""The right answer: what the change did, by running the simulator again with all chance taken out.

Definition. Take all the pulls of a comparison, of both sets. Average their ambient temperature, pressure and
humidity, the engine speed at which the pedal went down, the time it took, the heat in cooler, intake housing and
exhaust manifold at that moment, grade, undulation and head wind. Run the car before the change and the car after it
once each in these mean conditions, with no day effect, no run effect, no gust and no noise, to just short of the
redline. The truth of a measure over a window is its value on the second run less its value on the first, read from
signals at 100 Hz without a logger in between. Where nothing was changed it is zero by definition.
"""

from dataclasses import dataclass, fields, replace
from typing import TypeVar

import numpy as np

from validation.batches import Array, join
from validation.cars import Car
from validation.measure import MEASURES, read_measures
from validation.runs import Driver, Run, no_hidden
from validation.simulate import Recording

__all__ = ["CleanPulls", "clean_channels", "clean_pulls", "mean_run", "true_difference"]

B = TypeVar("B")
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
    """The clean pull before and the clean pull after: channels, and the instants of full load [s]."""

    channels: tuple[dict[str, tuple[Array, Array]], dict[str, tuple[Array, Array]]]
    spans: tuple[tuple[float, float], tuple[float, float]]


def _mean(batch: B, count: int) -> B:
    values = {}
    for field in fields(batch):  # type: ignore[arg-type]
        column = getattr(batch, field.name)
        values[field.name] = np.full(count, column.mean())
    return replace(batch, **values)  # type: ignore[type-var]


def mean_run(run: Run, before: Car, after: Car) -> Run:
    """Two runs, `before` and `after`, in the mean conditions of all the pulls in `run`, with all chance taken out."""
    driver: Driver = _mean(run.driver, 2)
    driver = replace(
        driver,
        end_speed=0.992 * before.engine.redline.repeat(2),
        gear=np.full(2, run.driver.gear[0]),
        lift_after=np.full(2, np.nan),
        shift_speed=np.full(2, np.nan),
    )
    road = replace(_mean(run.road, 2), gust=np.zeros(2))
    return Run(
        join([before, after]),
        _mean(run.air, 2),
        driver,
        road,
        _mean(run.start, 2),
        no_hidden(2),
        np.zeros((2, *run.noise.shape[1:])),
    )


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


def clean_pulls(recording: Recording, rows: tuple[int, int], run: Run, logged: set[str]) -> CleanPulls:
    """Clean channels of two rows; pressure channels that the logger does not have are left out here too."""
    names = tuple(name for name in READ if name in logged or name not in ("manifold_pressure", "charge_pressure"))
    first, second = (clean_channels(recording, row, run, names) for row in rows)
    spans = tuple((float(recording.full_from[row]), float(recording.full_to[row])) for row in rows)
    return CleanPulls((first, second), (spans[0], spans[1]))


def true_difference(pulls: CleanPulls, window: tuple[float, float]) -> dict[str, tuple[float, float]]:
    """Value before and true difference of every measure over a window [rpm]; NaN where a measure does not exist."""
    first, second = (
        read_measures(channels, span, window) for channels, span in zip(pulls.channels, pulls.spans, strict=True)
    )
    return {name: (first[name], second[name] - first[name]) for name in MEASURES}
