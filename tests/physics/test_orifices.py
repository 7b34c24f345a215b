"""Orifices: choking, continuity, and what a hole cannot do."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import orifices

gammas = st.floats(1.2, 1.5)


@given(gammas)
def test_flow_is_largest_and_flat_at_the_critical_ratio(gamma):
    """The flow function meets its choked value without a kink: the slope at the critical ratio is zero."""
    critical = orifices.critical_pressure_ratio(gamma)
    at, above, far_below = (orifices.nozzle_flow_function(r, gamma) for r in (critical, critical + 1e-4, critical / 3))
    assert at == pytest.approx(far_below, rel=1e-12)
    assert at == pytest.approx(above, rel=1e-6)


@given(gammas, st.floats(0.6, 0.999), st.floats(0.6, 0.999))
def test_more_pressure_difference_never_gives_less_flow(gamma, one, other):
    """The flow function falls as the pressure behind rises, to nothing at equal pressures."""
    low, high = sorted((one, other))
    assert orifices.nozzle_flow_function(low, gamma) >= orifices.nozzle_flow_function(high, gamma) - 1e-12
    assert orifices.nozzle_flow_function(1.0, gamma) == 0.0


@given(st.floats(1e-7, 1e-3), st.floats(110e3, 400e3), st.floats(1.0, 5.0))
def test_flow_goes_with_area(area, pressure, factor):
    """Twice the hole, twice the flow."""
    arguments = (0.8, pressure, 101e3, 310.0)
    one, more = (orifices.orifice_mass_flow(a, *arguments) for a in (area, area * factor))
    assert more == pytest.approx(factor * one, rel=1e-12)


def test_small_difference_is_incompressible():
    """At 0.1 % of pressure difference the flow is A sqrt(2 rho dp), Bernoulli's."""
    density = 200e3 / (287.055 * 310.0)
    flow = orifices.orifice_mass_flow(1e-4, 1.0, 200e3, 199.8e3, 310.0)
    assert flow == pytest.approx(1e-4 * np.sqrt(2 * density * 200.0), rel=2e-3)


def test_a_hole_does_not_suck():
    """A pressure behind above the pressure before is refused, not answered with nothing."""
    with pytest.raises(ValueError, match="pressure ratio"):
        orifices.orifice_mass_flow(1e-4, 0.8, 90e3, 100e3, 300.0)


def test_unchoked_leak():
    """3 mm from 150 kPa at 50 degC, coefficient 0.8, to standard pressure: 1.813 g/s (worked by hand)."""
    flow = orifices.orifice_mass_flow(np.pi / 4 * 9e-6, 0.8, 150e3, 101_325.0, 323.15)
    assert flow * 1e3 == pytest.approx(1.813, abs=5e-4)
