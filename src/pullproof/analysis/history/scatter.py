"""How much this car scatters by itself, between pulls and between days, and how that compares with what is usual."""

import numpy as np

from pullproof.analysis.history.model import Fitted
from pullproof.analysis.history.result import Scatter
from pullproof.arrays import Array
from pullproof.stats.scatter import TypicalScatter

__all__ = ["scatter_of"]

NODES = 4001


def scatter_of(fitted: Fitted) -> tuple[Scatter, Scatter]:
    """Between pulls of one day, and between days, in the measure's unit."""
    posterior, design = fitted.posterior, fitted.design
    weights = posterior.weights[:, 0]
    return (
        _scatter(posterior.s_unit, weights, design.run_scatter, fitted.level),
        _scatter(posterior.s_group, weights, design.day_scatter, fitted.level),
    )


def _scatter(nodes: Array, weights: Array, usual: TypicalScatter, level: float) -> Scatter:
    values, place = np.unique(nodes, return_inverse=True)
    masses = np.bincount(place, weights=weights).astype(np.float64)
    axis = np.linspace(*usual.span, NODES)
    density = np.exp(usual.log_density(axis))
    return Scatter(
        value=float(values @ masses),
        interval=_interval(np.log(values), masses, level),
        usual=usual.median,
        usual_interval=_interval(axis, density / density.sum(), level),
    )


def _interval(log_s: Array, masses: Array, level: float) -> tuple[float, float]:
    """Central interval of equally wide cells on the logarithmic axis, even within each cell."""
    if len(log_s) == 1:
        return float(np.exp(log_s[0])), float(np.exp(log_s[0]))
    cell = float(np.median(np.diff(log_s)))
    edges = np.append(log_s - 0.5 * cell, log_s[-1] + 0.5 * cell)
    below = np.concatenate([[0.0], np.cumsum(masses)])
    tail = 0.5 * (1.0 - level)
    low, high = np.interp([tail, 1.0 - tail], below / below[-1], edges)
    return float(np.exp(low)), float(np.exp(high))
