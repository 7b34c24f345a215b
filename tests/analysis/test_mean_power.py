"""The mean of several pulls must average out what is each pull's own, and nothing else."""

import dataclasses

import numpy as np
import pytest
from tests.report.other_reports import power_curves

from pullproof.analysis.mean_power import mean_power, paired
from pullproof.errors import CannotAnswer


@pytest.fixture(scope="module")
def curves():
    return power_curves()


def test_one_pull_is_its_own_mean(curves):
    """The mean of one curve is that curve, with its interval by the normal distribution."""
    single = curves[2]
    mean = mean_power([single])
    np.testing.assert_array_equal(mean.power_kw, single.wheel_power_kw)
    half = 1.96 * np.hypot(single.evidence.own_doubt_kw, single.evidence.shared_doubt_kw)
    np.testing.assert_allclose(mean.upper_kw - mean.power_kw, half)


def test_shared_doubt_does_not_average_out(curves):
    """A hundred copies of one pull are as much in doubt as the mass, the tyre and the road of the car are."""
    single = dataclasses.replace(curves[2], direction=None)
    mean = mean_power([single] * 100)
    shared = 1.96 * single.evidence.shared_doubt_kw
    own = 1.96 * single.evidence.own_doubt_kw
    half = mean.upper_kw - mean.power_kw
    np.testing.assert_allclose(half, np.hypot(shared, own / 10))
    assert np.all(half > 0.999 * shared)


def test_scatter_widens_the_band(curves):
    """Pulls that differ more than their own noise says are in doubt by their scatter."""
    low, high = (
        dataclasses.replace(curves[2], wheel_power_kw=curves[2].wheel_power_kw + shift) for shift in (-20.0, 20.0)
    )
    apart, alike = mean_power([low, high]), mean_power([curves[2], curves[2]])
    np.testing.assert_allclose(apart.power_kw, alike.power_kw)
    assert np.all(apart.upper_kw > alike.upper_kw + 10.0)


def test_out_and_back_are_paired(curves):
    """An out and a back run become one curve; a run without a direction stays as it is; no pull is lost."""
    together = paired(curves)
    assert [curve.direction for curve in together] == ["out and back", None]
    assert mean_power(curves).pulls == 3
    assert [curve.direction for curve in paired([curves[0]])] == ["out"]


def test_without_common_engine_speeds_there_is_no_mean(curves):
    """Pulls over different ranges are not averaged."""
    cut = np.arange(3)
    short = dataclasses.replace(
        curves[2],
        rpm=curves[2].rpm[cut] - 5000.0,
        wheel_power_kw=curves[2].wheel_power_kw[cut],
        direction=None,
    )
    with pytest.raises(CannotAnswer, match="no engine speeds in common"):
        mean_power([curves[2], short])
    with pytest.raises(CannotAnswer):
        mean_power([])
