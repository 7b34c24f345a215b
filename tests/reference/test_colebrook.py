"""Colebrook 1939: the equation solved by bracketing, and two textbook readings of its chart."""

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from pullproof.physics import pipe_flow, sections


@pytest.mark.parametrize(
    ("reynolds", "roughness"), [(1e4, 0.01), (1e5, 1e-4), (1e5, 1e-3), (3e5, 0.0), (4e5, 5e-5), (1e6, 1e-4)]
)
def test_solution_of_the_equation(reynolds, roughness):
    """The factor solves 1/sqrt(f) = -2 log10(e/3.7D + 2.51/(Re sqrt f)) to 1e-8."""

    def residual(factor):
        root = math.sqrt(factor)
        return 1 / root + 2 * math.log10(roughness / 3.7 + 2.51 / (reynolds * root))

    solved = brentq(residual, 0.005, 0.1, xtol=1e-14)
    assert pipe_flow.friction_factor(reynolds, roughness) == pytest.approx(solved, rel=1e-8)


def test_laminar():
    """Below a Reynolds number of 2040 the factor is 64/Re whatever the wall (Hagen and Poiseuille)."""
    assert pipe_flow.friction_factor(np.array([100.0, 1000.0]), 0.01) == pytest.approx([0.64, 0.064])


def test_white_example_6_7():
    """White, Fluid Mechanics, example 6.7: 500 m of 200 mm cast iron at 6.37 m/s lose 117 m (from memory)."""
    factor = pipe_flow.friction_factor(128_000, 0.0013)
    head = pipe_flow.pipe_coefficient(factor, 500.0, 0.2) * 6.37**2 / (2 * 9.81)
    assert factor == pytest.approx(0.0225, rel=0.011)
    assert head == pytest.approx(117, rel=0.011)


def test_munson_example_8_5():
    """Munson, Fluid Mechanics, example 8.5: air at 50 m/s in 0.1 m of 4 mm tube loses 1.076 kPa (from memory)."""
    area = sections.round_bore(0.004).area
    mass_flow = 1.23 * 50.0 * area
    reynolds = pipe_flow.reynolds_number(mass_flow, 0.004, area, 1.79e-5)
    assert reynolds == pytest.approx(13_700, rel=0.005)
    coefficient = pipe_flow.pipe_coefficient(pipe_flow.friction_factor(reynolds, 0.000375), 0.1, 0.004)
    # The book reads f = 0.028 off the chart; the equation gives 0.0291, 4 % more.
    assert pipe_flow.incompressible_loss(coefficient, mass_flow, 1.23, area) == pytest.approx(1076, rel=0.045)
