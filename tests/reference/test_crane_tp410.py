"""Crane Technical Paper 410: worked examples (printed answers as in the example notebooks of `fluids`) and fittings."""

import fluids
import numpy as np
import pytest
from scipy.optimize import brentq

from pullproof.physics import bends, dry_air, pipe_flow, sections
from pullproof.physics.compressible_flow import isothermal_pressure_drop
from pullproof.physics.loss_coefficient import LossCoefficient

PSI, INCH, FOOT = 6894.757, 0.0254, 0.3048
STANDARD_DENSITY = 101_325.0 / (287.055 * 288.71)  # 14.696 psia, 60 degF
CUBIC_FOOT = FOOT**3


def test_problem_7_16_air_line():
    """65 psig, 115 degF, 75 ft of 1 inch schedule 40, 100 scfm: 2.61 psi, 3367 and 3484 ft/min."""
    bore, length = 1.049 * INCH, 75 * FOOT
    pressure, temperature = (65 + 14.696) * PSI, (115 - 32) / 1.8 + 273.15
    mass_flow = 100 * CUBIC_FOOT / 60 * STANDARD_DENSITY
    area = sections.round_bore(bore).area
    reynolds = pipe_flow.reynolds_number(mass_flow, bore, area, dry_air.viscosity_sutherland(temperature))
    assert reynolds == pytest.approx(142_742, rel=0.02)
    friction = pipe_flow.friction_factor(reynolds, 0.0018 * INCH / bore)
    coefficient = pipe_flow.pipe_coefficient(friction, length, bore)
    drop = isothermal_pressure_drop(coefficient, mass_flow, pressure, temperature, area)
    assert drop / PSI == pytest.approx(2.61, rel=0.05)
    for at, printed in ((pressure, 3367), (pressure - drop, 3484)):
        speed = pipe_flow.velocity(mass_flow, dry_air.density(at, temperature), area)
        assert speed / FOOT * 60 == pytest.approx(printed, rel=0.015)


def test_problem_7_22_air_to_atmosphere():
    """19.3 psig, 100 degF, 10 ft of 1/2 inch schedule 80 to atmosphere (K 7.056): 3762 scfh."""
    bore = 0.546 * INCH
    area = sections.round_bore(bore).area
    inlet, temperature = (19.3 + 14.696) * PSI, (100 - 32) / 1.8 + 273.15
    mass_flow = brentq(
        lambda m: isothermal_pressure_drop(7.056, m, inlet, temperature, area) - 19.3 * PSI, 1e-3, 0.0365
    )
    assert mass_flow / STANDARD_DENSITY / CUBIC_FOOT * 3600 == pytest.approx(3762, rel=0.01)


def test_problem_7_19_change_of_basis():
    """A sudden contraction from 3 to 2 inches is 1.41 velocity heads of the large bore (0.278 of the small)."""
    on_small = fluids.fittings.contraction_sharp(3, 2, method="Crane")
    large, small = sections.round_bore(3 * INCH).area, sections.round_bore(2 * INCH).area
    coefficient = LossCoefficient(np.asarray(on_small), small, np.asarray(0.1))
    assert coefficient.on(large).value == pytest.approx(1.41, abs=0.005)


@pytest.mark.parametrize(
    ("ratio", "printed"),
    [
        (1, ("0.231", "0.263", "0.296", "0.361")),
        (1.5, ("0.155", "0.180", "0.204", "0.254")),
        (2, ("0.124", "0.147", "0.169", "0.214")),
        (3, ("0.117", "0.143", "0.168", "0.219")),
    ],
)
def test_bends_at_63_5_mm(as_printed, ratio, printed):
    """Smooth bends of 30, 45, 60 and 90 degrees have the coefficients of page A-30, degrees turned to radians."""
    for degrees, text in zip((30, 45, 60, 90), printed, strict=True):
        found = bends.bend_rounded_crane(0.0635, ratio * 0.0635, np.radians(degrees))
        as_printed(found.value, text, units=1.01)


def test_isothermal_drop_against_fluids():
    """The library's isothermal equation gives the same outlet pressure over the whole range of charge pipes."""
    for bore, mass_flow, coefficient in [(0.0508, 0.25, 0.93), (0.0762, 0.25, 0.86), (0.045, 0.3, 3.0)]:
        area, friction = sections.round_bore(bore).area, 0.0146
        drop = isothermal_pressure_drop(coefficient, mass_flow, 240e3, 323.15, area)
        other = fluids.isothermal_gas(
            rho=float(dry_air.density(240e3, 323.15)),
            fd=friction,
            P1=240e3,
            L=coefficient * bore / friction,
            D=bore,
            m=mass_flow,
        )
        assert drop == pytest.approx(240e3 - other, rel=1e-9)
