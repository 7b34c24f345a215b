"""What else differed between pulls: as it was read, as the model counts it, and what nobody knows.

Three things are counted otherwise than they are read, so that the effects of weather do not hang on one another.
A charge temperature counts by how far it lies above the air, because both rise together. Boost counts as absolute
pressure, because that is what the engine breathes and what most controllers hold. And the place of a pull in its
day counts less and less, because a car soaks up heat most quickly in the first pulls.
"""

import datetime
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pullproof.analysis.comparison.adjustments import USUAL_AIR_C, USUAL_PRESSURE_KPA, AirState
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import read_measure
from pullproof.physics import moist_air
from pullproof.timebase import value_at

__all__ = [
    "CHARGE_TEMPERATURES",
    "Covariates",
    "gather_covariates",
    "moment_of",
    "value_at_start",
    "vapour_pressure",
]

CHARGE_TEMPERATURES = ("charge_air_temperature", "intake_air_temperature")
WEATHER = ("air_temperature", "air_pressure", "humidity")
DIRECTIONS = {"out": -0.5, "back": 0.5}

SOAKING_PULLS = 3.0
"""After how many pulls two thirds of a session's warming is done. Common practice, no source."""

UNBLOWN, AT_THE_STOP, UNKNOWN = (1.0, 0.0), (2.0, 0.5), (0.5, 0.5)
"""Kilopascals of charge pressure per kilopascal of barometer, mean and doubt: without a charger; with a wastegate held
shut, where the pressure ratio stays; and where nobody knows whether the target is absolute (0) or gauge (1)."""


@dataclass(frozen=True, slots=True)
class Covariates:
    """Circumstances of n pulls."""

    known: Mapping[str, Array]
    """As read, known of every pull, each (n,)."""
    columns: Mapping[str, Array]
    """As the model counts them, each (n,)."""
    acts_as: Mapping[str, str]
    """Column to the covariate whose effect it has, where that is another: what stands in for what is not known."""
    missing: Mapping[str, str]
    """Covariates that are not known of every pull, with the logs that lack them."""
    widening: tuple[str, ...]
    """Covariates whose effect is added to the scatter, because no column carries it."""
    state: AirState
    """Mean state of all the pulls."""
    at_the_stop: int
    """In how many pulls the wastegate had no control left. Boost is then a result, and no covariate."""


def gather_covariates(
    records: Sequence[PullRecord],
    car: Car,
    window: tuple[float, float],
    moments: Mapping[str, datetime.datetime],
) -> Covariates:
    """Read every circumstance of every pull.

    Parameters
    ----------
    records : sequence of PullRecord
        All the pulls, those before first.
    car : Car
    window : (float, float)
        Engine speeds between which boost is read. [rpm]
    moments : mapping
        When each log was started, by file, where somebody wrote it down.
    """
    at_the_stop = sum(_at_the_stop(record, window) for record in records)
    boosts = [_boost(record, window) for record in records]
    found = {name: [read(record) for record in records] for name, read in _readers(records).items()}
    blown = car.engine.aspiration != "none"
    if blown and not at_the_stop:
        found["boost"] = boosts
    known, missing = _known_throughout(records, found)
    columns, acts_as, widening = _counted(known, missing)
    columns["order"] = _place_in_the_day(records, moments)
    return Covariates(
        known=MappingProxyType(known),
        columns=MappingProxyType(columns),
        acts_as=MappingProxyType(acts_as),
        missing=MappingProxyType(missing),
        widening=widening,
        state=AirState(
            ambient_pressure_kpa=_mean([record.air.pressure_kpa for record in records], USUAL_PRESSURE_KPA),
            boost_kpa=_mean(boosts, 0.0),
            fuel_limited=car.engine.fuel == "diesel",
            boost_follows=_boost_follows(known, blown=blown, at_the_stop=at_the_stop > 0),
            air_c=_mean([record.air.temperature_c for record in records], USUAL_AIR_C),
            start_rpm=_mean([record.pull.rpm_start for record in records], 0.0) or None,
        ),
        at_the_stop=at_the_stop,
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


def moment_of(record: PullRecord, moments: Mapping[str, datetime.datetime]) -> datetime.datetime | None:
    """When a pull began; None where nobody wrote down when its log was started."""
    start = moments.get(record.log.file)
    return None if start is None else start + datetime.timedelta(seconds=record.pull.start_s)


def _counted(
    known: Mapping[str, Array], missing: Mapping[str, str]
) -> tuple[dict[str, Array], dict[str, str], tuple[str, ...]]:
    """Columns, what they stand in for, and what has to widen the interval instead."""
    columns, acts_as, widening = dict(known), {}, list(missing)
    if "charge_temperature_start" in known:
        if "air_temperature" in known:
            columns["charge_temperature_start"] = known["charge_temperature_start"] - known["air_temperature"]
        else:
            acts_as["charge_temperature_start"] = "air_temperature"
            widening[widening.index("air_temperature")] = "charge_temperature_start"
    if "boost" in known and "air_pressure" in known:
        columns["boost"] = known["boost"] + known["air_pressure"]
    return columns, acts_as, tuple(widening)


def _boost_follows(known: Mapping[str, Array], *, blown: bool, at_the_stop: bool) -> tuple[float, float]:
    """How charge pressure goes with the barometer, as far as no column shows it: mean and doubt. [1]"""
    if "boost" in known:
        return (0.0, 0.0) if "air_pressure" in known else (1.0, 0.0)
    if not blown:
        return UNBLOWN
    return AT_THE_STOP if at_the_stop else UNKNOWN


def _place_in_the_day(records: Sequence[PullRecord], moments: Mapping[str, datetime.datetime]) -> Array:
    """Share of a session's soaking done before each pull, (n,). [1]

    By the time of day; in the order given, before and then after, where that is not known of every pull.
    """
    times = [moment_of(record, moments) for record in records]
    order = range(len(records)) if None in times else np.argsort(np.array(times, dtype="datetime64[ms]"), kind="stable")
    driven: dict[str, int] = {}
    place = np.zeros(len(records))
    for row in order:
        day = records[row].day
        place[row] = driven.get(day, 0)
        driven[day] = driven.get(day, 0) + 1
    soaked: Array = 1.0 - np.exp(-place / SOAKING_PULLS)
    return soaked


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


def _mean(values: Sequence[float | None], otherwise: float) -> float:
    known = [value for value in values if value is not None]
    return float(np.mean(known)) if known else otherwise
