"""Pipe flow: scaling laws, limits and additivity, compressible and not."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import compressible_flow as compressible
from pullproof.physics import dry_air, pipe_flow, sections
from pullproof.physics.bends import bend_rounded_rennels

flows = st.floats(0.02, 0.3)
pressures, temperatures = st.floats(150e3, 350e3), st.floats(280.0, 420.0)
areas = st.floats(2.5e-3, 8e-3)
coefficients = st.floats(0.01, 3.0)


def path_loss(bore, mass_flow, roughness=1.5e-6):
    """1.2 m with three 90 degree bends of R/D 1.5, charge air of 240 kPa and 50 degC."""
    area = sections.round_bore(bore).area
    number = pipe_flow.reynolds_number(mass_flow, bore, area, dry_air.viscosity_sutherland(323.15))
    friction = pipe_flow.friction_factor(number, roughness / bore)
    heads = pipe_flow.pipe_coefficient(friction, 1.2, bore)
    heads = heads + 3 * bend_rounded_rennels(bore, 1.5 * bore, np.pi / 2, friction).value
    return heads, area, pipe_flow.incompressible_loss(heads, mass_flow, dry_air.density(240e3, 323.15), area)


@given(coefficients, flows, pressures, temperatures, areas)
def test_loss_goes_with_the_square_of_the_flow(coefficient, flow, pressure, temperature, area):
    """At constant coefficient and density, twice the flow loses four times as much."""
    density = dry_air.density(pressure, temperature)
    one, two = (pipe_flow.incompressible_loss(coefficient, m, density, area) for m in (flow, 2 * flow))
    assert two == pytest.approx(4 * one, rel=1e-12)


@given(coefficients, flows, pressures, temperatures, areas)
def test_small_losses_are_velocity_heads(coefficient, flow, pressure, temperature, area):
    """The compressible loss tends to K rho V^2/2: the difference is of the order of the squared Mach number."""
    mach = compressible.mach_number(flow, pressure, temperature, area)
    static = compressible.static_pressure(flow, pressure, temperature, area)
    if mach > 0.25 or coefficient * mach**2 > 0.02:
        return
    cold = temperature / (1 + 0.2 * mach**2)
    heads = pipe_flow.incompressible_loss(coefficient, flow, dry_air.density(static, cold), area)
    loss = compressible.total_pressure_loss(coefficient, flow, pressure, temperature, area)
    assert 1.0 - 1e-9 <= loss / heads <= 1.0 + 2.0 * mach**2 * (1.0 + coefficient)


@given(coefficients, coefficients, flows, pressures, temperatures)
def test_losses_in_series_add_up(first, second, flow, pressure, temperature):
    """Two lengths of pipe one after the other lose what one pipe of both lengths loses."""
    area = 5e-3
    try:
        both = compressible.total_pressure_loss(first + second, flow, pressure, temperature, area)
    except ValueError:
        return
    one = compressible.total_pressure_loss(first, flow, pressure, temperature, area)
    other = compressible.total_pressure_loss(second, flow, pressure - one, temperature, area)
    assert one + other == pytest.approx(both, rel=1e-7)


@given(coefficients, flows, pressures, temperatures, areas)
def test_walking_against_the_flow(coefficient, flow, pressure, temperature, area):
    """The pressure before, found from the pressure behind, loses exactly down to it again."""
    if flow > compressible.largest_mass_flow(pressure, temperature, area):
        return
    before = compressible.upstream_total_pressure(coefficient, flow, pressure, temperature, area)
    loss = compressible.total_pressure_loss(coefficient, flow, before, temperature, area)
    assert before - loss == pytest.approx(pressure, rel=1e-9)


@given(flows, pressures, temperatures, areas)
def test_mach_number_gives_the_flow_back(flow, pressure, temperature, area):
    """Velocity times density times area at the static state is the flow again."""
    mach = compressible.mach_number(flow, pressure, temperature, area)
    if np.isnan(mach):
        return
    static = compressible.static_pressure(flow, pressure, temperature, area)
    cold = temperature / (1 + 0.2 * mach**2)
    speed = mach * dry_air.speed_of_sound(cold)
    assert dry_air.density(static, cold) * speed * area == pytest.approx(flow, rel=1e-9)


@given(coefficients, flows, pressures, temperatures, areas)
def test_isothermal_drop_balances_momentum(coefficient, flow, pressure, temperature, area):
    """The drop found satisfies p1^2 - p2^2 = G^2 R T (K + 2 ln(p1/p2))."""
    drop = compressible.isothermal_pressure_drop(coefficient, flow, pressure, temperature, area)
    if np.isnan(drop):
        return
    outlet = pressure - drop
    right = (flow / area) ** 2 * 287.055 * temperature * (coefficient + 2 * np.log(pressure / outlet))
    assert pressure**2 - outlet**2 == pytest.approx(right, rel=1e-6)


def test_typical_charge_pipe_scales_as_the_trade_expects():
    """Between 0.125 and 0.25 kg/s loss goes with flow^1.85, between 63.5 and 76.2 mm with bore^-4.2."""
    (*_, half), (*_, full) = path_loss(0.0635, 0.125), path_loss(0.0635, 0.25)
    (*_, narrow), (*_, wide) = path_loss(0.0635, 0.25), path_loss(0.0762, 0.25)
    assert np.log2(full / half) == pytest.approx(1.85, abs=0.05)
    assert np.log(wide / narrow) / np.log(76.2 / 63.5) == pytest.approx(-4.2, abs=0.05)


@pytest.mark.parametrize(
    ("bore", "roughness", "incompressible", "isothermal"),
    [
        (50.8, 1.5e-6, 2744, 2830.8),
        (57.2, 1.5e-6, 1660, 1691.6),
        (63.5, 1.5e-6, 1069, 1082.5),
        (63.5, 45e-6, 1304, 1320.6),
        (76.2, 1.5e-6, 500, 502.5),
        (76.2, 45e-6, 585, 589.0),
    ],
)
def test_typical_charge_pipe(bore, roughness, incompressible, isothermal):
    """0.25 kg/s through 1.2 m with three bends: losses computed with `fluids` 1.3.1 calls alone."""
    heads, area, loss = path_loss(bore * 1e-3, 0.25, roughness)
    assert loss == pytest.approx(incompressible, rel=5e-3)
    drop = compressible.isothermal_pressure_drop(heads, 0.25, 240e3, 323.15, area)
    assert drop == pytest.approx(isothermal, abs=0.1)
    assert 1.0 < drop / loss < 1.04
    total = compressible.total_pressure_loss(heads, 0.25, 240e3, 323.15, area)
    assert loss * 0.99 < total < drop


def test_no_flow_loses_nothing():
    """Without flow there is no loss, no Mach number and no drop; without length neither."""
    assert compressible.total_pressure_loss(1.0, 0.0, 240e3, 323.0, 3e-3) == 0.0
    assert compressible.isothermal_pressure_drop(1.0, 0.0, 240e3, 323.0, 3e-3) == 0.0
    assert compressible.upstream_total_pressure(1.0, 0.0, 240e3, 323.0, 3e-3) == 240e3
    assert compressible.mach_number(0.0, 240e3, 323.0, 3e-3) == 0.0
    assert compressible.total_pressure_loss(0.0, 0.25, 240e3, 323.0, 3e-3) == pytest.approx(0.0, abs=1e-6)


def test_too_fast_is_refused_and_impossible_is_not_known():
    """Above Mach 0.3 at either end coefficients are refused; a section that cannot pass the flow has no Mach number."""
    with pytest.raises(ValueError, match="Mach"):
        compressible.total_pressure_loss(0.5, 0.25, 240e3, 323.0, 9e-4)
    with pytest.raises(ValueError, match="Mach"):
        compressible.total_pressure_loss(90.0, 0.25, 240e3, 323.0, 2.5e-3)
    with pytest.raises(ValueError, match="Mach"):
        compressible.upstream_total_pressure(0.5, 0.25, 240e3, 323.0, 9e-4)
    largest = compressible.largest_mass_flow(240e3, 323.0, 3e-3)
    assert compressible.mach_number(largest, 240e3, 323.0, 3e-3) == pytest.approx(0.3, rel=1e-9)
    assert np.isnan(compressible.mach_number(5 * largest, 240e3, 323.0, 3e-3))
    assert np.isnan(compressible.isothermal_pressure_drop(1e4, 0.25, 240e3, 323.0, 3e-3))


def test_wider_pipe_shows_more_static_pressure_without_any_loss():
    """63.5 to 76.2 mm at 30 m/s: a wall sensor reads 0.62 kPa more, though nothing is gained (Bernoulli)."""
    flow = 30.5 * 2.587 * sections.round_bore(0.0635).area
    narrow, wide = (
        compressible.static_pressure(flow, 241.2e3, 323.6, sections.round_bore(bore).area) for bore in (0.0635, 0.0762)
    )
    assert wide - narrow == pytest.approx(0.62e3, abs=10)


def test_filling_a_litre():
    """One litre to 140 kPa at 50 degC takes 1.5 g, which is 75 ms at 20 g/s to spare (worked by hand)."""
    assert pipe_flow.fill_mass(1e-3, 140e3, 323.15) * 1e3 == pytest.approx(1.51, abs=0.01)
    assert pipe_flow.fill_time(1e-3, 140e3, 323.15, 0.020) == pytest.approx(0.0755, abs=5e-4)
    assert pipe_flow.fill_time(-1e-3, 140e3, 323.15, 0.020) == pytest.approx(-0.0755, abs=5e-4)
