"""Write the demo's season into a folder: logs, car sheet, conditions of each log, and what was changed when."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TypeAlias

import numpy as np

from pullproof.demo.car import DemoCar
from pullproof.demo.logger import write_log
from pullproof.demo.season_sheets import season_conditions, season_sheet
from pullproof.demo.season_story import CHANGES, DAYS, OUTINGS, SeasonOuting, build, first_car
from pullproof.demo.sheets import car_sheet
from pullproof.demo.simulator import Drive, simulate_drive
from pullproof.demo.true_effect import without_chance
from pullproof.demo.weather import Weather
from pullproof.demo.weekends import as_found

__all__ = ["SEASON_SEED", "SeasonFiles", "SeasonTruth", "fitted_for", "make_season", "season_drives", "season_truth"]

SEASON_SEED = 3

WINDOW = (4080.0, 6550.0)
"""Engine speeds over which the true effects are taken: from 60 % of the redline to the end of the pulls. [rpm]"""

Readings: TypeAlias = Mapping[str, float]
"""Measure id to its value, in the contract's units."""

WHOLE = ("boost.mean", "boost.peak")
"""What a change did to boost itself is never taken out."""

RAISED_PA = 3e3
"""How far the boost target is raised to see what a kilopascal does to the other measures."""


@dataclass(frozen=True, slots=True)
class SeasonFiles:
    """What `make_season` wrote."""

    folder: Path
    car_sheet: Path
    conditions: Path
    season: Path
    """Changes and test days; names the other files."""
    logs: tuple[Path, ...]


@dataclass(frozen=True, slots=True)
class SeasonTruth:
    """What each change really did, by measure id, in the contract's units, at the mean weather of the season.

    `whole` is the plain difference of the car with the change and without. `equal_boost` is what is left of it once
    the part by way of the boost achieved is taken out, as a comparison takes it.
    """

    whole: Mapping[str, Mapping[str, float]]
    equal_boost: Mapping[str, Mapping[str, float]]


def make_season(folder: Path, seed: int = SEASON_SEED) -> SeasonFiles:
    """Write the season into a folder, which is made if need be. The same seed gives the same files byte for byte.

    Raises
    ------
    OSError
        The folder or a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    for number, (outing, drive) in enumerate(season_drives(seed)):
        write_log(drive, outing.style, folder / outing.file, np.random.default_rng([seed, 12, number]))
    files = SeasonFiles(
        folder,
        folder / "car.toml",
        folder / "conditions.toml",
        folder / "season.toml",
        tuple(folder / outing.file for outing in OUTINGS),
    )
    for path, text in (
        (files.car_sheet, car_sheet(first_car())),
        (files.conditions, season_conditions(OUTINGS, CHANGES)),
        (files.season, season_sheet(CHANGES, DAYS)),
    ):
        path.write_text(text, encoding="utf-8", newline="\n")
    return files


def season_drives(seed: int) -> list[tuple[SeasonOuting, Drive]]:
    """Every outing as it was driven."""
    day_car = {
        day.label: as_found(first_car(), np.random.default_rng([seed, 10, number])) for number, day in enumerate(DAYS)
    }
    driven = []
    for number, outing in enumerate(OUTINGS):
        car = build(day_car[outing.day], fitted_for(outing))
        rng = np.random.default_rng([seed, 11, number])
        driven.append((outing, simulate_drive(car, outing.weather, outing.script, rng)))
    return driven


def fitted_for(outing: SeasonOuting) -> frozenset[str]:
    """Names of the changes that were on the car when a log was started."""
    return frozenset(
        change.name
        for change in CHANGES
        if change.fitted <= outing.when and (change.removed is None or outing.when < change.removed)
    )


def season_truth() -> SeasonTruth:
    """Each change switched on and off in the same air, on the car as it was when the change was made."""
    air, on = mean_weather(), frozenset[str]()
    whole: dict[str, Mapping[str, float]] = {}
    equal: dict[str, Mapping[str, float]] = {}
    clean: dict[frozenset[str], tuple[Readings, Readings]] = {}
    for change in CHANGES:
        late = on | {change.name}
        for names in (on, late):
            if names not in clean:
                car = build(first_car(), names)
                clean[names] = without_chance(car, air, WINDOW), without_chance(_raised(car), air, WINDOW)
        (old, old_raised), (new, new_raised) = clean[on], clean[late]
        found = _less(new, old)
        whole[change.name] = found
        equal[change.name] = _at_equal_boost(found, _less(old_raised, old), _less(new_raised, new))
        if change.removed is None:
            on = late
    return SeasonTruth(whole, equal)


def _less(one: Readings, other: Readings) -> Readings:
    return {measure: value - other[measure] for measure, value in one.items()}


def _at_equal_boost(found: Readings, *raised: Readings) -> Readings:
    """Without what the difference in mean boost did, at the mean of both cars' effects of a kilopascal."""
    per_kpa = {measure: float(np.mean([step[measure] / step["boost.mean"] for step in raised])) for measure in found}
    return {
        measure: value if measure in WHOLE else value - found["boost.mean"] * per_kpa[measure]
        for measure, value in found.items()
    }


def _raised(car: DemoCar) -> DemoCar:
    target = tuple((speed, value + RAISED_PA) for speed, value in car.control.charge_pressure_target)
    return replace(car, control=replace(car.control, charge_pressure_target=target))


def mean_weather() -> Weather:
    """Mean over all the pulls that count."""
    counts = [sum(pull.lift_at is None for pull in outing.pulls) for outing in OUTINGS]

    def mean(name: str) -> float:
        return float(np.average([getattr(outing.weather, name) for outing in OUTINGS], weights=counts))

    return Weather(mean("temperature_c"), mean("pressure_kpa"), mean("humidity_pct"), mean("headwind"))
