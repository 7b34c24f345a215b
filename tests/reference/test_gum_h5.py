"""JCGM 100:2008 (GUM), annex H.5: a voltage standard, ten days of five readings, the nearest published analogue."""

import numpy as np
import pytest
from scipy.optimize import minimize

from pullproof.stats.mixed_model import Design, fit, log_marginal_likelihood
from pullproof.stats.scatter import EvenScatter, KnownScatter

# Table H.9 as printed: daily means, microvolt above 10 V, and daily standard deviations of five readings.
MEANS = np.array([172, 116, 13, 144, 106, 31, 60, 125, 163, 41], dtype=float)
DEVIATIONS = np.array([60, 77, 111, 101, 67, 93, 80, 73, 88, 86], dtype=float)
DAY = np.repeat(np.arange(10), 5)
MEAN = np.ones(1)


def readings():
    """Five readings a day that have the printed mean and standard deviation; the model sees nothing else of them."""
    shape = np.array([-2.0, -1.0, 0.0, 1.0, 2.0])
    return (MEANS[:, None] + DEVIATIONS[:, None] * shape / shape.std(ddof=1)).ravel()


def design():
    return Design(np.ones((50, 1)), DAY, np.zeros(1), np.full(1, np.inf))


@pytest.fixture(scope="module")
def components():
    """Scatter between days and within them where the marginal likelihood peaks."""
    found = minimize(
        lambda log_s: -log_marginal_likelihood(readings(), design(), *np.exp(log_s))[0],
        [4.0, 4.0],
        method="Nelder-Mead",
        options={"xatol": 1e-9, "fatol": 1e-11},
    )
    return np.exp(found.x)


def test_variance_components(as_printed, components):
    """Between days 43 microvolt, within a day 85 microvolt."""
    as_printed(components[0], "43")
    as_printed(components[1], "85")


def test_mean_and_its_uncertainty(as_printed, components):
    """The best estimate is 10.000 097 V with a standard uncertainty of 18 microvolt."""
    mean = fit(readings(), design(), *map(KnownScatter, components)).contrast(MEAN)
    as_printed(mean.mean()[0], "97")
    as_printed(mean.deviation()[0], "18")


def test_uncertainty_without_a_day_effect(as_printed):
    """With day effects pooled away the standard uncertainty would be 13 microvolt."""
    pooled = np.sqrt((9 * 5 * np.var(MEANS, ddof=1) + 4 * np.sum(DEVIATIONS**2)) / 49)
    as_printed(fit(readings(), design(), KnownScatter(0.0), KnownScatter(pooled)).contrast(MEAN).deviation()[0], "13")


def test_unknown_scatters_widen_the_interval_as_few_days_must(components):
    """With both scatters unknown the 95 % interval lies between those of Student's t with 9 and with 8 days' freedom.

    Nine is the textbook's for ten days. A prior that is even in the standard deviation, not in its logarithm, costs
    one more (Gelman, Bayesian Analysis 1 (2006) 515-534, section 2).
    """
    everything = EvenScatter(1e-2, 1e4)
    lower, upper = fit(readings(), design(), everything, everything).contrast(MEAN).interval(0.95)
    uncertainty = fit(readings(), design(), *map(KnownScatter, components)).contrast(MEAN).deviation()[0]
    assert 2.262 * uncertainty * 0.97 < (upper[0] - lower[0]) / 2 < 2.306 * uncertainty * 1.03
