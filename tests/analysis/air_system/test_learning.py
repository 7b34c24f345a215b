from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.air_system import Fitted, air_system, learn_volumetric_efficiency, meter_check
from pullproof.demo.car import DemoCar
from pullproof.demo.weather import Weather
from pullproof.errors import CannotAnswer


def true_filling(rpm):
    """Breathes best at 4200 rpm."""
    return 0.95 - 0.10 * ((rpm - 4200.0) / 2300.0) ** 2


def flow(reading=1.0, kelvin=315.0):
    return lambda rpm: reading * 1e6 * true_filling(rpm) * 220.0 * 2e-3 * rpm / (120.0 * 287.055 * kelvin)


@pytest.fixture
def metered(record):
    """A pull with air meter on a day; the meter may read too much, the temperature sensor too little."""

    def make(day, seed=0, reading=1.0, noise=0.01, **more):
        channels = {"manifold_pressure": 220.0, "charge_air_temperature": 41.85, "air_mass_flow": flow(reading)} | more
        channels = {name: value for name, value in channels.items() if value is not None}
        return record(f"{day}.csv", day, noise=noise, seed=seed, **channels)

    return make


def test_a_known_filling_is_recovered(metered, car):
    """From noisy pulls of three days the filling that made them comes back within 1 %, inside its interval."""
    pulls = [metered(day, seed) for seed, day in enumerate(["friday", "friday", "saturday", "sunday"])]
    learned = learn_volumetric_efficiency(pulls, car)
    np.testing.assert_allclose(learned.value, true_filling(learned.rpm), rtol=0.01)
    assert np.all(learned.lower < true_filling(learned.rpm))
    assert np.all(true_filling(learned.rpm) < learned.upper)
    assert (learned.pulls, learned.days) == (4, 3)
    assert learned.pressure_channel == "manifold_pressure"


def test_a_meter_that_reads_wrong_is_within_the_interval(metered, car):
    """A meter 4 % off makes the filling 4 % off; the interval, which knows of the meter's doubt, holds the truth."""
    learned = learn_volumetric_efficiency([metered("friday", reading=1.04, noise=0.0)], car)
    np.testing.assert_allclose(learned.value, 1.04 * true_filling(learned.rpm), rtol=1e-3)
    assert np.all(learned.lower < true_filling(learned.rpm))


def test_days_that_disagree_widen_the_interval(metered, car):
    """Scatter between days counts as scatter between days: two days 6 % apart know less than two that agree."""
    agree = learn_volumetric_efficiency([metered("friday", noise=0.0), metered("sunday", noise=0.0)], car)
    apart = learn_volumetric_efficiency(
        [metered("friday", reading=0.97, noise=0.0), metered("sunday", reading=1.03, noise=0.0)], car
    )
    assert np.all(apart.upper - apart.lower > 1.05 * (agree.upper - agree.lower))


def test_it_serves_logs_without_a_meter(metered, without, car):
    """A pull without meter gets the flow that the learned filling gives, with that as its source and doubt."""
    learned = learn_volumetric_efficiency([metered("friday"), metered("saturday", 1)], car)
    blind = without(metered("sunday", 2, noise=0.0), "air_mass_flow")
    part = air_system(blind, car, fitted=Fitted(filling=learned)).air_mass_flow
    true = np.interp(part.rpm, part.rpm, flow()(part.rpm))
    assert part.source == "speed-density"
    known = np.isfinite(part.value)
    np.testing.assert_allclose(part.value[known], true[known], rtol=0.02)
    assert any("learned from the air meter in 2 pulls" in doubt for doubt in part.doubts)
    assert np.isnan(learned.at(np.array([500.0])).value).all()


def test_pulls_that_cannot_tell_are_left_out_and_named(metered, without, car):
    """No meter, no pressure, a slip in a unit: each pull that tells nothing is named with its reason."""
    good = metered("friday")
    pulls = [
        good,
        without(metered("saturday"), "air_mass_flow"),
        without(metered("sunday"), "manifold_pressure"),
        metered("monday", reading=3.6),
    ]
    learned = learn_volumetric_efficiency(pulls, car)
    assert learned.pulls == 1
    said = " ".join(learned.doubts)
    for day, reason in (("saturday", "no air mass flow"), ("sunday", "no manifold pressure"), ("monday", "slip")):
        assert f"{day}.csv" in said
        assert reason in said


