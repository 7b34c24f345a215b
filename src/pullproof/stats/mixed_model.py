"""A linear model with scatter between groups and within them, solved exactly on a grid of the two scatters.

    y = X b + Z u + e,   u ~ N(0, s_group^2),   e ~ N(0, s_unit^2),   b_j flat or ~ N(mean_j, deviation_j^2)

In the words of the analysis above, a unit is a pull and a group is a test day. Given the two standard deviations all
is linear and Gaussian. So each node of the grid gives the posterior of b and the probability of the data in closed
form, and the posterior of any contrast is a mixture of normal distributions, one for each node.

In reading order: `Design` says what was done, `fit` solves, `Posterior` answers.

Sources: Searle, Casella & McCulloch, Variance Components, 1992, for the inverse of the covariance of grouped data;
Harville, Biometrika 61 (1974) 383-385, for the marginal likelihood with flat coefficients, which is REML's.
"""

from dataclasses import dataclass
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from pullproof.arrays import Array
from pullproof.stats.mixture import NormalMixture
from pullproof.stats.scatter import ScatterPrior

__all__ = ["Design", "Posterior", "fit", "log_marginal_likelihood"]

COARSE, FINE = 13, 21
NEGLIGIBLE = 16.0
"""Nodes whose log posterior lies this far below the best are left out: together less than 1e-4 of the whole."""
PASSES = 4
RANK_TOLERANCE = 1e-10


@dataclass(frozen=True, slots=True)
class Design:
    """What was done in each unit.

    `columns` is X, shape (n, p). `group` numbers the group of each unit from 0, shape (n,). `prior_mean` and
    `prior_deviation` have the shape (p,); a deviation of infinity is a flat prior.
    """

    columns: Array
    group: NDArray[np.intp]
    prior_mean: Array
    prior_deviation: Array


_Spans: TypeAlias = tuple[tuple[float, float], tuple[float, float]]


class _Reduced(NamedTuple):
    """The design turned into coordinates c in which it is orthogonal, b = reference + back @ c.

    Columns that cannot be told apart drop out here, and rounding does not pile up where columns are nearly alike.
    """

    group: NDArray[np.intp]
    scores: Array
    prior_rows: Array
    prior_residual: Array
    residual: Array
    back: Array
    null_space: Array
    reference: Array
    log_volume: float


class _Nodes(NamedTuple):
    """Everything that the nodes of one grid say. K nodes, q coordinates, r responses."""

    s_group: Array
    s_unit: Array
    covariance: Array
    coordinates: Array
    log_likelihood: Array


