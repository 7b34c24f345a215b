"""From logs to the two coefficients of a car, with the doubt of everything they rest on."""

import dataclasses
from collections.abc import Sequence
from typing import Any

import numpy as np

from pullproof.analysis.coastdown.checks import condition_checks
from pullproof.analysis.coastdown.fit import Fit, Setting, fit_runs
from pullproof.analysis.coastdown.result import CoastDown, Estimate
from pullproof.analysis.coastdown.runs import Run, find_runs
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.conditions import Air, ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.physics.road_load import GRAVITY, rolling_resistance_at
from pullproof.reading.log import Log
from pullproof.tractive_power import Given
from pullproof.tractive_power.given import HALF_WIDTH, MASS_DOUBT, air_density

__all__ = ["coast_down"]

LEVEL = 0.95

OUT_OF_GEAR_FACTOR = Given(
    "rotating mass factor", 1.03, 0.015 / HALF_WIDTH, "1", "3 % out of gear by the WLTP regulation, from memory"
)

SPEED_SCALE = Given("scale of road speed", 0.0, 0.02 / HALF_WIDTH, "1", "common practice without source")

WAYS_NOT_KNOWN = (
    "the directions of the runs are not known, so slope and wind do not cancel: state direction for each log in the "
    "conditions file, or log latitude and longitude"
)

WAYS_TOLD_APART = (
    "nobody said which runs go out and which back: they fall into two groups by how fast they slow down, taken for the "
    "two ways; state direction for each log in the conditions file to be sure"
)
ONE_WAY = "one run in one direction: the slope of the road goes straight into the rolling resistance"
NOT_ONE_ROAD = "the runs are not on one straight road: each should go out or back on the same"

# Runs whose straight lines over the ground are within 45 degrees go one way.
_ALONG = 0.7
# Times what gusts and an uneven road explain.
_SURPRISING = 1.8


def coast_down(logs: Sequence[Log], car: Car, conditions: ConditionsSheet | None = None) -> CoastDown:
    """Rolling resistance and drag area from the coast-downs in one or more logs.

    Parameters
    ----------
    logs : sequence of Log
        Each may hold any number of coast-downs among other driving.
    car : Car
        For its mass.
    conditions : ConditionsSheet, optional
        Air and direction of each log; a log's own ambient channels and positions serve where it is silent.

    Raises
    ------
    CannotAnswer
        The car has no mass, or no log holds a coast-down; the sentence says what was refused and why.
    """
    if car.mass_kg is None:
        raise CannotAnswer(
            "a coast-down gives forces per mass, and the car sheet does not say the mass",
            where=car.name,
            advice="Weigh the car with fuel and people and add mass_kg = 1510 (your figure) to the car sheet.",
        )
    sheet = ConditionsSheet() if conditions is None else conditions
    found = [dataclasses.replace(run, direction=sheet.of(log.file).direction) for log in logs for run in find_runs(log)]
    runs = tuple(run for run in found if run.used)
    if not runs:
        raise _nothing_found(logs, found)
    air = _mean_air([_air_of(log, sheet.of(log.file).air) for log in logs])
    mass = _mass(car, car.mass_kg)
    density = air_density(air)
    ways, doubt = _ways(runs)
    setting = Setting(
        mass=mass.value,
        effective_mass=mass.value * OUT_OF_GEAR_FACTOR.value,
        air_density=density.value,
        ways=ways,
        gradients=tuple(run.way.gradient for run in runs),
    )
    fit = fit_runs(runs, setting)
    if doubt == WAYS_NOT_KNOWN:
        setting, fit, doubt = _told_apart(runs, setting, fit)
    covariance = fit.covariance + _of_inputs(fit, mass, density)
    return _result(
        fit,
        covariance,
        setting,
        found=tuple(found),
        runs=runs,
        air=air,
        inputs=(mass, OUT_OF_GEAR_FACTOR, density, SPEED_SCALE),
        doubts=((doubt,) if doubt else ()) + _doubts(fit, runs, logs),
    )


def _nothing_found(logs: Sequence[Log], found: Sequence[Run]) -> CannotAnswer:
    files = ", ".join(log.file for log in logs)
    if found:
        first = found[0]
        what = f"no coast-down can be used; the one at {first.start_s:.0f} s of {first.log}: {first.reason}"
    else:
        what = "no coast-down found: from 60 km/h or more, road speed nowhere falls by 30 km/h by itself"
    return CannotAnswer(
        what, where=files, advice="From 110 km/h or more, coast in neutral to below 30 km/h without braking, both ways."
    )


def _mass(car: Car, mass: float) -> Given:
    stated = car.doubts.get("mass_kg")
    return Given("mass", mass, MASS_DOUBT * mass if stated is None else stated / HALF_WIDTH, "kg", "car sheet")


def _air_of(log: Log, said: Air) -> Air:
    """What the user says of the air, else the median of the log's ambient channels."""
    found: dict[str, Any] = {}
    for quantity, channel in (("temperature_c", "ambient_temperature"), ("pressure_kpa", "ambient_pressure")):
        if getattr(said, quantity) is None and channel in log.traces:
            values = log.traces[channel].values
            if np.isfinite(values).any():
                found[quantity] = float(np.nanmedian(values))
    return dataclasses.replace(said, **found)


