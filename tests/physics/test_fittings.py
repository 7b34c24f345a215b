"""Fittings and bends: bases of coefficients, limits where a fitting vanishes, and doubt that never does."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import bends, fittings, sections
from pullproof.physics.loss_coefficient import FITTING_DOUBT, LossCoefficient, in_series

bores = st.floats(0.03, 0.1)
frictions = st.floats(0.01, 0.03)


@given(st.floats(0.01, 5.0), bores, bores)
def test_change_of_basis_there_and_back(value, one, other):
    """On another area and back again, a coefficient is itself; the loss it stands for never changes."""
    first, second = sections.round_bore(one).area, sections.round_bore(other).area
    coefficient = LossCoefficient(np.asarray(value), first, np.asarray(0.1))
    moved = coefficient.on(second)
    assert moved.on(first).value == pytest.approx(value)
    assert moved.value / second**2 == pytest.approx(value / first**2)


@given(bores, bores)
def test_series_sums_losses(one, other):
    """Coefficients in series cost what they cost one by one, whatever the bore each is based on."""
    exits = [fittings.exit_loss(one), fittings.exit_loss(other)]
    total = in_series(*exits)
    assert total.value / total.area**2 == pytest.approx(sum(part.value / part.area**2 for part in exits))
    assert total.doubt == pytest.approx(0.05)


@given(bores, frictions)
def test_no_change_is_no_loss(bore, friction):
    """A step to the same bore, a hose of the same bore, and a bend through no angle lose nothing."""
    assert fittings.sudden_change_rennels(bore, bore).value == pytest.approx(0.0, abs=1e-12)
    assert fittings.hose_joint(bore, bore, bore).value == pytest.approx(0.0, abs=1e-12)
    assert bends.bend_rounded_rennels(bore, 1.5 * bore, 0.0, friction).value == pytest.approx(0.0, abs=1e-12)
    assert bends.bend_mitre_rennels(bore, 0.0).value == 0.0
    straight = fittings.conical_change_rennels(bore, bore, 0.1, friction).value
    assert straight == pytest.approx(friction * 0.1 / bore)


@given(bores, st.floats(1.0, 3.0), st.floats(0.2, 1.5), st.floats(0.05, 0.5), frictions)
def test_turning_further_loses_more(bore, ratio, angle, more, friction):
    """More angle never loses less; a mitre loses more than a smooth bend of the same angle from a quarter turn up."""
    radius = ratio * bore
    less, further = (bends.bend_rounded_rennels(bore, radius, a, friction).value for a in (angle, angle + more))
    assert further > less
    mitre = bends.bend_mitre_rennels(bore, np.pi / 2).value
    assert mitre > bends.bend_rounded_rennels(bore, radius, np.pi / 2, friction).value


@given(bores, bores)
def test_steps_sit_on_the_smaller_bore_and_lose_less_than_a_head(one, other):
    """A step loses between nothing and one head of its smaller bore."""
    step = fittings.sudden_change_rennels(one, other)
    assert step.area == pytest.approx(sections.round_bore(min(one, other)).area)
    assert -1e-12 <= step.value <= 1.0


@given(bores, st.floats(1.01, 1.8), frictions)
def test_a_long_cone_beats_a_step(bore, ratio, friction):
    """A cone of 7 degrees half angle loses less than the square step, both ways."""
    length = bore * (ratio - 1) / (2 * np.tan(np.radians(7)))
    for before, behind in ((bore, ratio * bore), (ratio * bore, bore)):
        cone = fittings.conical_change_rennels(before, behind, length, friction)
        if ratio > 1.2:
            assert cone.value < fittings.sudden_change_rennels(before, behind).value
        assert cone.value > 0


@given(bores, st.floats(0.5, 15.0), st.floats(0.01, 3.14), st.floats(2e4, 1e6))
def test_a_bend_carries_doubt(bore, ratio, angle, reynolds):
    """The smooth bend's doubt is at least 15 %, and covers the handbooks' distance at two standard deviations."""
    friction = 0.016
    bend = bends.bend_rounded(bore, ratio * bore, angle, friction, reynolds, 1.5e-6)
    assert bend.doubt >= FITTING_DOUBT
    if angle > 0.6:
        crane = bends.bend_rounded_crane(bore, ratio * bore, angle).value
        assert abs(crane - bend.value) <= 2.0 * bend.doubt * bend.value * (1 + 1e-9)


def test_miller_ends_where_the_charts_end():
    """Outside Miller's charts there is no value: none is read off their edge."""
    for ratio, angle, reynolds in ((12.0, 1.5, 2e5), (1.5, 0.1, 2e5), (1.5, 1.5, 5e3)):
        assert np.isnan(bends.bend_rounded_miller(0.06, ratio * 0.06, angle, reynolds, 1.5e-6, 1.0).value)


def test_finer_screens_lose_more():
    """Less open area costs more, for wires and for plates."""
    opened = np.array([0.9, 0.8, 0.6, 0.4])
    assert np.all(np.diff(fittings.wire_screen_blevins(0.06, opened, 1e-3, 30.0, 8e-6).value) > 0)
    assert np.all(np.diff(fittings.perforated_plate_blevins(0.06, opened).value) > 0)


def test_a_rounded_mouth_beats_a_square_one():
    """Rounding the edge of a narrower bore loses less than leaving it square; a wider bore behind is refused."""
    square = fittings.sudden_change_rennels(0.07, 0.06).value
    assert fittings.rounded_contraction_rennels(0.07, 0.06, 0.006).value < 0.5 * square
    with pytest.raises(ValueError, match="narrower"):
        fittings.rounded_contraction_rennels(0.06, 0.07, 0.006)
