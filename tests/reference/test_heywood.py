"""Heywood, Internal Combustion Engine Fundamentals: air, fuel and mean pressure (definitions; numbers by hand)."""

import numpy as np
import pytest

from pullproof.physics import engine_air

RPM = 2 * np.pi / 60


def stoichiometric(carbon, hydrogen, oxygen=0.0):
    """Eq. (3.6): air with 3.773 N2 per O2, atomic nitrogen's molar mass 28.16 g/mol per N2."""
    demand = carbon + hydrogen / 4 - oxygen / 2
    return demand * (32.0 + 3.773 * 28.16) / (12.011 * carbon + 1.008 * hydrogen + 16.0 * oxygen)


def test_speed_density(as_printed):
    """0.95 of 2.0 l at 200 kPa, 45 degC and 6000 rpm breathes 0.20804 kg/s (section 2.10)."""
    flow = engine_air.air_mass_flow_by_speed_density(200e3, 318.15, 6000 * RPM, 2.0e-3, 0.95)
    as_printed(flow, "0.20804", units=2)


def test_brake_mean_effective_pressure(as_printed):
    """400 N m from 2.0 l is 25.133 bar (section 2.7)."""
    as_printed(engine_air.brake_mean_effective_pressure(400.0, 2.0e-3) / 1e5, "25.133")


def test_power(as_printed):
    """400 N m at 5500 rpm is 230.383 kW; kW and N m meet at 9549.297 rpm, hp and lbf ft at 5252.113."""
    as_printed(engine_air.power_from_torque(400.0, 5500 * RPM) / 1e3, "230.383")
    as_printed(engine_air.torque_from_power(1000.0, 1 * RPM), "9549.297")
    assert engine_air.torque_from_power(745.6999, RPM) / 1.355818 == pytest.approx(5252.113, rel=1e-6)


def test_fuel_flow(as_printed):
    """0.25 kg/s of air at lambda 0.85 takes 20.145 g/s of petrol (section 2.9)."""
    as_printed(engine_air.fuel_mass_flow(0.25, 0.85, 14.6) * 1e3, "20.145")


@pytest.mark.parametrize(
    ("fuel", "formula"),
    [
        ("petrol", (1, 1.87)),
        ("diesel", (1, 1.85)),
        ("ethanol", (2, 6, 1)),
        ("methanol", (1, 4, 1)),
        ("lpg", (3, 8)),
        ("cng", (1, 4)),
    ],
)
def test_stoichiometric_ratios(fuel, formula):
    """Each fuel's ratio is that of its formula by eq. (3.6), within the half per cent that real fuels vary."""
    assert engine_air.STOICHIOMETRIC_AIR_FUEL_RATIO[fuel] == pytest.approx(stoichiometric(*formula), rel=5e-3)


@pytest.mark.parametrize(("fuel", "ethanol"), [("e10", 0.1053), ("e85", 0.8572)])
def test_blends_by_mass(fuel, ethanol):
    """Blends follow mass fractions: 10 and 85 % by volume are 10.53 and 85.72 % by mass (0.745, 0.789 kg/l)."""
    blend = ethanol * stoichiometric(2, 6, 1) + (1 - ethanol) * stoichiometric(1, 1.87)
    assert engine_air.STOICHIOMETRIC_AIR_FUEL_RATIO[fuel] == pytest.approx(blend, rel=5e-3)
