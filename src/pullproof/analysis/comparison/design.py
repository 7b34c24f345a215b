"""From pulls to the model: who is before and after, on which day, and what else differed.

A covariate that is known of every pull becomes a column with a prior from physics. One that is not known cannot be
taken out: what it may have done is added to the scatter that is expected, so that the interval says so.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from pullproof.analysis.comparison.covariates import Covariates, gather_covariates
from pullproof.analysis.comparison.priors import Effect, MeasurePrior, load_priors
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.stats.mixed_model import Design
from pullproof.stats.scatter import TypicalScatter

__all__ = ["Model", "PullSet", "gather", "model", "widened"]


@dataclass(frozen=True, slots=True)
class PullSet:
    """All pulls compared, those before first, with what is known of the circumstances of each.

    `after` and `day` have one entry for each pull; `day` counts the days from 0 in the order of their labels.
    """

    records: tuple[PullRecord, ...]
    after: NDArray[np.bool_]
    day: NDArray[np.intp]
    window: tuple[float, float]
    covariates: Covariates

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


def gather(
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    car: Car,
    window: tuple[float, float],
    moments: Mapping[str, datetime.datetime],
) -> PullSet:
    """Put both sides together with all that is known of each pull."""
    records = (*before, *after)
    return PullSet(
        records=records,
        after=np.repeat([False, True], [len(before), len(after)]),
        day=_numbered([record.day for record in records]),
        window=window,
        covariates=gather_covariates(records, car, window, moments),
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
    after, covariates = pulls.after[rows], pulls.covariates
    columns, names, means, doubts, moved = [np.ones(len(rows)), after - 0.5], [], [0.0, 0.0], [np.inf, np.inf], []
    for name, column in covariates.columns.items():
        effect, value = effects.get(covariates.acts_as.get(name, name)), column[rows]
        if effect is None or np.ptp(value) == 0.0:
            continue
        names.append(name)
        columns.append(value - value.mean())
        means.append(effect.mean)
        doubts.append(effect.doubt)
        moved.append(value[after].mean() - value[~after].mean())
    day_scatter, run_scatter = widened(prior, effects, covariates.widening, level)
    return Model(
        design=Design(np.column_stack(columns), _numbered(pulls.day[rows]), np.array(means), np.array(doubts)),
        names=tuple(names),
        moved=np.array(moved),
        day_scatter=day_scatter,
        run_scatter=run_scatter,
    )


def widened(
    prior: MeasurePrior, effects: Mapping[str, Effect], widening: Sequence[str], level: float
) -> tuple[TypicalScatter, TypicalScatter]:
    """Scatter between days and between pulls, with what the covariates that nobody knows may have done."""
    covariates = load_priors().covariates
    day, run = (prior.in_unit(scatter.median, level) ** 2 for scatter in (prior.day, prior.run))
    for name in widening:
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
