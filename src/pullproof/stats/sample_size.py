"""What a design will be able to tell, before anything is measured.

Two questions, both asked of `mixed_model`, because that is what will judge the data. How wide will the interval be if
the two scatters are what they are believed to be: exact, `contrast_deviation`. How often will the interval leave out
zero: drawn, `null_errors` and `chance_of_clear`.

The model does not care how large an effect is. With a flat prior on it, an effect moves both ends of the interval by
itself and no more, so one set of draws without any effect serves for effects of every size.

Source of the words: power is the probability of a clear answer where there is an effect, Cohen, Statistical Power
Analysis for the Behavioral Sciences, 2nd edition, 1988, chapter 2.
"""

from typing import NamedTuple

import numpy as np

from pullproof.arrays import Array
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import ScatterPrior

__all__ = ["Truths", "chance_of_clear", "contrast_deviation", "effect_for_chance", "null_errors"]

BATCH = 64
"""Draws solved on one grid. They are sorted by scatter first, so that a grid need not span more than its batch."""


class Truths(NamedTuple):
    """Scatters that draws are made with, one of each for each draw: both (r,), in the unit of the data."""

    s_group: Array
    s_unit: Array


def contrast_deviation(design: Design, contrast: Array, s_group: Array, s_unit: Array) -> Array:
    """Standard deviation of a contrast of the coefficients where both scatters are known.

    Parameters
    ----------
    design : Design
        Every direction of the coefficients has to be known from its columns or its priors.
    contrast : (p,)
        Weights of the coefficients.
    s_group, s_unit : (k,)
        Pairs of scatters; `s_unit` is positive.

    Returns
    -------
    (k,)
        In the unit of the data times that of the weights.

    Raises
    ------
    numpy.linalg.LinAlgError
        A direction of the coefficients is not known at all.

    Source: generalised least squares with priors as further observations, Searle, Casella & McCulloch, Variance
    Components, 1992, chapter 7.
    """
    columns, group = design.columns, design.group
    size = np.bincount(group).astype(float)
    sums = np.array([columns[group == number].sum(axis=0) for number in range(len(size))])
    unit, between = s_unit[:, None] ** 2, s_group[:, None] ** 2
    shared = between / (unit * (unit + size * between))
    precision = (columns.T @ columns) / unit[:, :, None]
    precision = precision - np.einsum("kg,gp,gq->kpq", shared, sums, sums)
    precision = precision + np.diag(1.0 / design.prior_deviation**2)
    solved = np.linalg.solve(precision, np.broadcast_to(contrast, (len(unit), len(contrast)))[:, :, None])
    deviation: Array = np.sqrt(np.einsum("p,kpo->k", contrast, solved))
    return deviation


def null_errors(
    design: Design,
    contrast: Array,
    scatter: tuple[ScatterPrior, ScatterPrior],
    truths: Truths,
    level: float,
    rng: np.random.Generator,
) -> tuple[Array, Array]:
    """Ends of the intervals that the model gives to draws in which the contrast is zero.

    Parameters
    ----------
    design : Design
        The contrast must be flat in it: no prior on any coefficient that it weighs.
    contrast : (p,)
        Weights of the coefficients.
    scatter : (ScatterPrior, ScatterPrior)
        What the model believes of the scatter between groups and within them before it sees the data.
    truths : Truths
        What the draws are made with.
    level : float
        Probability that the interval holds the truth. [1]
    rng : numpy.random.Generator
        Where chance comes from.

    Returns
    -------
    (r,), (r,)
        Lower and upper ends. Coefficients with a prior are drawn from it.
    """
    n, p = design.columns.shape
    informed = np.isfinite(design.prior_deviation)
    draws, groups = len(truths.s_unit), int(design.group.max()) + 1
    spread = np.where(informed, design.prior_deviation, 0.0)
    coefficients = np.where(informed, design.prior_mean, 0.0)[:, None] + spread[:, None] * rng.normal(size=(p, draws))
    values = design.columns @ coefficients
    values += (truths.s_group * rng.normal(size=(groups, draws)))[design.group]
    values += truths.s_unit * rng.normal(size=(n, draws))
    lower, upper = np.empty(draws), np.empty(draws)
    order = np.argsort(truths.s_unit, kind="stable")
    for part in np.array_split(order, max(1, round(draws / BATCH))):
        ends = fit(values[:, part], design, *scatter).contrast(contrast).interval(level)
        lower[part], upper[part] = ends
    return lower, upper


def chance_of_clear(lower: Array, upper: Array, effect: float) -> float:
    """Probability that the interval leaves out zero on the side of the effect. [1]

    `lower` and `upper` are what `null_errors` gives. Chance knows no side, so each draw counts for both.
    """
    size = abs(effect)
    return float(0.5 * (np.mean(lower + size > 0.0) + np.mean(upper - size < 0.0)))


def effect_for_chance(lower: Array, upper: Array, chance: float) -> float:
    """Smallest effect whose probability of a clear answer is `chance`, in the unit of the ends."""
    return float(np.quantile(np.concatenate((-lower, upper)), chance))
