"""Numbers are shown with the digits that their doubt deserves."""

import pytest

from pullproof.analysis.comparison.wording import Digits


@pytest.mark.parametrize(
    ("interval", "value", "shown"),
    [
        ((-2.84, -1.02), -1.93, "-1.93"),  # half width 0.91: two digits of it
        ((-33.0, 81.0), 23.4, "23"),
        ((-2e-14, 3e-14), -1e-14, "0.0"),  # rounding of the computer is no amount
        ((0.0, 0.0), 0.0, "0.0"),
    ],
)
def test_two_digits_of_the_doubt(interval, value, shown):
    """At most two significant digits of an uncertainty (JCGM 100:2008, 7.2.6), and none of rounding."""
    assert Digits.of_interval(interval).bare(value) == shown
