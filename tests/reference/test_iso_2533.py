"""ISO 2533:1975 / ICAO Doc 7488, the standard atmosphere; below 11 km the same as the US Standard Atmosphere 1976."""

import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from pullproof.physics import standard_atmosphere as atmosphere


@pytest.mark.parametrize(
    ("altitude", "kelvin", "pascal", "density"),
    [
        (-500, "291.40", "107477", "1.28489"),
        (0, "288.15", "101325", "1.22500"),
        (500, "284.90", "95460.8", "1.16727"),
        (1000, "281.65", "89874.6", "1.11164"),
        (2000, "275.15", "79495.2", "1.00649"),
        (3000, "268.65", "70108.5", "0.90912"),
        (5000, "255.65", "54019.9", "0.73612"),
    ],
)
def test_table_of_geopotential_altitudes(as_printed, altitude, kelvin, pascal, density):
    """Temperature, pressure and density agree with the table by geopotential altitude (values from memory)."""
    as_printed(atmosphere.temperature(altitude), kelvin)
    as_printed(atmosphere.pressure(altitude), pascal, units=2)
    as_printed(atmosphere.density(altitude), density, units=2)


def test_2000_m_of_geometric_altitude(as_printed):
    """At 2000 m geometric: 275.15 K, 79 501 Pa, 1.0066 kg/m3 (Public Domain Aeronautical Software table)."""
    altitude = atmosphere.geopotential_altitude(2000.0)
    as_printed(atmosphere.temperature(altitude), "275.154", units=2)
    as_printed(atmosphere.pressure(altitude), "79501")
    as_printed(atmosphere.density(altitude), "1.0066")


def test_against_an_independent_program():
    """From -500 to 5000 m the program of the 1976 atmosphere in `fluids` agrees to 1e-5."""
    for altitude in np.linspace(-500.0, 5000.0, 12):
        other = ATMOSPHERE_1976(float(altitude))
        geopotential = atmosphere.geopotential_altitude(altitude)
        assert atmosphere.pressure(geopotential) == pytest.approx(other.P, rel=1e-5)
        assert atmosphere.density(geopotential) == pytest.approx(other.rho, rel=1e-5)


@pytest.mark.parametrize(("pascal", "metres"), [(99_000, 195.3), (95_000, 540.0), (90_000, 988.0), (85_000, 1456.5)])
def test_pressure_altitude(pascal, metres):
    """Pressure altitude agrees with MetPy 1.7.1 `pressure_to_height_std` within 1 m."""
    assert atmosphere.pressure_altitude(pascal) == pytest.approx(metres, abs=1.0)


@pytest.mark.parametrize(
    ("altimeter_setting", "altitude", "smithsonian"),
    [(101_325, 500, 95_488), (102_500, 300, 98_942), (100_000, 1200, 86_560)],
)
def test_station_pressure_from_altimeter_setting(altimeter_setting, altitude, smithsonian):
    """Station pressure agrees with MetPy 1.7.1 `altimeter_to_station_pressure` but for that form's 0.3 hPa offset."""
    station = atmosphere.station_pressure_from_altimeter_setting(altimeter_setting, altitude)
    assert station == pytest.approx(smithsonian, abs=35.0)


def test_standard_day_needs_no_reduction():
    """A standard altimeter setting gives the standard pressure of the place itself."""
    altitude = np.linspace(-300.0, 4000.0, 44)
    station = atmosphere.station_pressure_from_altimeter_setting(101_325.0, altitude)
    assert station == pytest.approx(atmosphere.pressure(altitude), rel=1e-12)
