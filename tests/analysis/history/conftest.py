"""Seasons drawn from the model itself: what the intervals promise can be counted there."""

import datetime
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np
import pytest

from pullproof.analysis.comparison.adjustments import AirState, effects
from pullproof.analysis.comparison.covariates import Covariates
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.readings import Readings
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.season import SeasonChange, SeasonDay, SeasonPull
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air
from pullproof.pulls import Pull
from pullproof.reading.log import Log

START = datetime.datetime.fromisoformat("2026-06-01T10:00")
LEVEL = 95.0


@dataclass(frozen=True)
class Plan:
    """Days with their builds: for each day a list of (build, pulls); changes are named by letters."""

    days: list[list[tuple[str, int]]]
    every: float = 7.0
    fitted: dict[str, datetime.datetime] = field(default_factory=dict)
    costs: dict[str, float] = field(default_factory=dict)

    @property
    def letters(self) -> list[str]:
        return sorted({letter for day in self.days for build, _ in day for letter in build} | set(self.fitted))

    def first(self, letter: str) -> datetime.datetime:
        if letter in self.fitted:
            return self.fitted[letter]
        for number, day in enumerate(self.days):
            if any(letter in build for build, _ in day):
                return START + datetime.timedelta(days=self.every * number)
        return START


def pulls_of(plan: Plan, weather: dict[str, np.ndarray] | None = None) -> SeasonPulls:
    """The plan's pulls without any log; `weather` has a value for each pull."""
    rows = [(number, build) for number, day in enumerate(plan.days) for build, count in day for _ in range(count)]
    days = tuple(
        SeasonDay(f"day {number + 1}", START + datetime.timedelta(days=plan.every * number))
        for number in range(len(plan.days))
    )
    changes = tuple(
        SeasonChange(letter, plan.first(letter), cost=plan.costs.get(letter), currency="EUR") for letter in plan.letters
    )
    changes = tuple(sorted(changes, key=lambda change: change.fitted))
    pulls = tuple(_pull(place, days[number], build) for place, (number, build) in enumerate(rows))
    columns = {name: np.asarray(values, dtype=float) for name, values in (weather or {}).items()}
    return SeasonPulls(
        car=Car("invented"),
        changes=changes,
        days=days,
        pulls=pulls,
        day=np.array([number for number, _ in rows]),
        fitted=np.array([[change.name in build for change in changes] for _, build in rows], dtype=bool).reshape(
            len(rows), len(changes)
        ),
        covariates=Covariates(
            known=columns, columns=columns, acts_as={}, missing={}, widening=(), state=STATE, at_the_stop=0
        ),
        window=(4000.0, 6500.0),
        refused=(),
        doubts=(),
    )


STATE = AirState(ambient_pressure_kpa=99.5, boost_kpa=130.0)


def _pull(place: int, day: SeasonDay, build: str) -> SeasonPull:
    file = f"{day.label} {place}.csv"
    record = PullRecord(
        pull=Pull(file, 10.0, 18.0, 3, 2500.0, 6600.0, used=True),
        log=Log(file, 100, 30.0, "utf-8", ",", ".", (), {}),
        day=day.label,
        air=Air(),
        direction=None,
        traces=MappingProxyType({}),
        left_out=MappingProxyType({}),
    )
    return SeasonPull(record, frozenset(build), day.when)


@dataclass(frozen=True)
class Drawn:
    """A season with what was really put in."""

    pulls: SeasonPulls
    readings: Readings
    truth: dict[str, float]
    run: float
    day: float


def draw(
    rng: np.random.Generator,
    plan: Plan,
    truth: dict[str, float] | None = None,
    *,
    measure: str = "wastegate_duty.peak",
    step: tuple[int, float] | None = None,
    drift_per_day: float = 0.0,
    scatter: tuple[float, float] | None = None,
) -> Drawn:
    """Draw scatter, weather, effects of the weather, days and pulls as the model says they are.

    `scatter` is run and day in place of a draw from the priors; `step` adds its second value from that day on.
    """
    prior = load_priors().measures[measure]
    count = sum(pulls for day in plan.days for _, pulls in day)
    number = np.concatenate([[n] * pulls for n, day in enumerate(plan.days) for _, pulls in day]).astype(int)
    weather = {
        "air_temperature": rng.normal(20.0, 6.0, len(plan.days))[number] + rng.normal(0.0, 0.5, count),
        "air_pressure": rng.normal(99.5, 0.7, len(plan.days))[number],
    }
    pulls = pulls_of(plan, weather)
    truth = truth or {change.name: float(rng.normal(0.0, 2.0)) for change in pulls.changes}
    run, day = scatter or (_scatter(rng, prior.run), _scatter(rng, prior.day))
    values = LEVEL + run * rng.normal(size=count) + (day * rng.normal(size=len(plan.days)))[number]
    found = effects(measure, prior, STATE, LEVEL)
    for name, column in weather.items():
        values = values + rng.normal(found[name].mean, found[name].doubt) * (column - column.mean())
    for place, change in enumerate(pulls.changes):
        values = values + truth[change.name] * pulls.fitted[:, place]
    values = values + drift_per_day * pulls.elapsed
    if step is not None:
        values = values + step[1] * (number >= step[0])
    return Drawn(pulls, readings_of(values, measure), truth, run, day)


def readings_of(values: np.ndarray, measure: str = "wastegate_duty.peak") -> Readings:
    values = np.asarray(values, dtype=float)
    return Readings(measure, np.arange(len(values)), values, np.zeros(len(values), dtype=bool), ())


def _scatter(rng: np.random.Generator, prior) -> float:
    """From the prior: normal in the logarithm below its median, Student's t above."""
    axis = np.linspace(*prior.span, 2001)
    density = np.exp(prior.log_density(axis))
    return float(np.exp(rng.choice(axis, p=density / density.sum())))


class Tools:
    """The pieces above under one name, for tests to ask for."""

    Plan = Plan
    pulls_of, draw, readings_of = staticmethod(pulls_of), staticmethod(draw), staticmethod(readings_of)


@pytest.fixture(scope="session")
def tools() -> type[Tools]:
    return Tools
