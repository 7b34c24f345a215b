"""The probability of a clear answer for an order of pulls: drawn, and judged by the model that will judge the pulls.

For each draw the scatters come from what is believed of this car, the weather of the days and what differs between
pulls from the table of covariates, and what those do to the measure from its physics with its doubt. Then the
comparison's model gives its interval, from usual scatters, as it will for the real pulls. A drift within the day is in
the model twice: the place of a pull in its day (a car soaks up heat), and the air that warms. An even drift of which
the model knows nothing is not drawn; how much of it each order lets through is told beside the chance.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.analysis.comparison.covariates import SOAKING_PULLS
from pullproof.analysis.comparison.priors import Effect, MeasurePrior, load_priors
from pullproof.analysis.plan.belief import Belief
from pullproof.analysis.plan.orders import Schedule
from pullproof.analysis.plan.result import Costs, Run
from pullproof.arrays import Array
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.sample_size import Truths, null_errors
from pullproof.stats.scatter import KnownScatter, TypicalScatter

__all__ = ["DRAWS", "WEATHERS", "Odds", "Setting", "drift_share", "new_columns", "odds_of", "place_in_the_day"]

WEATHERS, DRAWS = 8, 64
"""Draws of the weather, and of all else for each of them."""

SEED = 20_260_403
"""The same question gets the same answer."""

NOT_DRAWN = ("order", "direction")
"""The place in the day follows from the order; the direction is held equal."""


@dataclass(frozen=True, slots=True)
class Setting:
    """What all orders are judged with."""

    prior: MeasurePrior
    effects: Mapping[str, Effect]
    """What one unit of each covariate does, in the measure's unit."""
    belief: Belief
    typical: float
    level: float
    costs: Costs
    draws: int = DRAWS

    def scatters(self) -> tuple[TypicalScatter, TypicalScatter]:
        """What the model believes of day and run before it sees a pull, in the measure's unit."""
        day, run = self.prior.day, self.prior.run
        return (
            TypicalScatter(self.prior.in_unit(day.median, self.typical), day.doubt),
            TypicalScatter(self.prior.in_unit(run.median, self.typical), run.doubt),
        )


@dataclass(frozen=True, slots=True)
class Odds:
    """Ends of the intervals that the model gives where nothing changed, (r,), in the measure's unit."""

    lower: Array
    upper: Array

    def half_width(self) -> float:
        """Half of the interval to be expected."""
        return float(np.mean(self.upper - self.lower) / 2.0)


def odds_of(driven: Schedule, setting: Setting) -> Odds:
    """Draw what an order of pulls may give.

    Parameters
    ----------
    driven : Schedule
        Every pull with its day and clock.
    setting : Setting
        What is believed, and how often it is drawn for each weather.
    """
    rng = np.random.default_rng(SEED)
    known = setting.effects
    ends = []
    for _ in range(WEATHERS):
        columns, mean, doubt = new_columns(driven.runs, known, setting.costs, rng)
        design = _design(driven.runs, columns, mean, doubt)
        chosen = rng.choice(len(setting.belief.weights), size=setting.draws, p=setting.belief.weights)
        truths = Truths(setting.belief.s_day[chosen], setting.belief.s_run[chosen])
        contrast = np.zeros(design.columns.shape[1])
        contrast[1] = 1.0
        ends.append(null_errors(design, contrast, setting.scatters(), truths, setting.level, rng))
    lower, upper = (np.concatenate(side) for side in zip(*ends, strict=True))
    return Odds(lower, upper)


def new_columns(
    runs: Sequence[Run], known: Mapping[str, Effect], costs: Costs, rng: np.random.Generator
) -> tuple[Array, Array, Array]:
    """What will differ between pulls, one column for each covariate that acts on the measure, with its prior.

    Returns
    -------
    (n, q), (q,), (q,)
        Centred columns [unit of each covariate], mean and doubt of their effects [unit of the measure per unit].
    """
    table = load_priors().covariates
    day = np.array([run.day for run in runs]) - 1
    columns, names = [], []
    for name in sorted(known):
        if name in NOT_DRAWN:
            continue
        # The table holds the scatter of a difference of two days: half of its variance belongs to each.
        of_day = table[name].day / np.sqrt(2.0) * rng.normal(size=day.max() + 1)
        column = of_day[day] + table[name].pull * rng.normal(size=len(runs))
        if name == "air_temperature":
            column = column + costs.warming_k_per_hour * np.array([run.at_min for run in runs]) / 60.0
        columns.append(column)
        names.append(name)
    columns.append(place_in_the_day(runs))
    names.append("order")
    centred = np.column_stack(columns)
    centred = centred - centred.mean(axis=0)
    return centred, np.array([known[n].mean for n in names]), np.array([known[n].doubt for n in names])


def place_in_the_day(runs: Sequence[Run]) -> Array:
    """Share of a day's soaking done before each pull, as the comparison counts it, (n,). [1]"""
    driven: dict[int, int] = {}
    place = np.zeros(len(runs))
    for row, run in enumerate(runs):
        place[row] = driven.get(run.day, 0)
        driven[run.day] = driven.get(run.day, 0) + 1
    soaked: Array = 1.0 - np.exp(-place / SOAKING_PULLS)
    return soaked


def drift_share(driven: Schedule) -> float:
    """Part of an even drift over each session that the order would take for the change. [1]

    The drift goes from -1/2 at the first pull of a day to +1/2 at the last, in the order of the pulls; the model has
    only level, change and days.
    """
    runs = driven.runs
    drift = np.zeros(len(runs))
    for day in {run.day for run in runs}:
        rows = np.flatnonzero([run.day == day for run in runs])
        drift[rows] = np.linspace(-0.5, 0.5, len(rows)) if len(rows) > 1 else 0.0
    design = _design(runs, np.empty((len(runs), 0)), np.empty(0), np.empty(0))
    fitted = fit(drift, design, KnownScatter(1.0), KnownScatter(1.0))
    share = float(fitted.contrast(np.array([0.0, 1.0])).mean()[0])
    return share if abs(share) > 1e-9 else 0.0


def _design(runs: Sequence[Run], columns: Array, mean: Array, doubt: Array) -> Design:
    """Level, change, and what else differs."""
    change = np.array([run.state == "after" for run in runs]) - 0.5
    return Design(
        columns=np.column_stack([np.ones(len(runs)), change, columns]),
        group=np.unique([run.day for run in runs], return_inverse=True)[1].astype(np.intp),
        prior_mean=np.concatenate(([0.0, 0.0], mean)),
        prior_deviation=np.concatenate(([np.inf, np.inf], doubt)),
    )
