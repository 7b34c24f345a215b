"""Moist air: exact relations over the whole range of weather."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import dry_air, moist_air

kelvins = st.floats(253.15, 323.15)
barometers = st.floats(60e3, 107e3)
humidities = st.floats(0.0, 1.0)


@given(barometers, kelvins)
def test_dry_air_is_the_limit(pressure, temperature):
    """Without vapour, moist air is dry air, and all of its pressure is dry."""
    assert moist_air.density(pressure, temperature, 0.0) == pytest.approx(dry_air.density(pressure, temperature))
    assert moist_air.dry_air_pressure(pressure, temperature, 0.0) == pressure
    assert moist_air.humidity_ratio(pressure, temperature, 0.0) == 0.0


@given(barometers, kelvins, humidities)
def test_pressures_add_up(pressure, temperature, humidity):
    """Dry and vapour pressure sum to the barometer (Dalton)."""
    dry = moist_air.dry_air_pressure(pressure, temperature, humidity)
    assert dry + moist_air.vapour_pressure(temperature, humidity) == pytest.approx(pressure, rel=1e-12)


@given(barometers, kelvins, humidities)
def test_humidity_ratio_is_the_ratio_of_masses(pressure, temperature, humidity):
    """Vapour over dry air by mass agrees with the densities of the two gases in one volume."""
    dry = moist_air.dry_air_pressure(pressure, temperature, humidity) / dry_air.GAS_CONSTANT
    vapour = moist_air.vapour_pressure(temperature, humidity) / moist_air.VAPOUR_GAS_CONSTANT
    assert moist_air.humidity_ratio(pressure, temperature, humidity) == pytest.approx(vapour / dry, rel=1e-4)


@given(barometers, kelvins, humidities)
def test_water_makes_air_lighter(pressure, temperature, humidity):
    """Moist air never weighs more than dry air of the same pressure and temperature."""
    moist = moist_air.density(pressure, temperature, humidity)
    assert moist <= dry_air.density(pressure, temperature) * (1 + 1e-12)


@given(kelvins, humidities.filter(lambda humidity: humidity > 0.1))
def test_dew_point_there_and_back(temperature, humidity):
    """The dew point found by search gives back the humidity that it came from."""
    candidates = np.linspace(210.0, temperature, 20_000)
    vapour = moist_air.vapour_pressure(temperature, humidity)
    dew_point = candidates[np.searchsorted(moist_air.saturation_pressure(candidates), vapour).clip(0, 19_999)]
    found = moist_air.relative_humidity_from_dew_point(temperature, dew_point)
    assert found == pytest.approx(humidity, abs=2e-3)


def test_saturation_pressure_rises_without_a_step():
    """Warmer air holds more water all the way from -100 to 200 degC, across the triple point too."""
    pressures = moist_air.saturation_pressure(np.linspace(173.15, 473.15, 3001))
    assert np.all(np.diff(pressures) > 0)
    below, above = moist_air.saturation_pressure([273.16 - 1e-9, 273.16])
    assert below == pytest.approx(above, rel=1e-4)


def test_per_cent_and_celsius_are_refused():
    """Sixty per cent written as 60, and 25 degC written as 25, stop with a sentence that names the unit."""
    with pytest.raises(ValueError, match="fraction"):
        moist_air.density(101_325.0, 298.15, 60.0)
    with pytest.raises(ValueError, match="kelvin"):
        moist_air.density(101_325.0, 25.0, 0.6)
    with pytest.raises(ValueError, match="dew point"):
        moist_air.relative_humidity_from_dew_point(290.0, 291.0)
