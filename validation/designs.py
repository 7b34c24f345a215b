"""Comparisons as people make them: which pulls on which days, in what weather, with what changed in between."""

import datetime
from dataclasses import dataclass, replace

import numpy as np

from validation.air import Air, site_pressure
from validation.batches import Array, join
from validation.cars import Car
from validation.changes import Change, apply, draw_change
from validation.handover import Recorded
from validation.runs import Driver, Road, Run, Start
from validation.scatter import Liability, draw_day, draw_noise, draw_runs

__all__ = ["CRUISE_SCATTER", "DESIGNS", "WIND", "Order", "Trial", "draw_trial", "pick_gear"]

CRUISE_SCATTER = 1.2
"""Pedal before the pull, from pull to pull on one road. [%]"""
WIND = 1.8
"""Head wind from day to day, which nobody writes down. [m/s]"""


@dataclass(frozen=True, slots=True)
class Block:
    """Some pulls in a row on one day."""

    day: int
    after: bool
    pulls: int


def _blocks(*blocks: tuple[int, bool, int]) -> tuple[Block, ...]:
    return tuple(Block(*block) for block in blocks)


DESIGNS: dict[str, tuple[Block, ...]] = {
    "1+1, one day": _blocks((0, False, 1), (0, True, 1)),
    "1+1, two days": _blocks((0, False, 1), (1, True, 1)),
    "3+3, one day": _blocks((0, False, 3), (0, True, 3)),
    "3+3, two days": _blocks((0, False, 3), (1, True, 3)),
    "before-after-before, three days": _blocks((0, False, 2), (1, True, 2), (2, False, 2)),
    "6+6, six days": _blocks((0, False, 2), (1, False, 2), (2, False, 2), (3, True, 2), (4, True, 2), (5, True, 2)),
}
"""Blocks of pulls by name."""


@dataclass(frozen=True, slots=True)
class Order:
    """What is asked for: design, weather (`like` or `unlike`), the kind of change and the scenario."""

    design: str
    weather: str
    kind: str
    scenario: str = "plain"
    size: float | None = None
    """Size of the change; drawn where None."""


@dataclass(frozen=True, slots=True)
class Trial:
    """One comparison, ready to be simulated. Rows of `run` are pulls in the order in which they were driven."""

    order: Order
    change: Change
    run: Run
    before: Car
    after: Car
    is_after: "np.ndarray[tuple[int], np.dtype[np.bool_]]"
    day: "np.ndarray[tuple[int], np.dtype[np.int64]]"
    recorded: tuple[Recorded, ...]
    weather_gap: float
    """Mean ambient temperature after less before. [K]"""


def pick_gear(car: Car) -> int:
    """The gear of 2 to 4 in which a pull takes about six seconds."""
    vehicle, engine = car.vehicle, car.engine
    power = 0.75 * engine.air_design[0] * 0.9e6
    best, miss = 3, np.inf
    for gear in (2, 3, 4):
        top = engine.redline[0] * np.pi / 30 / (vehicle.gear_ratios[0, gear - 1] * vehicle.final_drive[0])
        speed = top * vehicle.tyre_radius[0]
        seconds = 1.2 * vehicle.mass[0] * speed**2 * (0.94**2 - 0.35**2) / 2 / power
        if abs(np.log(seconds / 6.0)) < miss:
            best, miss = gear, abs(np.log(seconds / 6.0))
    return best


def draw_trial(rng: np.random.Generator, order: Order, car: Car, liability: Liability) -> Trial:
    """A comparison of a calibrated car (one row)."""
    blocks = DESIGNS[order.design]
    days = np.array([block.day for block in blocks for _ in range(block.pulls)])
    is_after = np.array([block.after for block in blocks for _ in range(block.pulls)])
    count = len(days)
    change = draw_change(rng, order.kind) if order.size is None else Change(order.kind, order.size)
    after = apply(car, [change])
    air, recorded_air = _weather(rng, order, days, is_after)
    # Nobody who makes one pull a side makes one out and the other back.
    turned = rng.random() < 0.4 and count > 2
    way = np.where(turned & (np.arange(count) % 2 == 1), -1.0, 1.0)
    hidden_days = [draw_day(rng, liability) for _ in range(int(days.max()) + 1)]
    hidden = draw_runs(rng, liability, [hidden_days[day] for day in days])
    run = Run(
        join([after if flag else car for flag in is_after]),
        air,
        _driver(rng, car, count),
        _road(rng, days, way),
        _start(rng, days),
        hidden,
        draw_noise(rng, count),
    )
    run = _scenario(rng, order, run, is_after)
    gap = float(air.temperature[is_after].mean() - air.temperature[~is_after].mean())
    recorded = _recorded(rng, days, recorded_air, way if turned else None)
    return Trial(order, change, run, car, after, is_after, days, recorded, gap)