def test_nothing_to_learn_from(metered, without, car):
    """Where no pull tells it the last reason is given, and without pulls what to bring."""
    with pytest.raises(CannotAnswer, match="slip in a unit"):
        learn_volumetric_efficiency([metered("monday", reading=3.6)], car)
    with pytest.raises(CannotAnswer, match="no displacement"):
        learn_volumetric_efficiency([metered("monday")], replace(car, engine=replace(car.engine, displacement_l=None)))
    with pytest.raises(CannotAnswer, match="no pull to learn"):
        learn_volumetric_efficiency([], car)


def test_charge_pressure_serves_where_no_manifold_pressure_is(metered, car):
    """The throttle's loss then belongs to the filling, and the channel is named."""
    pulls = [metered("friday", manifold_pressure=None, charge_pressure=222.0)]
    learned = learn_volumetric_efficiency(pulls, car)
    assert learned.pressure_channel == "charge_pressure"
    np.testing.assert_allclose(learned.value, true_filling(learned.rpm), rtol=0.02)


def test_the_simulated_engine(outing, car):
    """A simulated engine's own table comes back from its logs within 2 %, over two days of other weather."""
    pulls = outing("a.csv", "a", 1, pulls=1) + outing("b.csv", "b", 2, weather=Weather(30.0, 96.0, 60.0, 1.0), pulls=1)
    learned = learn_volumetric_efficiency(pulls, replace(car, engine=replace(car.engine, displacement_l=1.984)))
    rpm, table = np.array(DemoCar().engine.volumetric_efficiency).T
    settled = (learned.rpm > 3500.0) & (learned.rpm < 6400.0)
    np.testing.assert_allclose(learned.value[settled], np.interp(learned.rpm, rpm, table)[settled], rtol=0.02)


def test_a_change_of_the_reading_is_found_and_called_so(metered, car):
    """A housing that makes the meter read 6 % more is found within its interval, as reading and not as air."""
    before = [metered(day, seed) for seed, day in enumerate(["friday", "saturday", "saturday"])]
    after = [metered(day, seed, reading=1.06) for seed, day in enumerate(["saturday", "sunday", "sunday"], 5)]
    found = meter_check(before, after, car)
    assert found.changed
    assert found.interval_pct[0] < 6.0 < found.interval_pct[1]
    assert found.interval_pct[0] < found.change_pct < found.interval_pct[1]
    assert "not the air that the engine gets" in found.statement
    assert (found.pulls_before, found.pulls_after, found.days) == (3, 3, 3)
    back = meter_check(after, before, car)
    assert (1.0 + back.change_pct / 100.0) * (1.0 + found.change_pct / 100.0) == pytest.approx(1.0, abs=2e-3)


def test_more_air_is_no_change_of_reading(metered, car):
    """Another boost and temperature move the air, not the ratio: nothing is claimed."""
    warm = 330.0
    more = lambda rpm: flow(kelvin=warm)(rpm) * 200.0 / 220.0  # noqa: E731
    before = [metered(day, seed) for seed, day in enumerate(["friday", "saturday"])]
    after = [
        metered(day, seed, manifold_pressure=200.0, charge_air_temperature=warm - 273.15, air_mass_flow=more)
        for seed, day in enumerate(["saturday", "sunday"], 5)
    ]
    found = meter_check(before, after, car)
    assert not found.changed
    assert "no change of its reading" in found.statement


def test_a_meter_check_needs_the_same_pressure_and_both_sides(metered, without, car):
    """A change of pressure sensor must not look like a change of the meter; a side without meter says so."""
    first, second = metered("friday"), metered("sunday", charge_pressure=222.0)
    with pytest.raises(CannotAnswer, match="in every pull"):
        meter_check([first], [without(second, "manifold_pressure")], car)
    with pytest.raises(CannotAnswer, match="no air mass flow"):
        meter_check([first], [without(second, "air_mass_flow")], car)
