"""Rennels & Hudson, Pipe Flow: printed formulas worked by hand here, and the figures of `fluids`' own tests."""

import math

import numpy as np
import pytest

from pullproof.physics import bends, fittings, sections


@pytest.mark.parametrize(
    ("degrees", "printed"), [(30, "0.1531"), (45, "0.3042"), (60, "0.5300"), (90, "1.2021"), (150, "2.7128")]
)
def test_mitre(as_printed, degrees, printed):
    """A mitre of one cut has the coefficient of the book's formula, degrees turned to radians on the way in."""
    as_printed(bends.bend_mitre_rennels(0.0635, np.radians(degrees)).value, printed)


@pytest.mark.parametrize(
    ("ratio", "printed"),
    [
        (1, ("0.115", "0.157", "0.196", "0.264")),
        (1.5, ("0.101", "0.131", "0.156", "0.194")),
        (2, ("0.095", "0.121", "0.142", "0.176")),
        (3, ("0.092", "0.117", "0.138", "0.179")),
    ],
)
def test_rounded_bend(as_printed, ratio, printed):
    """Smooth bends of 30 to 90 degrees have the coefficients of the library's printed table (friction 0.0143)."""
    for degrees, text in zip((30, 45, 60, 90), printed, strict=True):
        found = bends.bend_rounded_rennels(0.0635, ratio * 0.0635, np.radians(degrees), 0.0143)
        as_printed(found.value, text, units=1.01)


def test_rounded_bend_by_hand():
    """The three terms of the book, friction, secondary flow and separation, add up to the coefficient."""
    friction, ratio, angle = 0.0143, 1.5, math.radians(60)
    sine = math.sin(angle / 2)
    by_hand = (
        friction * angle * ratio
        + (0.10 + 2.4 * friction) * sine
        + 6.6 * friction * (math.sqrt(sine) + sine) / ratio ** (4 * angle / math.pi)
    )
    found = bends.bend_rounded_rennels(0.05, 0.075, angle, friction)
    assert found.value == pytest.approx(by_hand, rel=1e-12)


def test_sudden_widening():
    """Doubling the bore loses (1 - 1/4)^2 of the smaller bore's head, Borda and Carnot's momentum balance."""
    found = fittings.sudden_change_rennels(0.05, 0.10)
    assert found.value == pytest.approx(0.5625)
    assert found.area == pytest.approx(math.pi / 4 * 0.05**2)


def test_sudden_narrowing_by_hand():
    """A square step to a smaller bore has the book's contraction coefficient, on the smaller bore."""
    beta = 63.5 / 76.2
    jet = 1 + 0.622 * (1 - 0.215 * beta**2 - 0.785 * beta**5)
    by_hand = 0.0696 * (1 - beta**5) * jet**2 + (jet - 1) ** 2
    found = fittings.sudden_change_rennels(0.0762, 0.0635)
    assert found.value == pytest.approx(by_hand, rel=1e-12)
    assert found.area == pytest.approx(sections.round_bore(0.0635).area)


@pytest.mark.parametrize(("before", "behind", "printed"), [(0.0635, 0.0762, "0.0218"), (0.0762, 0.0635, "0.0163")])
def test_cone_of_75_mm(as_printed, before, behind, printed):
    """A 75 mm cone between 63.5 and 76.2 mm costs 0.0218 heads widening, 0.0163 narrowing."""
    as_printed(fittings.conical_change_rennels(before, behind, 0.075, 0.015).value, printed)


def test_steep_cone_is_worse_than_a_step():
    """Widening threefold at 50 degrees costs 0.808 heads, more than the square step's 0.790."""
    length = (1 - 1 / 3) / (2 * math.tan(math.radians(25)))
    cone = fittings.conical_change_rennels(1 / 3, 1.0, length, 0.03)
    step = fittings.sudden_change_rennels(1 / 3, 1.0)
    assert cone.value == pytest.approx(0.80813, abs=5e-6)
    assert cone.value > step.value == pytest.approx(0.790, abs=5e-4)


def test_entrances(as_printed):
    """A square entrance costs 0.57 heads, one rounded by a tenth of the bore 0.2029, an exit the whole head."""
    as_printed(fittings.entrance_sharp(0.0635).value, "0.57")
    as_printed(fittings.entrance_rounded_rennels(0.0635, 0.00635).value, "0.2029")
    as_printed(fittings.exit_loss(0.0635).value, "1.00")


def test_rounded_contraction(as_printed):
    """A narrowing from 1 to 0.4 with an edge radius of 0.04 costs 0.178 heads (the library's printed example)."""
    as_printed(fittings.rounded_contraction_rennels(1.0, 0.4, 0.04).value, "0.1783")
