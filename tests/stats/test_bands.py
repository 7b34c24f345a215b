"""A band must be as wide as the whole curve needs: exact for independent points, right for smooth noise."""

import numpy as np
import pytest
from scipy.stats import norm

from pullproof.stats.bands import change_length, pointwise_level, simultaneous_factor

NEVER_SMOOTH, ALL_ALIKE = 1e-9, 1e9


@pytest.mark.parametrize(
    ("points", "printed"), [(1, 1.960), (2, 2.236), (5, 2.569), (10, 2.800), (20, 3.016), (50, 3.283)]
)
def test_independent_points_need_sidaks_factor(points, printed):
    """For independent points the factor is Sidak's (J. American Statistical Association 62 (1967) 626-633)."""
    assert simultaneous_factor(0.95, points, 1.0, NEVER_SMOOTH) == pytest.approx(printed, abs=5e-4)


@pytest.mark.parametrize(("correlation", "exact"), [(0.0, 2.80), (0.5, 2.71), (0.9, 2.38), (0.99, 2.10)])
def test_never_narrower_than_correlated_points_need(correlation, exact):
    """Ten points of equal correlation never need more than Sidak's factor (Montiel Olea & Plagborg-Moller 2019)."""
    assert simultaneous_factor(0.95, 10, 1.0, NEVER_SMOOTH) >= exact - 0.005, correlation


def test_a_curve_without_noise_along_it_needs_the_pointwise_factor():
    """Where the whole curve moves as one, one look is all there is: 1.96."""
    assert simultaneous_factor(0.95, 50, 1.0, ALL_ALIKE) == pytest.approx(norm.ppf(0.975), abs=1e-6)
    assert pointwise_level(0.95, 50, 1.0, ALL_ALIKE) == pytest.approx(0.95, abs=1e-9)


@pytest.mark.parametrize("change", [120.0, 300.0, 800.0])
def test_smooth_noise_stays_inside_as_often_as_asked(change):
    """Of 20 000 smooth random curves 95 % lie inside the band along their whole length (seeded simulation)."""
    rpm = np.arange(4000.0, 6501.0, 50.0)
    covariance = np.exp(-0.5 * ((rpm[:, None] - rpm) / change) ** 2) + 1e-9 * np.eye(len(rpm))
    curves = np.random.default_rng(11).normal(size=(20_000, len(rpm))) @ np.linalg.cholesky(covariance).T
    factor = simultaneous_factor(0.95, len(rpm), rpm[-1] - rpm[0], change)
    inside = np.mean(np.abs(curves).max(axis=1) <= factor)
    assert 0.947 < inside < 0.962


def test_change_length_is_learnt_from_curves():
    """Many curves show the length along which their noise changes; without any, the expected length is used."""
    rpm = np.arange(4000.0, 6501.0, 50.0)
    covariance = np.exp(-0.5 * ((rpm[:, None] - rpm) / 250.0) ** 2) + 1e-9 * np.eye(len(rpm))
    curves = np.random.default_rng(5).normal(size=(400, len(rpm))) @ np.linalg.cholesky(covariance).T
    assert change_length(curves, 400, 50.0, typical=1000.0) == pytest.approx(250.0, rel=0.05)
    assert change_length(curves[:0], 0, 50.0, typical=400.0) == 400.0
    assert 250.0 < change_length(curves[:1], 1, 50.0, typical=400.0, typical_freedom=20.0) <= 410.0


@pytest.mark.parametrize("level", [0.0, 1.0])
def test_impossible_levels_are_refused(level):
    """A level of nought or one has no band."""
    with pytest.raises(ValueError, match="level"):
        simultaneous_factor(level, 10, 1.0, 1.0)
