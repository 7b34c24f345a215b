"""CoolProp, reference equation of state of air: how far constant specific heat and Sutherland's law carry."""

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from pullproof.physics import compressor, dry_air

KELVIN = np.array([273.15, 298.15, 323.15, 373.15, 423.15, 473.15])


def air(what, kelvin, pressure=101_325.0):
    return np.array([PropsSI(what, "T", float(t), "P", pressure, "Air") for t in np.atleast_1d(kelvin)])


def test_viscosity():
    """Sutherland's law is within 1.3 % from 0 to 200 degC, and 17.894 uPa s at 288.15 K as tabulated."""
    ratio = dry_air.viscosity_sutherland(KELVIN) / air("V", KELVIN)
    assert np.all((ratio > 1 - 0.013) & (ratio < 1))
    assert dry_air.viscosity_sutherland(288.15) == pytest.approx(17.894e-6, rel=2e-5)


def test_density_and_speed_of_sound():
    """The ideal gas is within 0.15 % in density and 0.4 % in speed of sound, at ambient and at charge pressure."""
    for pressure in (101_325.0, 240e3):
        assert dry_air.density(pressure, KELVIN) == pytest.approx(air("D", KELVIN, pressure), rel=1.5e-3)
        assert dry_air.speed_of_sound(KELVIN) == pytest.approx(air("A", KELVIN, pressure), rel=4e-3)


@pytest.mark.parametrize(("ratio", "efficiency"), [(2.0, 0.70), (2.4, 0.72), (3.0, 0.75)])
def test_compressor_outlet_temperature(ratio, efficiency):
    """Constant specific heat puts the outlet temperature 0 to 0.9 K above real air, and the work within 0.2 %."""
    inlet, pressure = 293.15, 100e3
    enthalpy, entropy = (PropsSI(what, "T", inlet, "P", pressure, "Air") for what in "HS")
    ideal = PropsSI("H", "P", pressure * ratio, "S", entropy, "Air")
    real = PropsSI("T", "P", pressure * ratio, "H", enthalpy + (ideal - enthalpy) / efficiency, "Air")
    found = compressor.outlet_temperature(inlet, ratio, efficiency)
    assert 0.0 < found - real < 0.9
    work = compressor.specific_work(inlet, ratio, efficiency)
    assert work == pytest.approx((ideal - enthalpy) / efficiency, rel=2e-3)