@dataclass(frozen=True, slots=True)
class Posterior:
    """What is believed after the data. K nodes, p coefficients, r responses.

    `s_group` and `s_unit` are the nodes, shape (K,); `weights` their probabilities, shape (K, r).
    `null_space` has one column for each direction in b of which the data and the priors say nothing, shape (p, m).
    """

    s_group: Array
    s_unit: Array
    weights: Array
    null_space: Array
    _reduced: _Reduced
    _nodes: _Nodes

    def knows(self, contrast: Array) -> bool:
        """Whether the data and the priors say anything of `contrast`, shape (p,), in all its directions."""
        along = np.abs(self.null_space.T @ contrast)
        return bool(np.all(along <= 1e-7 * np.linalg.norm(contrast)))

    def contrast(self, contrast: Array) -> NormalMixture:
        """Distribution of the weighted sum of coefficients `contrast`, shape (p,), for each response.

        Raises
        ------
        ValueError
            The data say nothing of it: other coefficients could take its place.
        """
        if not self.knows(contrast):
            raise ValueError(f"contrast {contrast.tolist()} cannot be told apart from other coefficients")
        turned = self._reduced.back.T @ contrast
        means = contrast @ self._reduced.reference + np.einsum("q,kqr->kr", turned, self._nodes.coordinates)
        variances = np.einsum("q,kqs,s->k", turned, self._nodes.covariance, turned)
        return NormalMixture(self.weights, means, np.sqrt(variances)[:, None])

    def coefficient_means(self) -> Array:
        """Posterior mean of every coefficient, shape (p, r). Not unique along the null space: the shortest is given."""
        means: Array = self._reduced.reference + self._reduced.back @ np.einsum(
            "kr,kqr->qr", self.weights, self._nodes.coordinates
        )
        return means

    def group_scatter(self) -> Array:
        """Posterior mean of the standard deviation between groups, shape (r,)."""
        mean: Array = self.s_group @ self.weights
        return mean

    def unit_scatter(self) -> Array:
        """Posterior mean of the standard deviation within groups, shape (r,)."""
        mean: Array = self.s_unit @ self.weights
        return mean

    def surprise(self) -> Array:
        """Probability of lying as far off as each unit does when it is predicted from all the others.

        Returns
        -------
        (n, r)
            Two-sided. [1] NaN for a unit that no other can judge.

        Source: deletion formulas of a Gaussian model, Christensen, Pearson & Johnson, Technometrics 34 (1992) 38-45.
        """
        reduced, nodes = self._reduced, self._nodes
        size, member = _groups(reduced.group)
        unit, shared = _inverse_parts(size, self.s_group, self.s_unit)
        shared = shared[:, reduced.group]
        leverage = reduced.scores / unit[:, :, None] - shared[:, :, None] * (member @ reduced.scores)[reduced.group]
        pulled = reduced.residual / unit[:, :, None] - shared[:, :, None] * (member @ reduced.residual)[reduced.group]
        own = 1.0 / unit - shared - np.einsum("knq,kqs,kns->kn", leverage, nodes.covariance, leverage)
        judged = np.all(own > 1e-9 / unit, axis=0)
        own = np.where(judged, own, 1.0)[:, :, None]
        error = (pulled - leverage @ nodes.coordinates) / own
        density = np.sqrt(own) * np.exp(-0.5 * own * error**2)
        without = self.weights[:, None, :] / np.maximum(density, np.finfo(float).tiny)
        without = without / without.sum(axis=0)
        tail: Array = np.sum(without * 2.0 * ndtr(-np.abs(error) * np.sqrt(own)), axis=0)
        return np.where(judged[:, None], tail, np.nan)

    def inseparable(self) -> tuple[tuple[int, ...], ...]:
        """Sets of columns that cannot be told apart: of each set only a combination is known."""
        touched = [set(np.flatnonzero(np.abs(row) > 1e-7).tolist()) for row in _simplest(self.null_space)]
        merged: list[set[int]] = []
        for columns in touched:
            joined = columns.union(*(other for other in merged if other & columns))
            merged = [other for other in merged if not other & columns] + [joined]
        return tuple(tuple(sorted(columns)) for columns in sorted(merged, key=min))


def fit(values: Array, design: Design, group_scatter: ScatterPrior, unit_scatter: ScatterPrior) -> Posterior:
    """Posterior of the coefficients and of the two scatters.

    Parameters
    ----------
    values : (n,) or (n, r)
        One column for each response. All responses share the design and the priors, but nothing is learnt from one
        about another.
    design : Design
    group_scatter, unit_scatter : ScatterPrior
        What is believed of the two standard deviations, in the unit of `values`.

    Raises
    ------
    ValueError
        Shapes do not fit together, a value is not finite, or the scatter within groups is said to be zero.
    """
    if unit_scatter.span[0] == -np.inf:
        raise ValueError("the scatter within groups cannot be zero")
    responses = _checked(values, design)
    reduced = _reduce(responses, design, _middle(unit_scatter))
    spans, count = (group_scatter.span, unit_scatter.span), COARSE
    for _ in range(PASSES):
        nodes, log_posterior, narrowed = _weigh(reduced, group_scatter, unit_scatter, spans, count)
        settled = count == FINE and all(
            _width(new) > 0.5 * _width(old) for new, old in zip(narrowed, spans, strict=True)
        )
        if settled:
            break
        spans, count = narrowed, FINE
    weights = np.exp(log_posterior)
    weights /= weights.sum(axis=0)
    kept = weights.max(axis=1) > np.exp(-NEGLIGIBLE) / len(weights)
    nodes, weights = _Nodes(*(part[kept] for part in nodes)), weights[kept] / weights[kept].sum(axis=0)
    return Posterior(nodes.s_group, nodes.s_unit, weights, reduced.null_space, reduced, nodes)


