"""How much more probable the data are with a step in a gap than without: all gaps at once, from one fit.

Given the two scatters a step is one more column with a normal prior, and the ratio of the two marginal likelihoods
has a closed form. Averaged over what is believed of the scatters without a step it is the ratio of the data's
probabilities, whatever the scatters are.

Source: Raftery, Biometrika 83 (1996) 251-266, for Bayes factors of nested linear models.
"""

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.history.model import Fitted
from pullproof.arrays import Array

__all__ = ["step_odds"]

RANK = 1e-10


def step_odds(fitted: Fitted, steps: Array, doubt: float) -> Array:
    """Bayes factor of each step against none.

    Parameters
    ----------
    fitted : Fitted
        Without a step.
    steps : (n, g)
        1 from the step on, 0 before, for each gap.
    doubt : float
        Standard deviation of a step beforehand. [unit of the measure]

    Returns
    -------
    (g,)
        [1]
    """
    design, posterior = fitted.design, fitted.posterior
    columns, precision, expected = _full_rank(fitted)
    rest = fitted.readings.values - expected
    together = np.column_stack([columns, steps, rest])
    count, gaps = columns.shape[1], steps.shape[1]
    products = _weighted(together, design.group, posterior.s_group, posterior.s_unit)
    inner = products[:, :count, :count] + np.diag(precision)
    cross = products[:, :count, count:]
    solved = np.linalg.solve(inner, cross)
    left = products[:, count:, count:] - np.swapaxes(cross, 1, 2) @ solved
    known = np.diagonal(left[:, :gaps, :gaps], axis1=1, axis2=2)
    pulled = left[:, :gaps, -1]
    spread = 1.0 + doubt**2 * np.maximum(known, 0.0)
    log_factor = 0.5 * doubt**2 * pulled**2 / spread - 0.5 * np.log(spread)
    odds: Array = np.exp(np.logaddexp.reduce(np.log(posterior.weights) + log_factor, axis=0))
    return odds


def _full_rank(fitted: Fitted) -> tuple[Array, Array, Array]:
    """Columns without those that the others make, the precision of their priors, and what the priors expect."""
    design = fitted.design
    informed = np.isfinite(design.prior_deviation)
    left, singular, _ = np.linalg.svd(design.matrix[:, ~informed], full_matrices=False)
    flat = left[:, singular > RANK * singular[0]]
    columns = np.column_stack([flat, design.matrix[:, informed]])
    precision = np.concatenate([np.zeros(flat.shape[1]), design.prior_deviation[informed] ** -2.0])
    return columns, precision, design.matrix[:, informed] @ design.prior_mean[informed]


def _weighted(values: Array, group: NDArray[np.intp], s_group: Array, s_unit: Array) -> Array:
    """`values' V^-1 values` at each node of the two scatters, (K, c, c); V is s_unit^2 I + s_group^2 J in a group."""
    member = (group == np.arange(int(group.max()) + 1)[:, None]).astype(float)
    size, sums = member.sum(axis=1), member @ values
    unit, between = s_unit[:, None] ** 2, s_group[:, None] ** 2
    shared = between / (unit * (unit + size * between))
    outer = sums[:, :, None] * sums[:, None, :]
    weighted: Array = (values.T @ values) / unit[:, :, None] - np.tensordot(shared, outer, axes=1)
    return weighted
