"""IAPWS-95, the equation of state of water, through CoolProp."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from pullproof.physics import moist_air


def test_saturation_pressure_from_0_to_45():
    """The handbook equation stays within 0.05 % of the steam tables wherever a car is driven in summer."""
    kelvin = 273.16 + np.linspace(0.0, 45.0, 46)
    steam = np.array([PropsSI("P", "T", float(t), "Q", 1, "Water") for t in kelvin])
    assert np.max(np.abs(moist_air.saturation_pressure(kelvin) / steam - 1)) < 5e-4


def test_triple_point():
    """The triple point is at 611.657 Pa (Wexler 1976, abstract)."""
    assert moist_air.saturation_pressure(273.16) == pytest.approx(611.657, abs=5e-4)
