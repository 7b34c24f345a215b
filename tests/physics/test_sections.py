"""Sections: ovals between the round and the flat."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import sections

sizes = st.floats(0.01, 0.2)


@given(sizes)
def test_equal_axes_are_round(diameter):
    """Ellipse and oval with equal axes, and a tube pressed by nothing, are the round bore."""
    bore = sections.round_bore(diameter)
    assert bore.hydraulic_diameter == pytest.approx(diameter)
    assert bore.equal_area_diameter == pytest.approx(diameter)
    for same in (
        sections.elliptical(diameter, diameter),
        sections.stadium(diameter, diameter),
        sections.flattened_round(diameter, diameter),
    ):
        assert same.area == pytest.approx(bore.area)
        assert same.perimeter == pytest.approx(bore.perimeter)


@given(sizes, st.floats(0.05, 1.0))
def test_pressing_keeps_the_wall_and_takes_area(diameter, share):
    """A pressed tube keeps its perimeter and never gains area (of all shapes the circle holds most)."""
    bore, pressed = sections.round_bore(diameter), sections.flattened_round(diameter, share * diameter)
    assert pressed.perimeter == pytest.approx(bore.perimeter)
    assert pressed.area <= bore.area * (1 + 1e-12)
    assert pressed.hydraulic_diameter <= diameter * (1 + 1e-12)


@given(sizes, sizes)
def test_axes_of_an_ellipse_may_be_swapped(width, height):
    """An ellipse lying or standing is the same pipe."""
    assert sections.elliptical(width, height).perimeter == pytest.approx(sections.elliptical(height, width).perimeter)


@pytest.mark.parametrize(
    ("width", "height", "area", "perimeter", "hydraulic"),
    [(80, 50, 3141.6, 206.931, 60.727), (90, 40, 2827.4, 211.828, 53.391)],
)
def test_ellipses(width, height, area, perimeter, hydraulic):
    """Two ellipses by the elliptic integral; Ramanujan's second formula is an independent check of the perimeter."""
    found = sections.elliptical(width * 1e-3, height * 1e-3)
    assert found.area * 1e6 == pytest.approx(area, abs=0.05)
    assert found.perimeter * 1e3 == pytest.approx(perimeter, abs=5e-4)
    assert found.hydraulic_diameter * 1e3 == pytest.approx(hydraulic, abs=5e-4)
    a, b = width / 2, height / 2
    h = ((a - b) / (a + b)) ** 2
    ramanujan = np.pi * (a + b) * (1 + 3 * h / (10 + np.sqrt(4 - 3 * h)))
    assert found.perimeter * 1e3 == pytest.approx(ramanujan, rel=1e-8)


def test_tube_pressed_by_thirty_per_cent():
    """63.5 mm pressed to 45 mm: 74.06 mm wide, 91.5 % of the area, 58.11 mm hydraulic (worked by hand)."""
    pressed = sections.flattened_round(0.0635, 0.045)
    assert pressed.area / sections.round_bore(0.0635).area == pytest.approx(0.9151, abs=5e-5)
    assert pressed.hydraulic_diameter * 1e3 == pytest.approx(58.11, abs=5e-3)
    assert pressed.area == pytest.approx(sections.stadium(0.07406, 0.045).area, rel=1e-4)


def test_an_oval_lies_flat():
    """An oval higher than wide is refused: its flats would be negative."""
    with pytest.raises(ValueError, match="width less height"):
        sections.stadium(0.04, 0.05)
