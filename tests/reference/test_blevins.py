"""Blevins, Applied Fluid Dynamics Handbook: screens and perforated plates (figures of `fluids`' documentation)."""

import pytest

from pullproof.physics import fittings


def test_round_wire_screen():
    """A half-open screen at a wire Reynolds number of 100 costs 2.1 heads of the approach velocity."""
    opening, kinematic_viscosity = 1e-3, 1e-5
    approach = 0.5 * 100 * kinematic_viscosity / opening
    found = fittings.wire_screen_blevins(0.06, 0.5, opening, approach, kinematic_viscosity)
    assert found.value == pytest.approx(2.1)


def test_perforated_plate():
    """A nearly open plate costs almost nothing, a half-open one 3.8 heads: the table's entries, approach velocity."""
    assert fittings.perforated_plate_blevins(0.06, 0.99).value == pytest.approx(0.008)
    assert fittings.perforated_plate_blevins(0.06, 0.5).value == pytest.approx(3.8)
