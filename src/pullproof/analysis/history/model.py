"""The model of one measure over a season: which column stands for what, and the posterior.

    y = level + changes + circumstances + slow trend (+ a step) + day + pull

Changes and level are flat beforehand; circumstances have physics priors, the trend a shrinking one. Columns stand in
that order.
"""

from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.design import widened
from pullproof.analysis.comparison.reading_limits import expected
from pullproof.analysis.comparison.readings import Readings
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.result import Estimate
from pullproof.arrays import Array
from pullproof.stats.mixed_model import Design, Posterior, fit
from pullproof.stats.mixture import NormalMixture
from pullproof.stats.scatter import TypicalScatter

__all__ = ["Clock", "Fitted", "SeasonDesign", "design_of", "estimate_of", "fit_season"]

DRIFT_DOUBT = 0.3
"""Standard deviation of a car's slow change over 1000 km or 30 days, in usual scatters between days: a filter fills, a
plug wears. Common practice, no source."""

STEP_REACH = 4.0
"""Standard deviation of a step that nobody wrote down, in usual scatters between days: a hose that slips off, a split
pipe. Common practice, no source."""

SHORTEST_DAYS, SHORTEST_KM = 7.0, 200.0
"""A season shorter than this shows no slow trend that is worth a column."""


@dataclass(frozen=True, slots=True)
class Clock:
    """What the slow trend is counted by, of each pull of the season."""

    per: Literal["1000 km", "30 days"]
    reading: Array
    """In units of `per`, from the middle of the season, (n,)."""


def clock_of(pulls: SeasonPulls) -> Clock | None:
    """By the odometer where every day has one, else by date; None for a season too short or without dates."""
    driven, elapsed = pulls.driven, pulls.elapsed
    if driven is not None and np.ptp(driven) >= SHORTEST_KM:
        return Clock("1000 km", (driven - driven.mean()) / 1000.0)
    if elapsed is not None and np.ptp(elapsed) >= SHORTEST_DAYS:
        return Clock("30 days", (elapsed - elapsed.mean()) / 30.0)
    return None


@dataclass(frozen=True, slots=True)
class SeasonDesign:
    """Columns of one measure: the level, `changes`, `names` of circumstances, then the trend and the step if any."""

    matrix: Array
    group: NDArray[np.intp]
    prior_mean: Array
    prior_deviation: Array
    changes: int
    names: tuple[str, ...]
    acts_as: tuple[str, ...]
    """Covariate whose effect each circumstance has."""
    clock: Clock | None
    step: bool
    day_scatter: TypicalScatter
    run_scatter: TypicalScatter

    @property
    def flat(self) -> Array:
        """Level and changes: what is flat beforehand, (n, 1 + changes)."""
        return self.matrix[:, : 1 + self.changes]

    @property
    def circumstances(self) -> slice:
        """Where the circumstances stand."""
        first = 1 + self.changes
        return slice(first, first + len(self.names))

    @property
    def drift_at(self) -> int | None:
        """Column of the slow trend."""
        return None if self.clock is None else 1 + self.changes + len(self.names)

    @property
    def step_at(self) -> int | None:
        """Column of the step."""
        return self.matrix.shape[1] - 1 if self.step else None

    def contrast(self, weights: Array, *, first: int = 0) -> Array:
        """A weight for each column from `first` on, and none for the others."""
        row = np.zeros(self.matrix.shape[1])
        row[first : first + len(weights)] = weights
        return row

    def of_changes(self, weights: Array) -> Array:
        """A combination of changes, (changes,), as a contrast."""
        return self.contrast(weights, first=1)

    def with_step(self, late: NDArray[np.bool_], doubt: float) -> "SeasonDesign":
        """The same with a column that is 1 where `late`, (n,)."""
        return replace(
            self,
            matrix=np.column_stack([self.matrix, late.astype(float)]),
            prior_mean=np.append(self.prior_mean, 0.0),
            prior_deviation=np.append(self.prior_deviation, doubt),
            step=True,
        )


@dataclass(frozen=True, slots=True)
class Fitted:
    """A measure, its design and what is believed after the data."""

    readings: Readings
    design: SeasonDesign
    posterior: Posterior
    level: float

    def knows(self, contrast: Array) -> bool:
        """Whether the pulls say anything of it."""
        return self.posterior.knows(contrast)

    def estimate(self, contrast: Array) -> Estimate:
        """Mean and interval of a contrast; exactly zero where it asks for nothing."""
        if not np.any(contrast):
            return Estimate(0.0, (0.0, 0.0))
        return estimate_of(self.posterior.contrast(contrast), self.level)


def estimate_of(mixture: NormalMixture, level: float) -> Estimate:
    """Mean and central interval of the first response."""
    lower, upper = mixture.interval(level)
    return Estimate(float(mixture.mean()[0]), (float(lower[0]), float(upper[0])))


def design_of(readings: Readings, pulls: SeasonPulls) -> SeasonDesign:
    """Which change, circumstance and moment belongs to each pull that has the measure."""
    rows, covariates, typical = readings.rows, pulls.covariates, readings.typical
    prior, found = expected(readings.measure, rows, typical, readings.sharpness, covariates, pulls.window)
    columns: list[Array] = [np.ones(len(rows)), *pulls.fitted[rows].T.astype(float)]
    means, doubts = [0.0] * len(columns), [np.inf] * len(columns)
    names, acts_as = [], []
    for name, column in covariates.columns.items():
        role, value = covariates.acts_as.get(name, name), column[rows]
        if role not in found or np.ptp(value) == 0.0:
            continue
        names.append(name)
        acts_as.append(role)
        columns.append(value - value.mean())
        means.append(found[role].mean)
        doubts.append(found[role].doubt)
    day_scatter, run_scatter = widened(prior, found, covariates.widening, typical)
    clock = clock_of(pulls)
    if clock is not None and np.ptp(clock.reading[rows]) > 0.0:
        clock = replace(clock, reading=clock.reading[rows] - clock.reading[rows].mean())
        columns.append(clock.reading)
        means.append(0.0)
        doubts.append(DRIFT_DOUBT * prior.in_unit(prior.day.median, typical))
    else:
        clock = None
    return SeasonDesign(
        matrix=np.column_stack(columns),
        group=np.unique(pulls.day[rows], return_inverse=True)[1].astype(np.intp),
        prior_mean=np.array(means),
        prior_deviation=np.array(doubts),
        changes=pulls.fitted.shape[1],
        names=tuple(names),
        acts_as=tuple(acts_as),
        clock=clock,
        step=False,
        day_scatter=day_scatter,
        run_scatter=run_scatter,
    )


def fit_season(readings: Readings, design: SeasonDesign, level: float) -> Fitted:
    """What is believed after the season's pulls."""
    solved = Design(design.matrix, design.group, design.prior_mean, design.prior_deviation)
    return Fitted(readings, design, fit(readings.values, solved, design.day_scatter, design.run_scatter), level)
