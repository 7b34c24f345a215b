"""Charge cooler: inverse functions, bounds of effectiveness, and what a core gains and loses."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import charge_cooler

units = st.floats(0.01, 6.0)
capacity_ratios = st.floats(0.0, 1.0)


@given(units, capacity_ratios)
def test_transfer_units_undo_effectiveness(transfer_units, ratio):
    """Transfer units found from an effectiveness are those that made it."""
    effectiveness = charge_cooler.effectiveness_crossflow(transfer_units, ratio)
    found = charge_cooler.transfer_units_crossflow(effectiveness, ratio)
    assert found == pytest.approx(transfer_units, rel=1e-6)


@given(units, capacity_ratios)
def test_effectiveness_lies_between_parallel_flow_and_counterflow(transfer_units, ratio):
    """Cross-flow beats parallel flow and is beaten by counterflow of the same size (second law)."""
    parallel = (1 - np.exp(-transfer_units * (1 + ratio))) / (1 + ratio)
    falling = np.exp(-transfer_units * (1 - ratio))
    counter = transfer_units / (1 + transfer_units) if ratio > 1 - 1e-9 else (1 - falling) / (1 - ratio * falling)
    found = charge_cooler.effectiveness_crossflow(transfer_units, ratio)
    assert parallel - 1e-9 <= found <= counter + 1e-9


@given(units)
def test_endless_coolant_is_a_heated_wall(transfer_units):
    """With no capacity ratio the arrangement does not matter: 1 - exp(-NTU)."""
    found = charge_cooler.effectiveness_crossflow(transfer_units, 0.0)
    assert found == pytest.approx(1 - np.exp(-transfer_units), rel=1e-10)


def test_effectiveness_at_the_ends():
    """No transfer units, no effectiveness; more than 20 are not looked for."""
    assert charge_cooler.effectiveness_crossflow(0.0, 0.5) == 0.0
    assert charge_cooler.transfer_units_crossflow(0.0, 0.5) == 0.0
    assert np.isnan(charge_cooler.transfer_units_crossflow(0.999, 1.0))


@given(st.floats(330.0, 450.0), st.floats(270.0, 320.0), st.floats(0.0, 1.0))
def test_outlet_temperature_undoes_effectiveness(inlet, coolant, effectiveness):
    """The outlet temperature that an effectiveness makes gives that effectiveness back."""
    outlet = charge_cooler.outlet_temperature(inlet, coolant, effectiveness)
    assert charge_cooler.effectiveness(inlet, outlet, coolant) == pytest.approx(effectiveness, abs=1e-12)


def test_a_cold_start_is_not_known():
    """Where the charge is no hotter than the coolant there is nothing to divide by."""
    assert np.isnan(charge_cooler.effectiveness(300.0, 299.0, 305.0))


def test_a_day_at_speed():
    """135 degC in, 45 degC out, 20 degC air: 0.783; 500 W/K on 252.5 and 1208.4 W/K gives 42.3 degC (`ht` 1.2.0)."""
    assert charge_cooler.effectiveness(408.15, 318.15, 293.15) == pytest.approx(0.78261, abs=5e-6)
    effectiveness = charge_cooler.effectiveness_crossflow(500 / 252.5, 252.5 / 1208.4)
    assert effectiveness == pytest.approx(0.80573, abs=5e-6)
    assert charge_cooler.outlet_temperature(408.15, 293.15, effectiveness) == pytest.approx(315.49, abs=5e-3)


def test_density_gain():
    """Ten kelvin gained at 320 K and 5 of 240 kPa lost net 3.2 less 2.1 per cent (worked by hand)."""
    gain = charge_cooler.density_gain(240e3, 235e3, 320.0, 310.0)
    assert gain - 1 == pytest.approx(0.0323 - 0.0208, abs=1e-3)


@given(st.floats(0.05, 0.5), st.floats(1.5, 4.0))
def test_scaled_loss_passes_through_the_known_point(flow, density):
    """At the measured flow and density the loss is the measured one; denser air of equal flow loses less."""
    assert charge_cooler.scaled_pressure_loss(flow, density, 4e3, flow, density) == pytest.approx(4e3)
    half_density = charge_cooler.scaled_pressure_loss(flow, density / 2, 4e3, flow, density)
    assert half_density == pytest.approx(8e3)