def _weather(
    rng: np.random.Generator, order: Order, days: Array, is_after: Array
) -> tuple[Air, tuple[Array, Array, Array]]:
    """True air of every pull, and what an owner's thermometer and weather service said of it."""
    count, outings = len(days), int(days.max()) + 1
    base = rng.uniform(-8.0, 36.0)
    means = base + rng.normal(0.0, 1.0, outings)
    if order.weather == "unlike":
        step = rng.uniform(9.5, 20.0) * (1 if base < 14 else -1)
        after_days = np.unique(days[is_after.astype(bool)])
        means[after_days] = base + step + rng.normal(0.0, 0.5, len(after_days))
        others = np.setdiff1d(np.arange(outings), after_days)
        means[others] = base + rng.normal(0.0, 0.5, len(others))
    drift = rng.normal(0.0, 1.0, outings)
    part = np.linspace(-0.5, 0.5, count)
    celsius = np.clip(means[days] + drift[days] * part + rng.normal(0.0, 0.2, count), -11.0, 39.0)
    altitude = rng.uniform(0.0, 300.0) if rng.random() < 0.6 else rng.uniform(300.0, 1500.0)
    mean_pressure = site_pressure(np.array([altitude]))[0]
    pressure = mean_pressure * (1.0 + rng.normal(0.0, 0.008, outings))[days]
    humidity = np.clip(rng.uniform(0.3, 0.95, outings)[days] - 0.01 * (celsius - means[days]), 0.15, 1.0)
    read = (
        celsius + rng.normal(0.0, 0.6, outings)[days] + rng.normal(0.0, 0.2, count),
        1e-3 * pressure + rng.normal(0.0, 0.1, outings)[days],
        np.clip(100.0 * humidity + rng.normal(0.0, 6.0, outings)[days], 5.0, 100.0),
    )
    return Air(celsius + 273.15, pressure, humidity), read


def _driver(rng: np.random.Generator, car: Car, count: int) -> Driver:
    redline = car.engine.redline[0]
    start = redline * rng.uniform(0.29, 0.40)
    end = redline * rng.uniform(0.93, 0.98)
    never = np.full(count, np.nan)
    return Driver(
        start_speed=start + redline * 0.02 * rng.normal(size=count),
        end_speed=np.minimum(end + redline * 0.008 * rng.normal(size=count), 0.99 * redline),
        gear=np.full(count, float(pick_gear(car))),
        press_time=rng.uniform(2.0, 3.0, count),
        press_duration=rng.uniform(0.1, 0.45, count),
        cruise_pedal=rng.uniform(13.0, 23.0) + CRUISE_SCATTER * rng.normal(size=count),
        full_pedal=np.full(count, 100.0 if rng.random() < 0.8 else rng.uniform(86.0, 99.0)),
        lift_after=never,
        lift_depth=np.full(count, 40.0),
        shift_speed=never,
    )


def _road(rng: np.random.Generator, days: Array, way: Array) -> Road:
    count = len(days)
    wind = rng.normal(0.0, WIND, int(days.max()) + 1)[days]
    return Road(
        grade=np.full(count, np.clip(rng.normal(0.0, 0.004), -0.012, 0.012)) * way,
        undulation=np.full(count, rng.uniform(0.0, 0.003)),
        wavelength=np.full(count, rng.uniform(200.0, 600.0)),
        phase=np.full(count, rng.uniform(0.0, 6.28)),
        wind=wind * way,
        gust=np.full(count, rng.uniform(0.3, 1.5)),
    )


def _start(rng: np.random.Generator, days: Array) -> Start:
    """Heat builds up over a session, pull by pull."""
    count = len(days)
    number = np.array([np.count_nonzero(days[:index] == days[index]) for index in range(count)])
    soaked = 1.0 - np.exp(-number / 2.5)
    return Start(
        core_excess=rng.uniform(3.0, 7.0) + rng.uniform(1.0, 8.0) * soaked + 1.2 * rng.normal(size=count),
        housing_excess=np.abs(rng.normal(0.0, 2.0, count)),
        wall=790.0 + 40.0 * soaked + 20.0 * rng.normal(size=count),
    )


def _scenario(rng: np.random.Generator, order: Order, run: Run, is_after: Array) -> Run:
    """What a scenario adds to a plain comparison."""
    count = len(is_after)
    if order.scenario == "one outlier":
        odd = np.zeros(count)
        odd[rng.integers(count)] = 1.0
        sign = 1.0 if rng.random() < 0.5 else -1.0
        hidden = replace(
            run.hidden,
            preload=run.hidden.preload + 3500.0 * sign * odd,
            work=run.hidden.work - 0.04 * odd,
            pressure_sensor=run.hidden.pressure_sensor + 2500.0 * sign * odd,
        )
        return replace(run, hidden=hidden)
    if order.scenario == "another gear":
        other = run.driver.gear[0] + (1.0 if run.driver.gear[0] < 4 else -1.0)
        return replace(run, driver=replace(run.driver, gear=np.where(is_after, other, run.driver.gear)))
    return run


def _recorded(
    rng: np.random.Generator, days: Array, read: tuple[Array, Array, Array], way: Array | None
) -> tuple[Recorded, ...]:
    """What the owner writes down: 80 % note the weather in full, the others temperature only."""
    full = rng.random() < 0.8
    start = datetime.datetime.fromisoformat("2026-03-01T15:00") + datetime.timedelta(days=int(rng.integers(200)))
    gaps = np.cumsum(rng.integers(1, 20, int(days.max()) + 1))
    rows = []
    for index, day in enumerate(days):
        when = start + datetime.timedelta(days=int(gaps[day]), minutes=9 * index)
        rows.append(
            Recorded(
                file=f"log-{index + 1:02d}.csv",
                when=when,
                day=f"day {int(day) + 1}",
                temperature_c=round(float(read[0][index]), 1),
                pressure_kpa=round(float(read[1][index]), 1) if full else None,
                humidity_pct=round(float(read[2][index]), 0) if full else None,
                direction=None if way is None else ("out" if way[index] > 0 else "back"),
            )
        )
    return tuple(rows)
