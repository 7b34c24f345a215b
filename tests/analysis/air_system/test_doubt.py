import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullproof.analysis.air_system.doubt import Known, Origin, known, propagate

number = st.floats(0.1, 100.0)


@settings(deadline=None, max_examples=50)
@given(a=number, b=number, ha=st.floats(0.0, 5.0), hb=st.floats(0.0, 5.0))
def test_a_sum_adds_its_doubts_in_squares(a, b, ha, hb):
    """The half width of a sum of independent numbers is the root of the sum of squares, [GUM] 5.1.2."""
    total = propagate(np.add, [known(a, ha, ha), known(b, hb, hb)])
    np.testing.assert_allclose(total.value, a + b)
    np.testing.assert_allclose(total.upper - total.value, np.hypot(ha, hb), atol=1e-9)
    np.testing.assert_allclose(total.value - total.lower, np.hypot(ha, hb), atol=1e-9)


@settings(deadline=None, max_examples=50)
@given(a=st.floats(10.0, 100.0), b=st.floats(10.0, 100.0))
def test_small_relative_doubts_of_a_quotient_add_in_squares(a, b):
    """A quotient of two numbers known to 0.1 % is known to 0.14 %, [GUM] 5.1.6."""
    part = propagate(np.divide, [known(a, 1e-3 * a, 1e-3 * a), known(b, 1e-3 * b, 1e-3 * b)])
    np.testing.assert_allclose((part.upper - part.lower) / (2.0 * part.value), 1e-3 * np.sqrt(2.0), rtol=1e-3)


def test_an_uneven_interval_stays_uneven_and_turns_with_the_sign():
    """What may only be higher makes a sum only higher, and a difference that it is taken from only lower."""
    hot = known(300.0, 0.0, 10.0)
    total, difference = (propagate(f, [known(20.0, 0.0, 0.0), hot]) for f in (np.add, np.subtract))
    assert (float(total.lower), float(total.upper)) == (320.0, 330.0)
    assert (float(difference.lower), float(difference.upper)) == (-290.0, -280.0)


def test_doubts_are_carried_once():
    """A sentence that belongs to two inputs stands with the result once."""
    part = known(1.0, 0.1, 0.1, "assumed", "nobody says the air pressure")
    assert propagate(np.multiply, [part, part]).doubts == ("nobody says the air pressure",)


def test_a_doubt_that_enters_twice_counts_once():
    """One sensor under both readings cancels in their difference, and doubles in their sum [GUM 5.2.2]."""
    offset = Origin("one sensor")
    one, other = known(10.0, 3.0, 3.0, origin=offset), known(4.0, 3.0, 3.0, origin=offset)
    difference, total = propagate(np.subtract, [one, other]), propagate(np.add, [one, other])
    assert (difference.lower, difference.upper) == (pytest.approx(6.0), pytest.approx(6.0))
    assert (total.lower, total.upper) == (pytest.approx(8.0), pytest.approx(20.0))


def test_what_nobody_knows_the_sensor_of_has_no_interval():
    """A number without any origin of doubt is not certain: its interval is not known."""
    logged = Known(np.array([1.0, 2.0]), {}, "logged")
    assert np.isnan(logged.lower).all()
    assert np.isnan(logged.upper).all()
