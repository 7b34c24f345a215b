"""Units there and back."""

import math

from hypothesis import given
from hypothesis import strategies as st

from pullproof.units import UNITS, convert

PAIRS = [(a, b) for a in UNITS.values() for b in UNITS.values() if a.dimension == b.dimension]


@given(st.sampled_from(PAIRS), st.floats(-1e6, 1e6))
def test_there_and_back(pair, value):
    """Converting there and back gives the value again."""
    source, target = pair
    back = convert(convert(value, source, target), target, source)
    assert math.isclose(back, value, rel_tol=1e-9, abs_tol=1e-6 * max(1.0, target.factor / source.factor))


@given(st.floats(-50, 300), st.floats(60, 110))
def test_gauge_there_and_back(value, ambient):
    """Gauge to absolute and back with one ambient pressure gives the value again."""
    gauge = UNITS["kPa"].referred_to("gauge")
    absolute = convert(value, gauge, UNITS["psi"], ambient_kpa=ambient)
    assert math.isclose(convert(absolute, UNITS["psi"], gauge, ambient_kpa=ambient), value, abs_tol=1e-9)


@given(st.sampled_from(PAIRS), st.floats(-1e6, 1e6), st.floats(1e-3, 1e3))
def test_larger_stays_larger(pair, value, step):
    """A conversion never turns the order of two values round."""
    source, target = pair
    assert convert(value + step, source, target) > convert(value, source, target)
