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
    """The mean of one curve is that curve, with the interval that the curve itself has."""
    single = curves[2]
    mean = mean_power([single])
    np.testing.assert_array_equal(mean.power_kw, single.wheel_power_kw)
    np.testing.assert_allclose(mean.upper_kw - mean.power_kw, single.evidence.half_width_kw)
    assert np.all(mean.upper_kw - mean.power_kw > 1.9599 * single.evidence.shared_doubt_kw)


def test_shared_doubt_does_not_average_out(curves):
    """A hundred copies of one pull are as much in doubt as the mass, the tyre and the road of the car are."""
    single = dataclasses.replace(curves[2], direction=None)
    mean = mean_power([single] * 100)
    shared = 1.96 * single.evidence.shared_doubt_kw
    own = 1.96 * single.evidence.own_doubt_kw
    half = mean.upper_kw - mean.power_kw
    np.testing.assert_allclose(half, np.hypot(shared, own / 10), rtol=1e-4)
    assert np.all(half > 0.999 * shared)


@pytest.mark.parametrize(("pulls", "printed"), [(2, "12.71"), (3, "4.30"), (4, "3.18"), (6, "2.57")])
def test_few_pulls_know_their_own_scatter_badly(curves, pulls, printed):
    """Where scatter is all there is, the factor is Student's for the pulls less one [GUM table G.2, 95 %]."""
    evidence = dataclasses.replace(
        curves[2].evidence,
        own_doubt_kw=np.full_like(curves[2].rpm, 1e-6),
        effect_kw={name: np.zeros_like(curves[2].rpm) for name in curves[2].evidence.effect_kw},
    )
    shifts = np.linspace(-1.0, 1.0, pulls)
    apart = [
        dataclasses.replace(
            curves[2], direction=None, evidence=evidence, wheel_power_kw=curves[2].wheel_power_kw + shift
        )
        for shift in shifts
    ]
    mean = mean_power(apart)
    factor = (mean.upper_kw - mean.power_kw) / (shifts.std(ddof=1) / np.sqrt(pulls))
    np.testing.assert_allclose(factor, float(printed), atol=0.006)


def test_torque_is_power_over_engine_speed(curves):
    """100 kW at 3000 rpm are 318.3 N m (definition of power), and the peak's interval is that of the power there."""
    flat = dataclasses.replace(curves[2], wheel_power_kw=np.full_like(curves[2].rpm, 100.0))
    mean = mean_power([flat])
    at = int(np.argmin(np.abs(mean.rpm - 3000.0)))
    assert mean.torque_nm[at] == pytest.approx(100e3 / (mean.rpm[at] * 2.0 * np.pi / 60.0))
    assert 100e3 / (3000.0 * 2.0 * np.pi / 60.0) == pytest.approx(318.3, abs=0.05)


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
