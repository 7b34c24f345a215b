"""From pulls to the model: who is before and after, on which day, and what else differed.

A covariate that is known of every pull becomes a column with a prior from physics. One that is not known cannot be
taken out: what it may have done is added to the scatter that is expected, so that the interval says so.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pullproof.analysis.comparison.adjustments import AirState
from pullproof.analysis.comparison.priors import Effect, MeasurePrior, load_priors
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import read_measure
from pullproof.physics import moist_air
from pullproof.stats.mixed_model import Design
from pullproof.stats.scatter import TypicalScatter
from pullproof.timebase import value_at

__all__ = ["CHARGE_TEMPERATURES", "Model", "PullSet", "gather", "model", "value_at_start", "vapour_pressure"]

CHARGE_TEMPERATURES = ("charge_air_temperature", "intake_air_temperature")
WEATHER = ("air_temperature", "air_pressure", "humidity")
DIRECTIONS = {"out": -0.5, "back": 0.5}


@dataclass(frozen=True, slots=True)
class PullSet:
    """All pulls compared, those before first, with what is known of the circumstances of each.

    `after` and `day` have one entry for each pull; `day` counts the days from 0 in the order of their labels.
    `covariates` holds those known of every pull, `missing` the others with the logs that lack them.
    """

    records: tuple[PullRecord, ...]
    after: NDArray[np.bool_]
    day: NDArray[np.intp]
    window: tuple[float, float]
    covariates: Mapping[str, Array]
    missing: Mapping[str, str]
    state: AirState
    at_the_stop: int
    """In how many pulls the wastegate had no control left. Boost is then a result, and no covariate."""

    def side(self, *, after: bool) -> tuple[PullRecord, ...]:
        """The pulls of one side."""
        return tuple(record for record, late in zip(self.records, self.after, strict=True) if late == after)

    def days(self, rows: NDArray[np.intp], *, after: bool) -> int:
        """On how many days the pulls `rows` of one side were made."""
        return len(np.unique(self.day[rows][self.after[rows] == after]))


@dataclass(frozen=True, slots=True)
class Model:
    """The design of one measure: columns are the level, the change, then `names`."""

    design: Design
    names: tuple[str, ...]
    moved: Array
    """Mean of each named covariate after less before, shape (len(names),)."""
    day_scatter: TypicalScatter
    run_scatter: TypicalScatter

    @property
    def change(self) -> Array:
        """The contrast that is the difference."""
        contrast = np.zeros(2 + len(self.names))
        contrast[1] = 1.0
        return contrast


def gather(before: Sequence[PullRecord], after: Sequence[PullRecord], car: Car, window: tuple[float, float]) -> PullSet:
    """Put both sides together with all that is known of each pull."""
    records = (*before, *after)
    at_the_stop = sum(_at_the_stop(record, window) for record in records)
    boosts = [_boost(record, window) for record in records]
    found = {name: [read(record) for record in records] for name, read in _readers(records).items()}
    if car.engine.aspiration != "none" and not at_the_stop:
        found["boost"] = boosts
    values, missing = _known_throughout(records, found)
    return PullSet(
        records=records,
        after=np.repeat([False, True], [len(before), len(after)]),
        day=_numbered([record.day for record in records]),
        window=window,
        covariates=MappingProxyType(values),
        missing=MappingProxyType(missing),
        state=_air_state(records, boosts, car),
        at_the_stop=at_the_stop,
    )


def model(
    pulls: PullSet, rows: NDArray[np.intp], prior: MeasurePrior, effects: Mapping[str, Effect], level: float
) -> Model:
    """Design of one measure for the pulls `rows`.

    Parameters
    ----------
    pulls : PullSet
    rows : (n,)
        The pulls that have the measure.
    prior : MeasurePrior
        Its usual scatter.
    effects : mapping of covariate to Effect
        In the measure's unit.
    level : float
        Mean of the measure, for scatter that is a percentage. [unit of the measure]
    """
    after = pulls.after[rows]
    columns, names, means, doubts, moved = [np.ones(len(rows)), after - 0.5], [], [0.0, 0.0], [np.inf, np.inf], []
    for name, effect in effects.items():
        if name not in pulls.covariates or np.ptp(pulls.covariates[name][rows]) == 0.0:
            continue
        value = pulls.covariates[name][rows]
        names.append(name)
        columns.append(value - value.mean())
        means.append(effect.mean)
        doubts.append(effect.doubt)
        moved.append(value[after].mean() - value[~after].mean())
    day_scatter, run_scatter = _widened(prior, effects, pulls.missing, level)
    return Model(
        design=Design(np.column_stack(columns), _numbered(pulls.day[rows]), np.array(means), np.array(doubts)),
        names=tuple(names),
        moved=np.array(moved),
        day_scatter=day_scatter,
        run_scatter=run_scatter,
    )


def value_at_start(record: PullRecord, channel: str) -> float | None:
    """What a channel read when full load was reached; None where it is not there."""
    trace = record.traces.get(channel)
    if trace is None:
        return None
    value = float(value_at(trace, np.array([record.pull.start_s]))[0])
    return value if np.isfinite(value) else None


def vapour_pressure(record: PullRecord) -> float | None:
    """Partial pressure of the air's water vapour in kPa; None where temperature or humidity is not known."""
    air = record.air
    if air.temperature_c is None or air.relative_humidity_pct is None:
        return None
    return float(moist_air.vapour_pressure(air.temperature_c + 273.15, air.relative_humidity_pct / 100.0)) / 1000.0


