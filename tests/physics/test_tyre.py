"""Tyre sizes as people write them."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import tyre


@pytest.mark.parametrize(
    "size",
    [
        "235/35R19",
        "235/35 R19",
        "235/35ZR19",
        "235/35 ZR 19 91Y",
        "P235/35R19",
        "235/35-19",
        "235/35R19 (91Y)",
        " 235/35r19 ",
    ],
)
def test_spellings(size):
    """All usual spellings of one size mean one tyre."""
    assert tyre.nominal_diameter(size) == pytest.approx(0.6471, abs=1e-9)


@pytest.mark.parametrize(
    "size", ["", "19 inch", "235/35", "235R19", "35/235R19", "235/35R5", "235/350R19", "31x10.5R15"]
)
def test_what_is_no_size(size):
    """What is no metric tyre size is refused with an example of one."""
    with pytest.raises(ValueError, match=r"tyre"):
        tyre.nominal_diameter(size)


@given(st.integers(125, 355), st.integers(25, 80), st.integers(12, 23))
def test_radius_is_a_little_less_than_half_the_diameter(width, aspect, rim):
    """A loaded radial rolls 2.9 % short of its free radius, whatever its size."""
    size = f"{width}/{aspect}R{rim}"
    assert tyre.rolling_radius(size) / (0.5 * tyre.nominal_diameter(size)) == pytest.approx(0.9708, abs=5e-5)
