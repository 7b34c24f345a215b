"""The standard atmosphere: its inverses, and the trap of a reduced pressure."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import corrections
from pullproof.physics import standard_atmosphere as atmosphere

altitudes = st.floats(-400.0, 6000.0)


@given(altitudes)
def test_altitudes_from_pressure_and_density(altitude):
    """Pressure altitude and density altitude undo pressure and density."""
    assert atmosphere.pressure_altitude(atmosphere.pressure(altitude)) == pytest.approx(altitude, abs=1e-6)
    # The atmosphere's own density uses sea-level values whose rounding shifts the altitude by a few millimetres.
    assert atmosphere.density_altitude(atmosphere.density(altitude)) == pytest.approx(altitude, abs=1e-6)


@given(st.floats(1.0, 3000.0), st.floats(97e3, 104e3), st.floats(260.0, 310.0))
def test_reduction_by_the_day(altitude, reduced, temperature):
    """A warmer column of air weighs less and leaves more pressure up high; on a standard day both reductions agree."""
    cold = atmosphere.station_pressure_from_sea_level_pressure(reduced, altitude, temperature)
    warm = atmosphere.station_pressure_from_sea_level_pressure(reduced, altitude, temperature + 5.0)
    assert warm > cold
    standard = atmosphere.temperature(altitude)
    by_day = atmosphere.station_pressure_from_sea_level_pressure(101_325.0, altitude, standard)
    assert by_day == pytest.approx(atmosphere.pressure(altitude), rel=5e-4)


def test_reduced_pressure_in_place_of_station_pressure_costs_seven_per_cent():
    """At 500 m the mistake is 6.1 % of pressure, and 0.9729 in place of 1.0437 in the SAE factor at 25 degC."""
    station = atmosphere.station_pressure_from_altimeter_setting(101_325.0, 500.0)
    assert 101_325.0 / station == pytest.approx(1.061, abs=5e-4)
    assert corrections.sae_j1349(101_325.0, 298.15).factor == pytest.approx(0.9729, abs=5e-5)
    assert corrections.sae_j1349(station, 298.15).factor == pytest.approx(1.0437, abs=5e-5)