def _widened(
    prior: MeasurePrior, effects: Mapping[str, Effect], missing: Mapping[str, str], level: float
) -> tuple[TypicalScatter, TypicalScatter]:
    """Scatter between days and between pulls, with what the covariates that nobody knows may have done."""
    covariates = load_priors().covariates
    day, run = (prior.in_unit(scatter.median, level) ** 2 for scatter in (prior.day, prior.run))
    for name in missing:
        if name not in effects:
            continue
        per_unit = effects[name].mean ** 2 + effects[name].doubt ** 2
        # `day` of the table is the scatter of a difference of two days: half its variance belongs to each.
        day += per_unit * covariates[name].day ** 2 / 2.0
        run += per_unit * covariates[name].pull ** 2
    return replace(prior.day, median=float(np.sqrt(day))), replace(prior.run, median=float(np.sqrt(run)))


def _numbered(labels: ArrayLike) -> NDArray[np.intp]:
    """Days counted from 0, in the order of their labels."""
    return np.unique(np.asarray(labels), return_inverse=True)[1].astype(np.intp)


def _known_throughout(
    records: Sequence[PullRecord], found: Mapping[str, Sequence[float | None]]
) -> tuple[dict[str, Array], dict[str, str]]:
    """Covariates known of every pull, and of the others the logs that lack them."""
    values: dict[str, Array] = {}
    missing: dict[str, str] = {}
    labels = [record.day for record in records]
    for name, readings in found.items():
        filled = _fill_within_days(readings, labels) if name in WEATHER else readings
        unknown = [record for record, value in zip(records, filled, strict=True) if value is None]
        if unknown:
            missing[name] = _pulls_named(unknown, len(records))
        else:
            values[name] = np.array(filled, dtype=float)
    return values, missing


def _readers(records: Sequence[PullRecord]) -> dict[str, Callable[[PullRecord], float | None]]:
    """For each covariate, how it is read from one pull; None where it is not known."""
    charge = max(CHARGE_TEMPERATURES, key=lambda name: sum(name in record.traces for record in records))
    return {
        "air_temperature": lambda record: record.air.temperature_c,
        "air_pressure": lambda record: record.air.pressure_kpa,
        "humidity": vapour_pressure,
        "charge_temperature_start": lambda record: value_at_start(record, charge),
        "start_speed": lambda record: record.pull.rpm_start,
        "direction": lambda record: DIRECTIONS.get(record.direction or ""),
    }


def _boost(record: PullRecord, window: tuple[float, float]) -> float | None:
    try:
        return read_measure("boost.mean", record, window).value
    except CannotAnswer:
        return None


def _at_the_stop(record: PullRecord, window: tuple[float, float]) -> bool:
    try:
        return read_measure("wastegate_duty.peak", record, window).censored
    except CannotAnswer:
        return False


def _fill_within_days(values: Sequence[float | None], labels: Sequence[str]) -> list[float | None]:
    """Weather that is known of one pull of a day serves for the others of that day."""
    known: dict[str, list[float]] = {}
    for value, label in zip(values, labels, strict=True):
        if value is not None:
            known.setdefault(label, []).append(value)
    return [
        value if value is not None else float(np.mean(known[label])) if label in known else None
        for value, label in zip(values, labels, strict=True)
    ]


def _pulls_named(unknown: Sequence[PullRecord], count: int) -> str:
    if len(unknown) == count:
        return "any pull"
    return ", ".join(sorted({record.log.file for record in unknown}))


def _air_state(records: Sequence[PullRecord], boosts: Sequence[float | None], car: Car) -> AirState:
    pressures = [record.air.pressure_kpa for record in records if record.air.pressure_kpa is not None]
    known = [boost for boost in boosts if boost is not None]
    state = AirState(boost_kpa=float(np.mean(known)) if known else 0.0, fuel_limited=car.engine.fuel == "diesel")
    return replace(state, ambient_pressure_kpa=float(np.mean(pressures))) if pressures else state
