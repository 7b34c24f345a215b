import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.report.rounding import MINUS, NBSP, Rounding, significant

# JCGM 100:2008 (GUM) 7.2.6: value and standard uncertainty in one unit, and the value as it is to be printed. The
# second states only the uncertainty, which keeps two digits; the value beside it is ours.
GUM = [("10.05762", "0.027", "10.058"), ("100.4", "28.05", "100")]

positive = st.floats(1e-4, 1e5)
values = st.floats(-1e5, 1e5)


@pytest.mark.parametrize(("value", "doubt", "printed"), GUM)
def test_digits_of_published_examples(value, doubt, printed) -> None:
    """A value keeps the digits that two digits of its doubt deserve."""
    estimate, half = float(value), float(doubt)
    assert Rounding.of((estimate - half, estimate + half), estimate, "").bare(estimate) == printed


@given(values, positive)
def test_what_is_printed_reads_back_within_half_a_digit(value, half) -> None:
    """The printed difference is the difference to half of its last digit, sign included."""
    rounding = Rounding.of((value - half, value + half), value, "kPa")
    printed = rounding.signed(value).removesuffix(f"{NBSP}kPa").replace(MINUS, "-")
    assert float(printed) == pytest.approx(value, abs=0.5000001 * 10.0**-rounding.places)
    assert not printed.startswith("-") or value < 0


def test_numbers_carry_their_unit_on_the_same_line() -> None:
    """A number and its unit are held together by a space that does not break; an angle's sign stands close."""
    assert Rounding(1, "kPa").signed(-1.26) == "−1.3\N{NO-BREAK SPACE}kPa"
    assert Rounding(1, "°").plain(12.25) in ("12.2°", "12.3°")
    assert Rounding(1, "%").interval((-2.8, 0.04)) == "−2.8\N{NO-BREAK SPACE}to\N{NO-BREAK SPACE}0.0\N{NO-BREAK SPACE}%"


def test_no_negative_zero() -> None:
    """A small negative number that rounds to zero has no sign."""
    assert Rounding(1, "").signed(-0.01) == "0.0"


@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf])
def test_what_is_not_known_is_said_in_words(value) -> None:
    """No report prints nan or inf."""
    assert Rounding(1, "kPa").plain(value) == "not known"
    assert Rounding(1, "kPa").signed(value) == "not known"
    assert Rounding(1, "kPa").interval((value, 1.0)) == "no interval"
    assert significant(value, 2, "kPa") == "not known"


@pytest.mark.parametrize(
    ("value", "digits", "text"),
    [(0.5, 2, "0.5"), (0.05, 2, "0.05"), (1510.0, 4, "1510"), (0.0, 2, "0"), (123.0, 2, "120"), (-0.0126, 2, "−0.013")],
)
def test_significant_digits(value, digits, text) -> None:
    """A stated figure is printed with its own digits, plain and without an exponent."""
    assert significant(value, digits) == text


def test_without_an_interval_the_number_itself_gives_the_digits() -> None:
    """A measure without interval is printed with three digits."""
    assert Rounding.of((math.nan, math.nan), 97.24, "%").plain(97.24) == f"97.2{NBSP}%"


@pytest.mark.parametrize(
    ("interval", "printed"),
    [
        ((0.04, 2.1), f"+0.04{NBSP}to{NBSP}+2.10"),
        ((-1.04, -0.003), f"{MINUS}1.040{NBSP}to{NBSP}{MINUS}0.003"),
        ((-0.0001, 2.1), f"0.000{NBSP}to{NBSP}+2.100"),
        ((0.0, 2.1), f"0.0{NBSP}to{NBSP}+2.1"),
        ((0.06, 2.1), f"+0.1{NBSP}to{NBSP}+2.1"),
    ],
)
def test_an_end_near_zero_shows_its_side(interval, printed) -> None:
    """An interval that leaves out zero is not printed as one that touches it; two places more are all it gets."""
    assert Rounding.of(interval, 1.0, "").interval(interval) == printed
