"""The road's slope is found from altitude, and left alone where it cannot be told from level."""

import numpy as np
import pytest

from pullproof.channels import Trace
from pullproof.tractive_power.given import LEVEL_ROAD
from pullproof.tractive_power.road import gradient_of

TIME = np.arange(100.0, 108.0, 0.02)
SPEED = 15.0 + 3.0 * (TIME - 100.0)


def altitude(slope, noise, seed=1, before=5.0, rate=5.0):
    at = np.arange(100.0 - before, 108.0 + before, 1.0 / rate)
    inside = np.clip(at, 100.0, 108.0)
    distance = 15.0 * (inside - 100.0) + 1.5 * (inside - 100.0) ** 2
    distance += 15.0 * np.minimum(at - 100.0, 0.0) + 39.0 * np.maximum(at - 108.0, 0.0)
    values = 200.0 + slope * distance + noise * np.random.default_rng(seed).normal(size=at.size)
    return {"altitude": Trace("altitude", "m", at, np.round(values, 1))}


def test_a_hill_is_found():
    """3 % is found within two standard doubts, and its doubt is well below that of an unknown road."""
    slope, grade = gradient_of(altitude(0.03, 0.3), TIME, SPEED)
    assert grade.value == pytest.approx(0.03, abs=2 * grade.doubt)
    assert grade.doubt < LEVEL_ROAD.doubt
    np.testing.assert_allclose(slope, 0.03, atol=0.006)


def test_level_counts_as_level():
    """A slope within two standard doubts of nothing is not corrected: exactly zero, so that it adds no noise."""
    slope, grade = gradient_of(altitude(0.001, 0.5), TIME, SPEED)
    assert np.all(slope == 0.0)
    assert grade.value == 0.0
    assert "not told from level" in grade.origin


@pytest.mark.parametrize("traces", [{}, altitude(0.03, 0.3, before=0.0, rate=0.4)])
def test_too_little_altitude_leaves_the_road_unknown(traces):
    """Without altitude, or with four samples of it, the road is taken for level with the usual doubt."""
    slope, grade = gradient_of(traces, TIME, SPEED)
    assert np.all(slope == 0.0)
    assert grade == LEVEL_ROAD
