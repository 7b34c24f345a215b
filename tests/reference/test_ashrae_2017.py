"""ASHRAE Fundamentals 2017, chapter 1: tables 1 and 3 and printed pairs, as they stand in PsychroLib's own tests."""

import psychrolib
import pytest

from pullproof.physics import moist_air, standard_atmosphere

psychrolib.SetUnitSystem(psychrolib.SI)


@pytest.mark.parametrize(
    ("celsius", "printed"),
    [(-20, "103.24"), (-5, "401.74"), (5, "872.6"), (25, "3169.7"), (50, "12351.3"), (100, "101418.0")],
)
def test_saturation_pressure_table_3(celsius, printed):
    """Saturation pressures agree with table 3 within 300 ppm, the distance of the handbook's own equation."""
    assert moist_air.saturation_pressure(celsius + 273.15) == pytest.approx(float(printed), rel=3e-4)


@pytest.mark.parametrize(("altitude", "printed"), [(500, "95461"), (1000, "89875"), (4000, "61640")])
def test_standard_pressure_table_1(as_printed, altitude, printed):
    """Standard pressures agree with table 1, whose altitudes behave as geopotential."""
    as_printed(standard_atmosphere.pressure(altitude), printed, units=3 if altitude == 4000 else 1)


def test_humidity_ratio_of_a_printed_pair():
    """Vapour of 3169.7 Pa in 95 461 Pa of air is a humidity ratio of 0.02136040 (PsychroLib's test of eq. 20)."""
    relative_humidity = 3169.7 / moist_air.saturation_pressure(298.15)
    # 3169.7 is a rounded table value, 1.5e-4 above the equation; saturation is the nearest that a fraction allows.
    assert relative_humidity == pytest.approx(1.0, abs=2e-4)
    assert moist_air.humidity_ratio(95_461.0, 298.15, 1.0) == pytest.approx(0.02136040, rel=2e-4)


def test_density_of_a_printed_state():
    """Air of 30 degC, humidity ratio 0.02, 95 461 Pa weighs 1.08411 kg/m3 (PsychroLib's test of eq. 11)."""
    relative_humidity = psychrolib.GetRelHumFromHumRatio(30.0, 0.02, 95_461.0)
    density = moist_air.density(95_461.0, 303.15, relative_humidity)
    assert density == pytest.approx(1.08411986348219, rel=1e-4)


@pytest.mark.parametrize("celsius", [-30, -0.5, 0.5, 5, 15, 25, 35, 45, 90])
def test_saturation_pressure_against_psychrolib(celsius):
    """An independent program of the same handbook equations gives the same saturation pressure."""
    assert moist_air.saturation_pressure(celsius + 273.15) == pytest.approx(
        psychrolib.GetSatVapPres(celsius), rel=1e-12
    )


def test_station_pressure_from_reduced_pressure():
    """102 484 Pa at sea level, 17.19 degC at 105 m, is 101 226.5 Pa at the place (pair in PsychroLib's tests)."""
    station = standard_atmosphere.station_pressure_from_sea_level_pressure(102_484.0, 105.0, 290.34)
    assert station == pytest.approx(101_226.5, abs=1.0)
