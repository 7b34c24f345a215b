"""An out and a back run together must cancel a grade and nearly cancel the wind."""

import numpy as np
import pytest

from pullproof.analysis.wheel_power import pair_power, power_curve
from pullproof.errors import CannotAnswer, WrongUse


def curve(simulation, road, direction, *, gear=3, car=None, start_rpm=2200.0, end_rpm=6600.0, **options):
    car = simulation.Car() if car is None else car
    run = simulation.drive(car, road, start_rpm=start_rpm, end_rpm=end_rpm)
    record = simulation.record(run, 20, direction=direction, gear=gear)
    return power_curve(record, simulation.sheet, **options)


def test_a_grade_cancels_in_the_mean(simulation):
    """On 2 % of slope each way alone is 5 % off, the mean of both is right within 1 %."""
    up = curve(simulation, simulation.Road(grade=0.02), "out")
    down = curve(simulation, simulation.Road(grade=-0.02), "back")
    pair = pair_power(up, down)
    run = simulation.drive(simulation.Car())
    rpm, power = run.truth(np.linspace(0, run.seconds, 1000))
    truth = np.interp(pair.rpm, rpm, power)
    both = np.isin(up.rpm, pair.rpm)
    assert np.mean(up.wheel_power_kw[both] / truth) < 0.97
    np.testing.assert_allclose(pair.wheel_power_kw, truth, rtol=0.01)
    assert pair.direction == "out and back"
    assert len(pair.pulls) == 2


def test_wind_leaves_its_square(simulation):
    """3 m/s of wind is 15 % of drag one way at 40 m/s, and 0.56 % in the mean of both; drag is a tenth of the power."""
    ahead = curve(simulation, simulation.Road(headwind=3.0), "out")
    behind = curve(simulation, simulation.Road(headwind=-3.0), "back")
    still = curve(simulation, simulation.Road(), "out")
    pair = pair_power(ahead, behind)
    known = np.isin(still.rpm, pair.rpm)
    np.testing.assert_allclose(pair.wheel_power_kw, still.wheel_power_kw[known], rtol=0.005)
    assert pair.evidence.effect_kw["headwind"][-1] < 0.05 * ahead.evidence.effect_kw["headwind"][-1]


def test_a_pair_takes_the_mean_of_the_corrections(simulation):
    """A standard asked for in both runs is kept in the pair."""
    out = curve(simulation, simulation.Road(), "out", standard="sae-j1349")
    back = curve(simulation, simulation.Road(), "back", standard="sae-j1349")
    assert pair_power(out, back).correction.factor == pytest.approx(out.correction.factor)


def test_what_is_no_pair_is_refused(simulation):
    """Two runs one way, two gears, or no engine speed in common are refused in words."""
    out = curve(simulation, simulation.Road(), "out")
    with pytest.raises(WrongUse, match='both runs go "out"'):
        pair_power(out, out)
    with pytest.raises(WrongUse, match="different gears"):
        pair_power(out, curve(simulation, simulation.Road(), "back", gear=4, car=simulation.Car(ratio=1.10 * 3.94)))
    low = curve(simulation, simulation.Road(), "out", end_rpm=4000.0)
    high = curve(simulation, simulation.Road(), "back", start_rpm=4300.0)
    with pytest.raises(CannotAnswer, match="no engine speed in common"):
        pair_power(low, high)