def log_marginal_likelihood(values: Array, design: Design, s_group: float, s_unit: float) -> Array:
    """Logarithm of the probability density of the data, coefficients integrated out, shape (r,).

    With flat coefficients this is the restricted likelihood, constants included: minus twice its value at its maximum
    is the REML criterion. Directions that the data say nothing of are left out.
    """
    reduced = _reduce(_checked(values, design), design, s_unit)
    log_likelihood = _solve(reduced, np.array([s_group]), np.array([s_unit])).log_likelihood[0]
    informed = np.isfinite(design.prior_deviation)
    flat = reduced.back.shape[1] - np.count_nonzero(informed)
    constant = 0.5 * (flat - len(values)) * np.log(2.0 * np.pi) - np.sum(np.log(design.prior_deviation[informed]))
    exact: Array = log_likelihood + constant - reduced.log_volume
    return exact


def _weigh(
    reduced: _Reduced, group_scatter: ScatterPrior, unit_scatter: ScatterPrior, spans: _Spans, count: int
) -> tuple[_Nodes, Array, _Spans]:
    """Solve on a grid of at most `count` by `count` nodes over `spans`; give the part of the spans that matters."""
    group_axis, unit_axis = (_axis(span, count) for span in spans)
    log_prior = np.add.outer(group_scatter.log_density(group_axis), unit_scatter.log_density(unit_axis))
    nodes = _solve(reduced, np.repeat(np.exp(group_axis), len(unit_axis)), np.tile(np.exp(unit_axis), len(group_axis)))
    log_posterior = nodes.log_likelihood + log_prior.reshape(-1, 1)
    log_posterior = log_posterior - log_posterior.max(axis=0)
    best = log_posterior.max(axis=1).reshape(log_prior.shape)
    narrowed = (_worth_keeping(best.max(axis=1), group_axis), _worth_keeping(best.max(axis=0), unit_axis))
    return nodes, log_posterior, narrowed


def _checked(values: Array, design: Design) -> Array:
    responses = np.asarray(values, dtype=float).reshape(len(values), -1)
    n, p = design.columns.shape
    if responses.shape[0] != n or design.group.shape != (n,):
        raise ValueError(f"{responses.shape[0]} values, {design.group.shape[0]} groups and {n} rows of the design")
    if design.prior_mean.shape != (p,) or design.prior_deviation.shape != (p,):
        raise ValueError(f"a prior is needed for each of the {p} columns")
    if not (np.isfinite(responses).all() and np.isfinite(design.columns).all()):
        raise ValueError("values and columns must be finite")
    return responses


def _middle(prior: ScatterPrior) -> float:
    low, high = prior.span
    return float(np.exp(0.5 * (low + high)))


def _axis(span: tuple[float, float], count: int) -> Array:
    """Middles of `count` equal cells: no node sits on a limit, and all cells weigh the same."""
    low, high = span
    if low == high:
        return np.array([low])
    return low + (np.arange(count) + 0.5) * (high - low) / count


def _worth_keeping(log_posterior: Array, axis: Array) -> tuple[float, float]:
    """Span of an axis that holds all but a negligible part, one cell wider on both sides, within the old span."""
    if len(axis) == 1:
        return float(axis[0]), float(axis[0])
    inside, cell = np.flatnonzero(log_posterior > -NEGLIGIBLE), axis[1] - axis[0]
    low = max(axis[inside[0]] - 1.5 * cell, axis[0] - 0.5 * cell)
    high = min(axis[inside[-1]] + 1.5 * cell, axis[-1] + 0.5 * cell)
    return float(low), float(high)


def _width(span: tuple[float, float]) -> float:
    return span[1] - span[0] if span[1] > span[0] else 1.0


