import pytest

from pullproof.demo.weather import Weather


def test_dry_standard_air() -> None:
    """At 15 degC and 101.325 kPa dry air has the density of ISO 2533, sea level: 1.225 kg/m3."""
    weather = Weather(15.0, 101.325, 0.0)
    assert weather.density == pytest.approx(1.225, abs=5e-4)
    assert weather.dry_share == 1.0


def test_damp_air_is_lighter_and_holds_less_to_burn_with() -> None:
    """Water is lighter than air and no use to the engine."""
    dry, damp = Weather(30.0, 100.0, 0.0), Weather(30.0, 100.0, 90.0)
    assert damp.density < dry.density
    assert damp.dry_share < dry.dry_share
