"""Somebody who knows this car's true scatter and the true effect of the weather: the width nobody can beat honestly.

Each car is run many times with nothing changed, in one weather, started alike, on level road, with its hidden day and
run effects and the wind that nobody writes down, and logged by its own logger. The two standard deviations of every
measure follow by analysis of variance. The oracle's interval for a design is the normal one of generalised least
squares with these two known.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import norm

from validation.air import Air, density
from validation.batches import Array, join, take
from validation.calibration import steady_start
from validation.cars import Car
from validation.designs import CRUISE_SCATTER, DESIGNS, WIND, pick_gear
from validation.handover import oracle_sheet
from validation.loggers import Logger, record
from validation.measure import MEASURES, read_measures
from validation.runs import Driver, Road, Run
from validation.scatter import Liability, draw_day, draw_noise, draw_runs
from validation.simulate import Recording

__all__ = ["REPEAT_DAYS", "REPEAT_RUNS", "Scatter", "oracle_half_width", "repeats", "scatter_of"]

REPEAT_DAYS = 12
REPEAT_RUNS = 3


@dataclass(frozen=True, slots=True)
class Scatter:
    """A measure's standard deviations between runs of a day and between days; NaN where the car has no such measure."""

    run: float
    day: float


def repeats(rng: np.random.Generator, car: Car, liability: Liability) -> Run:
    """Every repeat of one calibrated car: `REPEAT_DAYS` days of `REPEAT_RUNS` runs."""
    count = REPEAT_DAYS * REPEAT_RUNS
    days = [draw_day(rng, liability) for _ in range(REPEAT_DAYS)]
    hidden = draw_runs(rng, liability, [day for day in days for _ in range(REPEAT_RUNS)])
    one = np.ones(count)
    redline = car.engine.redline[0]
    driver = Driver(
        start_speed=0.345 * redline * one,
        end_speed=0.96 * redline * one,
        gear=pick_gear(car) * one,
        press_time=2.0 * one,
        press_duration=rng.uniform(0.1, 0.45, count),
        cruise_pedal=18.0 + CRUISE_SCATTER * rng.normal(size=count),
        full_pedal=100.0 * one,
        lift_after=np.nan * one,
        lift_depth=40.0 * one,
        shift_speed=np.nan * one,
    )
    wind = np.repeat(rng.normal(0.0, WIND, REPEAT_DAYS), REPEAT_RUNS)
    road = Road(0 * one, 0 * one, 400.0 * one, 0 * one, wind, rng.uniform(0.3, 1.5) * one)
    air = Air(288.15 * one, 99.5e3 * one, 0.6 * one)
    return Run(join([car] * count), air, driver, road, steady_start(count), hidden, draw_noise(rng, count))


def scatter_of(
    recording: Recording, rows: range, run: Run, logger: Logger, rng: np.random.Generator
) -> dict[str, Scatter]:
    """The two standard deviations of every measure, from the repeats in `rows` as the logger saw them."""
    first = rows[0]
    redline = run.car.engine.redline[first]
    window = (0.6 * redline, 0.94 * redline)
    sheet = oracle_sheet(take(run.car, slice(first, first + 1)), 0, int(run.driver.gear[first]))
    rho = density(take(run.air, slice(first, first + 1)))[0]
    found = []
    for row in rows:
        sampled = record(recording, row, run, logger, rng)
        channels = dict(sampled.own)
        time, speed = channels["engine_speed"]
        channels["wheel_power"] = (time, sheet.power(time, speed, rho))
        channels["ambient_pressure"] = (time[:1], run.air.pressure[row : row + 1] * 1e-3)
        span = (recording.full_from[row] - sampled.started, recording.full_to[row] - sampled.started)
        found.append(read_measures(channels, span, window))
    return {name: _components(np.array([values[name] for values in found])) for name in MEASURES}


def _components(values: Array) -> Scatter:
    """Standard deviations between runs and between days, by analysis of variance of a balanced table."""
    table = values.reshape(REPEAT_DAYS, REPEAT_RUNS)
    if np.isnan(table).mean() > 0.1:
        return Scatter(np.nan, np.nan)
    whole = table[~np.isnan(table).any(axis=1)]
    within = whole.var(axis=1, ddof=1).mean()
    between = whole.mean(axis=1).var(ddof=1) - within / REPEAT_RUNS
    return Scatter(float(np.sqrt(within)), float(np.sqrt(max(between, 0.0))))


def oracle_half_width(design: str, scatter: Scatter, level: float = 0.95) -> float:
    """Half the width of the oracle's interval of a design."""
    blocks = DESIGNS[design]
    day = np.array([block.day for block in blocks for _ in range(block.pulls)])
    after = np.array([float(block.after) for block in blocks for _ in range(block.pulls)])
    same_day = day[:, None] == day[None, :]
    tiny = 1e-9 * (1.0 + scatter.day**2)
    covariance = (scatter.run**2 + tiny) * np.eye(len(day)) + scatter.day**2 * same_day
    design_matrix = np.column_stack([np.ones_like(after), after])
    information = design_matrix.T @ np.linalg.solve(covariance, design_matrix)
    return float(norm.ppf(0.5 + level / 2) * np.sqrt(np.linalg.inv(information)[1, 1]))