def _reduce(responses: Array, design: Design, s_unit: float) -> _Reduced:
    """Singular value decomposition of the scaled columns, with the priors as further rows."""
    columns, informed = design.columns, np.isfinite(design.prior_deviation)
    n, p = columns.shape
    length = np.sqrt(np.mean(columns**2, axis=0))
    reach = np.where(informed, np.divide(s_unit, design.prior_deviation, where=informed, out=np.zeros(p)), 0.0)
    # The prior's row counts too: by its length alone a column that is constant but for rounding would be blown up
    # until it hid all the others.
    scale = np.hypot(length, reach)
    scale = np.where(scale > 0.0, scale, 1.0)
    # A flat prior gives a row of zeros: no information, but never fewer rows than columns, so that the
    # decomposition names every direction.
    rows = np.vstack([columns, np.diag(reach)])
    left, singular, right = np.linalg.svd(rows / scale, full_matrices=False)
    rank = int(np.count_nonzero(singular > RANK_TOLERANCE * singular[0]))
    back = right[:rank].T / singular[:rank] / scale[:, None]
    expected = np.where(informed, reach * design.prior_mean, 0.0)
    target = np.vstack([responses, np.repeat(expected[:, None], responses.shape[1], axis=1)])
    reference = back @ (left[:, :rank].T @ target)
    ends = target - rows @ reference
    return _Reduced(
        group=design.group,
        scores=left[:n, :rank],
        prior_rows=left[n:, :rank] / s_unit,
        prior_residual=ends[n:] / s_unit,
        residual=ends[:n],
        back=back,
        null_space=right[rank:].T / scale[:, None] / np.linalg.norm(right[rank:].T / scale[:, None], axis=0),
        reference=reference,
        log_volume=float(np.sum(np.log(singular[:rank])) + np.sum(np.log(scale))),
    )


def _solve(reduced: _Reduced, s_group: Array, s_unit: Array) -> _Nodes:
    """Posterior of the coordinates and likelihood at each node.

    The covariance of a group of m units is s_unit^2 I + s_group^2 J. Its inverse needs only sums over each group, so
    that the work at a node does not grow with the number of units.
    """
    scores, residual = reduced.scores, reduced.residual
    size, member = _groups(reduced.group)
    unit, shared = _inverse_parts(size, s_group, s_unit)
    score_sums, residual_sums = member @ scores, member @ residual

    def weighted(full: Array, sums: Array) -> Array:
        """`full` is a'b over all units, `sums` a'b over each group's sums; gives a' V^-1 b at each node."""
        inverse: Array = full / s_unit.reshape(-1, *[1] * full.ndim) ** 2 - np.tensordot(shared, sums, axes=1)
        return inverse

    prior = reduced.prior_rows.T @ reduced.prior_rows
    precision = weighted(scores.T @ scores, score_sums[:, :, None] * score_sums[:, None, :]) + prior
    pull = weighted(scores.T @ residual, score_sums[:, :, None] * residual_sums[:, None, :])
    pull = pull + reduced.prior_rows.T @ reduced.prior_residual
    square = weighted(np.sum(residual**2, axis=0), residual_sums**2) + np.sum(reduced.prior_residual**2, axis=0)
    covariance = np.linalg.inv(precision)
    coordinates = covariance @ pull
    misfit = square - np.sum(pull * coordinates, axis=1)
    units_beyond_first = np.sum(np.maximum(size - 1.0, 0.0))
    totals = unit + size * s_group[:, None] ** 2
    log_determinant = 2.0 * units_beyond_first * np.log(s_unit) + np.sum(np.log(totals), axis=1)
    log_determinant = log_determinant + np.linalg.slogdet(precision)[1]
    return _Nodes(
        s_group, s_unit, np.asarray(covariance, dtype=float), coordinates, -0.5 * (log_determinant[:, None] + misfit)
    )


def _groups(group: NDArray[np.intp]) -> tuple[Array, Array]:
    """Size of each group, shape (g,), and which units belong to it, ones and zeros of shape (g, n)."""
    size = np.bincount(group).astype(float)
    return size, (group == np.arange(len(size))[:, None]).astype(float)


def _inverse_parts(size: Array, s_group: Array, s_unit: Array) -> tuple[Array, Array]:
    """V^-1 = I / unit - shared J within each group: `unit` has the shape (K, 1), `shared` (K, g)."""
    unit, between = s_unit[:, None] ** 2, s_group[:, None] ** 2
    return unit, between / (unit * (unit + size * between))


def _simplest(null_space: Array) -> Array:
    """Row echelon form of the null space's basis: as few columns in each direction as there can be."""
    rows = null_space.T.copy()
    done = 0
    for column in range(rows.shape[1]):
        if done == rows.shape[0]:
            break
        best = done + int(np.argmax(np.abs(rows[done:, column])))
        if abs(rows[best, column]) < 1e-7:
            continue
        rows[[done, best]] = rows[[best, done]]
        rows[done] /= rows[done, column]
        others = np.arange(rows.shape[0]) != done
        rows[others] -= np.outer(rows[others, column], rows[done])
        done += 1
    return rows
