"""Compressor: inverse functions, limits, and reference states that stay with their numbers."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import compressor
from pullproof.physics.compressor import ReferenceState

inlets = st.floats(250.0, 330.0)
ratios = st.floats(1.01, 4.0)
efficiencies = st.floats(0.3, 1.0)


@given(inlets, ratios, efficiencies)
def test_efficiency_undoes_outlet_temperature(inlet, ratio, efficiency):
    """Efficiency from the temperatures that an efficiency makes is that efficiency."""
    outlet = compressor.outlet_temperature(inlet, ratio, efficiency)
    assert compressor.isentropic_efficiency(inlet, outlet, ratio) == pytest.approx(efficiency, rel=1e-9)


@given(inlets, ratios, ratios)
def test_ideal_stages_multiply(inlet, first, second):
    """Two stages without losses heat the air as one stage of the product of their ratios does."""
    between = compressor.outlet_temperature(inlet, first, 1.0)
    both = compressor.outlet_temperature(between, second, 1.0)
    assert both == pytest.approx(compressor.outlet_temperature(inlet, first * second, 1.0), rel=1e-12)


@given(inlets, st.floats(1.05, 4.0), efficiencies)
def test_work_sensitivity_is_the_slope(inlet, ratio, efficiency):
    """The sensitivity is the slope of work on log scales."""
    less, more = (compressor.specific_work(inlet, ratio * np.exp(side), efficiency) for side in (-1e-5, 1e-5))
    assert compressor.work_sensitivity(ratio) == pytest.approx(np.log(more / less) / 2e-5, rel=1e-5)


@pytest.mark.parametrize(("ratio", "printed"), [(1.6, "2.274"), (2.0, "1.590"), (2.4, "1.291"), (3.0, "1.061")])
def test_work_sensitivity_worked(ratio, printed):
    """k Pi^k/(Pi^k - 1) with k 2/7, worked by hand."""
    assert compressor.work_sensitivity(ratio) == pytest.approx(float(printed), abs=5.1e-4)


def test_nothing_compressed_is_not_known():
    """Below a pressure ratio of 1, or without warming, there is no efficiency and no work to speak of."""
    assert np.isnan(compressor.outlet_temperature(300.0, 0.9, 0.7))
    assert np.isnan(compressor.specific_work(300.0, 0.9, 0.7))
    assert np.isnan(compressor.isentropic_efficiency(300.0, 299.0, 2.0))
    assert np.isnan(compressor.work_sensitivity(1.0))
    assert compressor.outlet_temperature(300.0, 1.0, 0.7) == 300.0


@pytest.mark.parametrize(
    ("kelvin", "kilopascal", "at_25_degc_100_kpa", "at_15_degc_1013"),
    [(298.15, 99, "0.25253", "0.26027"), (308.15, 84, "0.30257", "0.31185"), (278.15, 102.5, "0.23558", "0.24281")],
)
def test_corrected_flow(kelvin, kilopascal, at_25_degc_100_kpa, at_15_degc_1013):
    """0.25 kg/s of three days' air referred to two reference states, worked by hand."""
    for reference, printed in [
        (ReferenceState(298.15, 100e3), at_25_degc_100_kpa),
        (ReferenceState(288.15, 101_325.0), at_15_degc_1013),
    ]:
        corrected = compressor.corrected_mass_flow(0.25, kelvin, kilopascal * 1e3, reference)
        assert corrected.value == pytest.approx(float(printed), abs=6e-6)
        assert corrected.reference is reference


@given(st.floats(0.01, 1.0), st.floats(1e3, 2e4), st.floats(250.0, 330.0), st.floats(60e3, 110e3))
def test_at_the_reference_state_nothing_is_corrected(flow, speed, kelvin, pascal):
    """Flow and speed at the reference state are corrected by nothing."""
    reference = ReferenceState(kelvin, pascal)
    assert compressor.corrected_mass_flow(flow, kelvin, pascal, reference).value == pytest.approx(flow)
    assert compressor.corrected_speed(speed, kelvin, reference).value == pytest.approx(speed)


def test_density_ratio():
    """PR 2.2 from 25 degC to 140 degC is 1.588 in density, 2.062 behind a cooler at 45 degC (worked by hand)."""
    assert compressor.density_ratio(2.2, 298.15, 413.15) == pytest.approx(1.58763, abs=5e-6)
    assert compressor.density_ratio(2.2, 298.15, 318.15) == pytest.approx(2.06170, abs=5e-6)


def test_a_reference_state_must_be_possible():
    """A reference in degrees Celsius below zero or without pressure is refused when it is written down."""
    with pytest.raises(ValueError, match="kelvin"):
        ReferenceState(-10.0, 100e3)
    with pytest.raises(ValueError, match="reference pressure"):
        ReferenceState(298.15, 0.0)
