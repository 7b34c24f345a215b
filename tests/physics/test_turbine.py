"""Turbine and wastegate: conservation, limits, and the worked point with its table of sensitivities."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from scipy.optimize import brentq

from pullproof.physics import compressor, turbine
from pullproof.physics.orifices import nozzle_flow_function
from pullproof.physics.turbine import BoostState, largest_compressor_power, power_balance, wastegate_sensitivities

WORKED = BoostState(
    ambient_pressure=98e3,
    inlet_loss=0.0,
    charge_pressure=240e3,
    path_loss=0.0,
    exhaust_back_pressure=14e3,
    inlet_temperature=293.15,
    air_mass_flow=0.25,
    air_fuel_ratio=12.0,
    exhaust_temperature=1223.0,
    compressor_efficiency=0.72,
    turbine_efficiency=0.70,
    mechanical_efficiency=0.97,
    turbine_area=8.0e-4,
)

states = st.builds(
    BoostState,
    ambient_pressure=st.floats(75e3, 105e3),
    inlet_loss=st.floats(0.0, 6e3),
    charge_pressure=st.floats(140e3, 300e3),
    path_loss=st.floats(0.0, 20e3),
    exhaust_back_pressure=st.floats(0.0, 40e3),
    inlet_temperature=st.floats(260.0, 330.0),
    air_mass_flow=st.floats(0.08, 0.5),
    air_fuel_ratio=st.floats(9.0, 40.0),
    exhaust_temperature=st.floats(700.0, 1300.0),
    compressor_efficiency=st.floats(0.5, 0.8),
    turbine_efficiency=st.floats(0.5, 0.8),
    mechanical_efficiency=st.floats(0.9, 1.0),
    turbine_area=st.floats(4e-4, 1.5e-3),
)


@given(states)
def test_the_turbine_gives_what_the_compressor_takes(state):
    """Power from the exhaust through the turbine equals compressor power, and no exhaust is lost on the way."""
    found = power_balance(state)
    assume(np.isfinite(found.expansion_ratio))
    drop = 1150.0 * state.exhaust_temperature * (1 - found.expansion_ratio ** (-0.33 / 1.33))
    given_power = found.turbine_mass_flow * drop * state.turbine_efficiency * state.mechanical_efficiency
    ratio = state.compressor_outlet_pressure / state.compressor_inlet_pressure
    work = compressor.specific_work(state.inlet_temperature, ratio, state.compressor_efficiency)
    assert given_power == pytest.approx(state.air_mass_flow * work, rel=1e-9)
    exhaust = state.air_mass_flow * (1 + 1 / state.air_fuel_ratio)
    assert found.turbine_mass_flow + found.bypass_fraction * exhaust == pytest.approx(exhaust, rel=1e-12)


@given(states)
def test_turbine_and_gate_are_nozzles_between_the_same_pressures(state):
    """Gate flow over turbine flow is gate area over turbine area: both feel the same pressures."""
    found = power_balance(state)
    assume(np.isfinite(found.wastegate_area) and found.bypass_fraction > 1e-6)
    flows = found.bypass_fraction / (1 - found.bypass_fraction)
    assert found.wastegate_area / state.turbine_area == pytest.approx(flows, rel=1e-9)


@given(states)
def test_gate_just_shut(state):
    """Where the compressor takes all that the exhaust can give, nothing is left for the gate."""
    largest = largest_compressor_power(state)
    assume(np.isfinite(largest))
    ratio = brentq(
        lambda r: (
            state.air_mass_flow * compressor.specific_work(state.inlet_temperature, r, state.compressor_efficiency)
            - largest
        ),
        1.0,
        1e3,
    )
    charge = ratio * (state.ambient_pressure - state.inlet_loss) - state.path_loss
    assume(charge > 50e3)
    at_limit = power_balance(replace(state, charge_pressure=charge))
    assert at_limit.bypass_fraction == pytest.approx(0.0, abs=1e-6)
    beyond = power_balance(replace(state, charge_pressure=charge * 1.02))
    assert np.isnan(beyond.wastegate_area)
    assert not beyond.bypass_fraction > 0


@given(states)
@settings(max_examples=40)
def test_signs_and_relations_that_hold_for_every_engine(state):
    """More loss or warmer air shuts the gate, hotter exhaust and better wheels open it; work counts anywhere."""
    slopes = wastegate_sensitivities(state)
    assume(np.isfinite(slopes.path_loss) and power_balance(state).bypass_fraction > 0.02)
    for shuts in (slopes.path_loss, slopes.inlet_loss, slopes.exhaust_back_pressure, slopes.inlet_temperature):
        assert shuts < 0
    for opens in (slopes.exhaust_temperature, slopes.compressor_efficiency, slopes.turbine_efficiency):
        assert opens > 0
    # A per cent of inlet temperature costs what a per cent of either efficiency gives back, ...
    assert slopes.inlet_temperature == pytest.approx(-slopes.compressor_efficiency, rel=1e-3)
    assert slopes.turbine_efficiency == pytest.approx(slopes.compressor_efficiency, rel=1e-3)
    # ... and a pascal lost in the path is a pascal of charge pressure that the compressor has to make as well.
    assert slopes.path_loss == pytest.approx(slopes.charge_pressure / state.charge_pressure, rel=1e-2)


def test_worked_point():
    """One engine worked by hand: 29.833 kW, 220.997 kPa, expansion 1.9732, 25.671 % bypassed, 2.7630 cm2."""
    found = power_balance(WORKED)
    assert found.compressor_power == pytest.approx(29.833e3, abs=0.5)
    assert found.turbine_inlet_pressure == pytest.approx(220.997e3, abs=0.5)
    assert found.expansion_ratio == pytest.approx(1.9732, abs=5e-5)
    assert found.bypass_fraction == pytest.approx(0.25671, abs=5e-6)
    assert found.wastegate_area == pytest.approx(2.7630e-4, abs=5e-9)


@pytest.mark.parametrize(
    ("change", "work", "pressure", "bypassed", "area"),
    [
        ({"charge_pressure": 239e3}, -0.53, 220.50, 0.2584, 0.88),
        ({"ambient_pressure": 97.02e3, "exhaust_back_pressure": 14.98e3}, 1.27, 222.19, 0.2527, -2.10),
        ({"inlet_temperature": 303.15}, 3.41, 224.19, 0.2460, -5.55),
        ({"exhaust_temperature": 1173.0}, 0.0, 222.98, 0.2342, -11.43),
        ({"exhaust_back_pressure": 13e3}, 0.0, 219.86, 0.2605, 2.01),
        ({"compressor_efficiency": 0.73}, -1.37, 219.71, 0.2610, 2.29),
        ({"air_mass_flow": 0.2475}, -1.00, 220.06, 0.2524, -2.25),
    ],
)
def test_worked_table(change, work, pressure, bypassed, area):
    """Each row of the worked table of changes, all else held."""
    before, after = power_balance(WORKED), power_balance(replace(WORKED, **change))
    assert 100 * (after.compressor_power / before.compressor_power - 1) == pytest.approx(work, abs=6e-3)
    assert after.turbine_inlet_pressure / 1e3 == pytest.approx(pressure, abs=6e-3)
    assert after.bypass_fraction == pytest.approx(bypassed, abs=6e-5)
    assert 100 * (after.wastegate_area / before.wastegate_area - 1) == pytest.approx(area, abs=6e-3)


def test_barometer_alone_nearly_cancels():
    """With the pressure behind the turbine falling too, a per cent of barometer moves the gate by about 0.15 %."""
    moved = power_balance(replace(WORKED, ambient_pressure=97.02e3)).wastegate_area
    assert 100 * (moved / power_balance(WORKED).wastegate_area - 1) == pytest.approx(-0.15, abs=0.02)


def test_sensitivities_are_slopes():
    """The derivatives reproduce small steps taken by hand."""
    slopes, here = wastegate_sensitivities(WORKED), power_balance(WORKED).wastegate_area
    hotter = power_balance(replace(WORKED, inlet_temperature=293.15 * 1.001)).wastegate_area
    assert np.log(hotter / here) / np.log(1.001) == pytest.approx(slopes.inlet_temperature, rel=2e-3)
    lossier = power_balance(replace(WORKED, path_loss=50.0)).wastegate_area
    assert np.log(lossier / here) / 50.0 == pytest.approx(slopes.path_loss, rel=2e-3)


def test_choked_turbine_is_solved_too():
    """Far beyond the critical ratio the nozzle is choked and the balance still holds."""
    state = replace(WORKED, charge_pressure=420e3, turbine_area=4.5e-4, air_mass_flow=0.4)
    found = power_balance(state)
    assert found.expansion_ratio > 2.0
    psi = nozzle_flow_function(1 / found.expansion_ratio, turbine.EXHAUST_HEAT_RATIO)
    assert psi == pytest.approx(nozzle_flow_function(0.1, turbine.EXHAUST_HEAT_RATIO), rel=1e-12)


def test_arrays_and_unknowns():
    """A curve of states is solved at once; what is not known, not compressed or out of reach is NaN there only."""
    charge = np.array([150e3, 240e3, np.nan, 90e3, 900e3])
    found = power_balance(replace(WORKED, charge_pressure=charge))
    assert np.isnan(found.wastegate_area).tolist() == [False, False, True, True, True]
    assert np.isnan(wastegate_sensitivities(replace(WORKED, charge_pressure=charge)).path_loss).tolist() == [
        False,
        False,
        True,
        True,
        True,
    ]


@pytest.mark.parametrize(
    ("change", "word"),
    [
        ({"inlet_temperature": -5.0}, "K"),
        ({"exhaust_temperature": 0.0}, "K"),
        ({"inlet_loss": 99e3}, "before the compressor"),
        ({"path_loss": -1.0}, "path loss"),
        ({"exhaust_back_pressure": -1.0}, "back pressure"),
        ({"air_fuel_ratio": 0.0}, "air-fuel"),
        ({"compressor_efficiency": 72.0}, "efficiency"),
        ({"turbine_efficiency": 70.0}, "efficiency"),
        ({"turbine_area": 0.0}, "area"),
        ({"air_mass_flow": -0.1}, "air mass flow"),
    ],
)
def test_nonsense_is_refused(change, word):
    """An impossible state raises ValueError and names what is impossible."""
    with pytest.raises(ValueError, match=word):
        power_balance(replace(WORKED, **change))