def _mean_air(airs: Sequence[Air]) -> Air:
    def mean(quantity: str) -> float | None:
        known = [getattr(air, quantity) for air in airs if getattr(air, quantity) is not None]
        return float(np.mean(known)) if known else None

    return Air(mean("temperature_c"), mean("pressure_kpa"), mean("relative_humidity_pct"))


def _ways(runs: Sequence[Run]) -> tuple[tuple[int, ...], str]:
    """Way of each run, by what the user says or by positions, and a doubt; all one way where that is not known."""
    if all(run.direction is not None for run in runs):
        return tuple(1 if run.direction == "out" else -1 for run in runs), ""
    ground = [(run.way.east, run.way.north) for run in runs]
    if all(east is not None and north is not None for east, north in ground):
        vectors = np.array(ground, dtype=np.float64)
        vectors /= np.maximum(np.linalg.norm(vectors, axis=1, keepdims=True), 1e-9)
        along = vectors @ vectors[0]
        if np.all(np.abs(along) > _ALONG):
            return tuple(1 if value > 0 else -1 for value in along), ""
        return (1,) * len(runs), NOT_ONE_ROAD
    return (1,) * len(runs), WAYS_NOT_KNOWN if len(runs) > 1 else ONE_WAY


def _told_apart(runs: tuple[Run, ...], setting: Setting, fit: Fit) -> tuple[Setting, Fit, str]:
    """Out and back told by the runs themselves, where they fall into two groups; else what was given."""
    middle = 0.5 * (np.max(fit.departures) + np.min(fit.departures))
    split = dataclasses.replace(setting, ways=tuple(1 if force > middle else -1 for force in fit.departures))
    again = fit_runs(runs, split)
    if fit.restlessness > _SURPRISING and again.restlessness < 0.5 * fit.restlessness:
        return split, again, WAYS_TOLD_APART
    return setting, fit, WAYS_NOT_KNOWN


def _of_inputs(fit: Fit, mass: Given, density: Given) -> Array:
    """Covariance (2, 2) from mass, rotating parts, air density and the scale of speed.

    Rolling resistance goes with m_e/m and the speed's scale; drag area with m_e over density and over that scale.
    """
    rolling, area = fit.rolling_resistance, fit.drag_area
    effects = [
        (0.0, area * mass.doubt / mass.value),
        (rolling * OUT_OF_GEAR_FACTOR.doubt, area * OUT_OF_GEAR_FACTOR.doubt),
        (0.0, area * density.doubt / density.value),
        (rolling * SPEED_SCALE.doubt, -area * SPEED_SCALE.doubt),
    ]
    stacked = np.array(effects)
    return np.asarray(stacked.T @ stacked)


def _result(
    fit: Fit,
    covariance: Array,
    setting: Setting,
    *,
    found: tuple[Run, ...],
    runs: tuple[Run, ...],
    air: Air,
    inputs: tuple[Given, ...],
    doubts: tuple[str, ...],
) -> CoastDown:
    rolling_doubt, area_doubt = (float(value) for value in np.sqrt(np.diag(covariance)))
    both_ways = len(set(setting.ways)) == 2
    at_20_c = None
    if air.temperature_c is not None:
        # The coefficient at 20 degC is the day's, divided by what one at 20 degC becomes on that day.
        change = float(rolling_resistance_at(1.0, air.temperature_c + 273.15))
        at_20_c = fit.rolling_resistance / change
    return CoastDown(
        rolling_resistance=_estimate(fit.rolling_resistance, rolling_doubt, "1"),
        drag_area_m2=_estimate(fit.drag_area, area_doubt, "m2"),
        correlation=float(covariance[0, 1]) / (rolling_doubt * area_doubt),
        rolling_resistance_at_20_c=at_20_c,
        constant_force_n=setting.mass * GRAVITY * fit.rolling_resistance,
        quadratic_force_n=0.5 * setting.air_density * fit.drag_area * (100.0 / 3.6) ** 2,
        wind_m_s=fit.wind if both_ways else None,
        gradient=fit.gradient if both_ways else None,
        speed_range_kmh=(
            3.6 * min(float(run.speed[-1]) for run in runs),
            3.6 * max(float(run.speed[0]) for run in runs),
        ),
        runs=found,
        checks=condition_checks(runs, setting.ways, fit, air.temperature_c),
        inputs=inputs,
        doubts=doubts,
    )


def _estimate(value: float, doubt: float, unit: str) -> Estimate:
    return Estimate(value, value - HALF_WIDTH * doubt, value + HALF_WIDTH * doubt, LEVEL, unit)


def _doubts(fit: Fit, runs: Sequence[Run], logs: Sequence[Log]) -> tuple[str, ...]:
    lines = []
    if any("engine_speed" not in log.traces for log in logs):
        lines.append("without engine speed in the log nothing shows that the car coasted in neutral")
    if fit.restlessness > _SURPRISING:
        lines.append(
            "the runs differ among themselves by more than gusts and an uneven road explain: a slope that changes "
            "along the stretch, a brake, a tyre warming up"
        )
    if not (0.004 < fit.rolling_resistance < 0.03):
        lines.append(f"a rolling resistance of {fit.rolling_resistance:.4f} is no car's: the road is not level")
    if max(float(run.speed[0]) for run in runs) < 25.0:
        lines.append("no run begins above 90 km/h, where drag is large: the drag area is poorly known")
    return tuple(lines)
