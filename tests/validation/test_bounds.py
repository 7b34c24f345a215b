"""The least honest width must agree with what is known in closed form at both ends."""

import pytest
from scipy.stats import norm, t
from validation.bounds import least_width


def test_cars_that_are_all_alike_need_no_more_than_the_oracle():
    """Without a spread between cars there is nothing to learn."""
    assert least_width(0.02, 0) == pytest.approx(1.0, abs=0.02)


def test_what_is_unknown_widens_and_repeats_narrow():
    """The wider the cars are spread the wider the interval; the more repeats the narrower."""
    assert least_width(0.5, 0) > least_width(0.3, 0) > 1.0
    assert least_width(0.4, 0) > least_width(0.4, 4) > least_width(0.4, 20) > 1.0


def test_knowing_cars_beats_knowing_nothing():
    """With four degrees of freedom Student's interval, which knows nothing of other cars, is wider."""
    student = t.ppf(0.975, 4) / norm.ppf(0.975) * 0.94  # mean of the estimated scatter over the true one, chi with 4
    assert least_width(0.4, 4) < student
