"""What the weather does must be what physics says it does, within the doubt that is stated."""

from dataclasses import replace

import pytest

from pullproof.analysis.comparison.adjustments import GATE_AREA, AirState, effects
from pullproof.analysis.comparison.priors import load_priors
from pullproof.physics import corrections, moist_air
from pullproof.physics.turbine import BoostState, power_balance

UNBLOWN = AirState(99.0, 0.0, boost_follows=(1.0, 0.0))
BOOSTED = AirState(98.0, 142.0)


def effect_of(measure, covariate, state, level=100.0):
    return effects(measure, load_priors().measures[measure], state, level)[covariate]


WORKED = BoostState(
    ambient_pressure=98_000.0,
    inlet_loss=0.0,
    charge_pressure=240_000.0,
    path_loss=0.0,
    exhaust_back_pressure=14_000.0,
    inlet_temperature=293.15,
    air_mass_flow=0.25,
    air_fuel_ratio=12.0,
    exhaust_temperature=1223.0,
    compressor_efficiency=0.72,
    turbine_efficiency=0.70,
    mechanical_efficiency=0.97,
    turbine_area=8.0e-4,
)


@pytest.mark.parametrize(
    ("what", "changed", "units"),
    [
        ("charge_loss_kpa", {"path_loss": 1_000.0}, 1.0),
        ("inlet_kelvin", {"inlet_temperature": 303.15}, 10.0),
        ("exhaust_kelvin", {"exhaust_temperature": 1173.0}, -50.0),
        ("flow_percent", {"air_mass_flow": 0.2475}, -1.0),
    ],
)
def test_gate_area_is_the_shaft_balances(what, changed, units):
    """The table of gate areas agrees with the shaft balance solved at the worked point [Watson & Janota; Heywood]."""
    here, there = (float(power_balance(replace(WORKED, **change)).wastegate_area) for change in ({}, changed))
    assert 100.0 * (there / here - 1.0) / units == pytest.approx(GATE_AREA[what], rel=0.04)


def test_power_of_an_unblown_engine_follows_the_standard_in_pressure():
    """1 kPa of dry air is worth what SAE J1349 says, 1.18/99 of the power at its reference state."""
    one_less = 100.0 * (float(corrections.sae_j1349(98_000.0, 298.15).factor) - 1.0)
    assert effect_of("wheel_power.mean", "air_pressure", UNBLOWN).mean == pytest.approx(one_less, rel=0.02)


def test_power_of_an_unblown_engine_follows_the_standard_in_temperature():
    """1 K is worth what SAE J1349 says, to about the doubt: the standard stands at one end of what engines do."""
    colder, warmer = (float(corrections.sae_j1349(99_000.0, kelvin).factor) for kelvin in (297.65, 298.65))
    one_more = 100.0 * (colder - warmer)
    effect = effect_of("wheel_power.mean", "air_temperature", UNBLOWN)
    assert abs(effect.mean - one_more) < 1.1 * effect.doubt


def test_vapour_costs_power_as_the_standard_counts_it():
    """1 kPa of vapour in place of dry air is worth what 1 kPa of dry air is (SAE J1349 counts dry air)."""
    one_less = 100.0 * (float(corrections.sae_j1349(98_000.0, 298.15).factor) - 1.0)
    assert effect_of("wheel_power.mean", "humidity", UNBLOWN).mean == pytest.approx(-one_less, rel=0.02)


def test_vapour_makes_air_lighter():
    """1 kPa of vapour changes the mass that fills the engine as it changes the density of moist air."""
    damp = 1_000.0 / float(moist_air.saturation_pressure(298.15))
    dry, moist = (float(moist_air.density(99_000.0, 298.15, humidity)) for humidity in (0.0, damp))
    expected = 100.0 * (moist / dry - 1.0)
    assert effect_of("air_mass_flow.mean", "humidity", UNBLOWN).mean == pytest.approx(expected, rel=0.01)


def test_filling_goes_with_absolute_pressure():
    """A kilopascal of boost is worth its share of the absolute charge pressure (ideal gas)."""
    assert effect_of("air_mass_flow.mean", "boost", BOOSTED).mean == pytest.approx(100.0 / 240.0)
    assert effect_of("air_mass_flow.mean", "boost", BOOSTED, level=250.0).mean == pytest.approx(250.0 / 240.0)


def test_time_goes_against_power():
    """What makes power saves time, by a little more than its share."""
    for covariate in ("air_temperature", "humidity", "boost"):
        power, time = (effect_of(measure, covariate, BOOSTED).mean for measure in ("wheel_power.mean", "pull.time"))
        assert -1.3 < time / power < -1.0


def test_warm_air_needs_a_shut_wastegate():
    """Warm air needs more compressor work, so duty rises; what exhaust and ignition do leaves the size in doubt."""
    effect = effect_of("wastegate_duty.peak", "air_temperature", BOOSTED)
    assert effect.mean > 0.0
    assert effect.doubt >= effect.mean


def test_a_diesels_power_hardly_follows_the_air():
    """Fuel decides a diesel's power, air its lambda: lambda goes with filling, power with a fifth of it."""
    diesel = replace(BOOSTED, fuel_limited=True)
    for covariate in ("air_temperature", "boost"):
        petrol = effect_of("wheel_power.mean", covariate, BOOSTED)
        assert abs(effect_of("wheel_power.mean", covariate, diesel).mean) < 0.3 * abs(petrol.mean)
        filling = effect_of("air_mass_flow.mean", covariate, diesel).mean
        assert effect_of("lambda.mean", covariate, diesel, level=1.4).mean == pytest.approx(0.014 * filling)


def test_an_unknown_family_is_named():
    """A slip in the table is named with its measure."""
    prior = replace(load_priors().measures["pull.time"], covers="moon")
    with pytest.raises(ValueError, match=r"pull\.time.*moon"):
        effects("pull.time", prior, BOOSTED, 1.0)
