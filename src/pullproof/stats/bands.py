"""Bands that hold a whole curve at once, not each of its points alone.

A band drawn from pointwise 95 % intervals misses the true curve somewhere far more often than one time in twenty.
How much wider it has to be depends on how many independent looks the curve offers, which depends on how quickly its
noise changes along the axis. The answer is given as the level that each single point needs, so that a point whose
distribution has heavy tails keeps them.
"""

import numpy as np
from scipy.optimize import brentq
from scipy.special import ndtr, ndtri

from pullproof.arrays import Array

__all__ = ["change_length", "pointwise_level", "simultaneous_factor"]


def simultaneous_factor(level: float, points: int, length: float, change: float) -> float:
    """Half-width, in standard deviations, of a band that holds a whole Gaussian curve with probability `level`.

    Parameters
    ----------
    level : float
        Probability that the curve stays inside along its whole length. [1]
    points : int
        Number of points at which the curve is looked at. [1]
    length : float
        Length of the axis, in any unit. [as change]
    change : float
        Length along which the noise changes by its own size, see `change_length`. [as length]

    Returns
    -------
    float
        The smaller of two factors, both on the safe side: Rice's for a smooth curve and Sidak's for its points.

    Source: Rice, Bell System Technical Journal 24 (1945) 46-156, expected number of crossings of a level; Sidak,
    J. American Statistical Association 62 (1967) 626-633.

    >>> round(simultaneous_factor(0.95, points=10, length=1.0, change=1e-9), 3)
    2.8
    >>> round(simultaneous_factor(0.95, points=10, length=1.0, change=1e9), 3)
    1.96
    """
    if not (0.0 < level < 1.0 and points >= 1 and length >= 0.0 and change > 0.0):
        raise ValueError(f"level {level}, points {points}, length {length}, change {change}")
    sidak = float(-ndtri(0.5 * (1.0 - level ** (1.0 / points))))
    crossings = length / change / np.pi

    def outside(factor: float) -> float:
        return float(2.0 * ndtr(-factor) + crossings * np.exp(-0.5 * factor**2)) - (1.0 - level)

    return sidak if outside(sidak) >= 0.0 else brentq(outside, 0.0, sidak)


def pointwise_level(level: float, points: int, length: float, change: float) -> float:
    """Level that each point needs on its own so that the whole curve lies inside with probability `level`. [1]

    Takes the same parameters as `simultaneous_factor`.
    """
    return float(1.0 - 2.0 * ndtr(-simultaneous_factor(level, points, length, change)))


def change_length(residuals: Array, freedom: float, step: float, typical: float, typical_freedom: float = 2.0) -> float:
    """Length along which the noise of curves changes by its own size: its deviation over that of its slope.

    Parameters
    ----------
    residuals : (n, m)
        Curves less what is common to them, n curves on m equally spaced points. [unit of the curves]
    freedom : float
        How many independent curves the residuals stand for. [1]
    step : float
        Distance between neighbouring points. [unit of the axis]
    typical : float
        The length that is expected before any data. [unit of the axis]
    typical_freedom : float
        How many curves the expectation counts for. [1]

    Returns
    -------
    float
        [unit of the axis] `typical` where there are no residuals to learn from.
    """
    rate = typical_freedom / typical**2
    scale = np.mean(residuals**2) if residuals.size else 0.0
    if freedom <= 0.0 or scale == 0.0 or residuals.shape[1] < 2:
        return typical
    learnt = np.mean(np.diff(residuals, axis=1) ** 2) / scale / step**2
    return float(((rate + freedom * learnt) / (typical_freedom + freedom)) ** -0.5)
