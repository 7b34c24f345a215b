"""How narrow an honest interval can be for somebody who knows how cars scatter, but not yet this one.

The cars' scatter is taken as log-normal, and known to be. What is left to chance is the estimate from the pulls at
hand. No analysis that holds the truth in 95 of 100 cases can do better on average, weather and all else known.
"""

import numpy as np
from scipy.stats import norm

__all__ = ["least_width"]

CARS = 600
NODES = 81
WIDTHS = np.linspace(0.05, 10.0, 400)


def least_width(doubt: float, freedom: int) -> float:
    """Mean width over the mean width of an oracle that knows each car's scatter.

    `doubt` is the standard deviation of the logarithm of the scatter between cars, `freedom` the degrees of freedom
    that the pulls at hand give for it; 0 for one pull a side.
    """
    rng = np.random.default_rng([freedom, round(1000 * doubt)])
    nodes = np.linspace(-4.0, 4.0, NODES) * doubt
    scatter, believed = np.exp(nodes), -0.5 * (nodes / doubt) ** 2
    held = 2.0 * norm.cdf(WIDTHS[:, None] / scatter) - 1.0
    true = np.exp(doubt * rng.normal(size=CARS))
    seen = true**2 * rng.chisquare(freedom, CARS) / freedom if freedom else np.ones(CARS)
    widths = []
    for square in seen:
        log_weight = believed - freedom * (nodes + 0.5 * square / scatter**2)
        weight = np.exp(log_weight - log_weight.max())
        widths.append(np.interp(0.95, held @ (weight / weight.sum()), WIDTHS))
    return float(np.mean(widths) / np.mean(norm.ppf(0.975) * true))
