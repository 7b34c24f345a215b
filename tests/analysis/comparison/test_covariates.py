"""Circumstances: read from each pull, counted so that effects do not hang on one another, or named as missing."""

import datetime

import numpy as np
import pytest

from pullproof.analysis.comparison.covariates import gather_covariates
from pullproof.car import Car, Engine
from pullproof.conditions import Air
from pullproof.physics import moist_air

WINDOW = (4000.0, 6500.0)


def of(records, car, moments=None):
    return gather_covariates(records, car, WINDOW, moments or {})


def test_humidity_counts_as_vapour(pull, car, in_air):
    """The same relative humidity in warmer air is more vapour: the ASHRAE vapour pressure is what is compared."""
    found = of([pull(), pull("after-1.csv", air=in_air(temperature_c=30.0))], car)
    expected = [0.55 * float(moist_air.saturation_pressure(celsius + 273.15)) / 1000.0 for celsius in (11.0, 30.0)]
    np.testing.assert_allclose(found.known["humidity"], expected, rtol=1e-9)


def test_weather_of_one_log_serves_the_day(pull, car):
    """Weather written down for one log of a day holds for the others of that day."""
    found = of([pull("before-1.csv"), pull("before-2.csv", air=Air()), pull("after-1.csv")], car)
    assert found.known["air_temperature"].tolist() == [11.0, 11.0, 11.0]


def test_weather_known_on_one_side_only_is_not_used(pull, car):
    """A pressure known of one side only cannot be taken out, and the log that lacks it is named."""
    found = of([pull(), pull("after-1.csv", day="sunday", air=Air())], car)
    assert found.missing["air_pressure"] == "after-1.csv"
    assert "air_pressure" not in found.columns
    assert "air_pressure" in found.widening


def test_a_charge_temperature_counts_above_the_air(pull, car, in_air):
    """Air and charge 10 K warmer together is warmer air and no warmer start."""
    warm = pull("after-1.csv", air=in_air(temperature_c=21.0), intake_air_temperature=45.0)
    found = of([pull(intake_air_temperature=35.0), warm], car)
    assert np.ptp(found.columns["air_temperature"]) == pytest.approx(10.0)
    assert np.ptp(found.columns["charge_temperature_start"]) == pytest.approx(0.0)
    assert np.ptp(found.known["charge_temperature_start"]) == pytest.approx(10.0)


def test_a_charge_temperature_stands_in_for_the_air(pull, car):
    """Where nobody knows the air, the charge at the start tells of it, with the doubt of how warm the start was."""
    found = of([pull(air=Air()), pull("after-1.csv", air=Air(), intake_air_temperature=41.0)], car)
    assert found.acts_as == {"charge_temperature_start": "air_temperature"}
    assert np.ptp(found.columns["charge_temperature_start"]) == pytest.approx(6.0)
    assert "air_temperature" in found.missing
    assert "air_temperature" not in found.widening
    assert "charge_temperature_start" in found.widening


def test_charge_temperature_is_read_from_one_sensor(pull, car):
    """Where one side lacks the better sensor, the one that both have is used."""
    found = of([pull(), pull("after-1.csv", charge_air_temperature=60.0)], car)
    assert found.known["charge_temperature_start"].tolist() == [35.0, 35.0]


def test_boost_counts_as_absolute_pressure(pull, car, in_air):
    """1 kPa less barometer and 1 kPa more boost is the same charge pressure, so nothing of boost is to be taken out."""
    found = of([pull(boost=140.0), pull("after-1.csv", boost=141.0, air=in_air(pressure_kpa=98.4))], car)
    assert np.ptp(found.columns["boost"]) == pytest.approx(0.0, abs=1e-6)
    assert np.ptp(found.known["boost"]) == pytest.approx(1.0)
    assert found.state.boost_follows == (0.0, 0.0)


def test_an_unblown_engine_has_no_boost_to_match(pull):
    """Without a charger boost is neither a covariate nor missing, and charge pressure is the barometer's."""
    car = Car("old hatch", engine=Engine(redline_rpm=6800.0, aspiration="none"))
    found = of([pull(without=("boost",)), pull("after-1.csv", without=("boost",))], car)
    assert "boost" not in found.columns
    assert "boost" not in found.missing
    assert found.state.boost_follows == (1.0, 0.0)


def test_boost_is_a_result_where_the_wastegate_has_no_control(pull, car):
    """With duty pinned at 100 % boost carries the answer, so it is not taken out of anything."""
    found = of([pull(wastegate_duty=100.0, boost=130.0), pull("after-1.csv", boost=140.0)], car)
    assert found.at_the_stop == 1
    assert "boost" not in found.columns
    assert "boost" not in found.missing


def test_the_place_in_the_day_counts_less_and_less(pull, car):
    """The first pulls of a day warm a car most; a new day begins anew."""
    records = [pull(f"before-{number}.csv") for number in range(4)] + [pull("after-1.csv", day="sunday")]
    place = of(records, car).columns["order"]
    steps = np.diff(place[:4])
    assert place[0] == place[4] == 0.0
    assert np.all(steps > 0.0)
    assert np.all(np.diff(steps) < 0.0)
    assert place.max() < 1.0


def test_the_place_in_the_day_goes_by_the_clock(pull, car):
    """A pull of the second side that was driven first is the first of its day."""
    moments = {
        "before-1.csv": datetime.datetime(2026, 10, 3, 15),  # noqa: DTZ001
        "after-1.csv": datetime.datetime(2026, 10, 3, 14),  # noqa: DTZ001
    }
    place = of([pull(), pull("after-1.csv")], car, moments).columns["order"]
    assert place[1] == 0.0
    assert place[0] > 0.0


def test_a_diesel_is_known_as_one(pull):
    """Its fuel decides the power."""
    car = Car("tractor", engine=Engine(redline_rpm=6800.0, aspiration="turbo", fuel="diesel"))
    assert of([pull(), pull("after-1.csv")], car).state.fuel_limited
