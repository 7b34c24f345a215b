"""Mixtures of normal distributions: what a difference is believed to be once the scatter is not known exactly."""

from dataclasses import dataclass

import numpy as np
from scipy.special import ndtr, ndtri

from pullproof.arrays import Array

__all__ = ["NormalMixture"]

STEPS = 80
PRECISION = 1e-11


@dataclass(frozen=True, slots=True)
class NormalMixture:
    """Several mixtures side by side, each of the same number of normal distributions.

    `weights` and `means` have the shape (nodes, responses); the weights of one response sum to one.
    `deviations` are the standard deviations, shape (nodes, responses) or (nodes, 1), all positive.
    """

    weights: Array
    means: Array
    deviations: Array

    def mean(self) -> Array:
        """Mean of each mixture, shape (responses,)."""
        mean: Array = np.sum(self.weights * self.means, axis=0)
        return mean

    def deviation(self) -> Array:
        """Standard deviation of each mixture, shape (responses,)."""
        spread = (self.means - self.mean()) ** 2 + self.deviations**2
        deviation: Array = np.sqrt(np.sum(self.weights * spread, axis=0))
        return deviation

    def below(self, value: Array) -> Array:
        """Probability of lying below `value`, shape (responses,)."""
        probability: Array = np.sum(self.weights * ndtr((value - self.means) / self.deviations), axis=0)
        return probability

    def quantile(self, probability: Array | float) -> Array:
        """Value that a share `probability` of each mixture lies below, shape (responses,).

        Newton's method, kept inside a bracket by halving it where a step would leave it. The quantile of a mixture
        lies between the lowest and the highest quantile of its parts, which gives the first bracket.
        """
        share = np.broadcast_to(np.asarray(probability, dtype=float), self.weights.shape[1:])
        parts = self.means + self.deviations * ndtri(share)
        low, high = parts.min(axis=0), parts.max(axis=0)
        value = np.clip(self.mean() + self.deviation() * ndtri(share), low, high)
        enough = PRECISION * (self.deviation() + np.finfo(float).tiny)
        for _ in range(STEPS):
            z = (value - self.means) / self.deviations
            excess = np.sum(self.weights * ndtr(z), axis=0) - share
            slope = np.sum(self.weights * np.exp(-0.5 * z * z) / self.deviations, axis=0) / np.sqrt(2.0 * np.pi)
            low, high = np.where(excess < 0.0, value, low), np.where(excess > 0.0, value, high)
            step = np.divide(excess, slope, out=np.full_like(excess, np.inf), where=slope > 0.0)
            newton = value - step
            proposed = np.where((newton >= low) & (newton <= high), newton, 0.5 * (low + high))
            done = np.abs(proposed - value) <= enough
            value = proposed
            if done.all():
                break
        return value

    def interval(self, level: Array | float) -> tuple[Array, Array]:
        """Central interval that holds a share `level` of each mixture: lower and upper ends, each (responses,)."""
        tail = 0.5 * (1.0 - np.asarray(level, dtype=float))
        return self.quantile(tail), self.quantile(1.0 - tail)
