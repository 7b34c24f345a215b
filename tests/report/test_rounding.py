import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.report.rounding import MINUS, NBSP, Rounding, places_for, significant

# Particle Data Group, Review of Particle Physics, Physical Review D 98 (2018) 030001, Introduction, section 5.3: the
# limits of the rule. The errors below are the worked examples that the STAR collaboration prints beside the rule in
# its guidance "Significant digits for HepData table"; `printed` is the error as it stands there.
PUBLISHED = [("0.0123261", "0.012"), ("0.000766099", "0.0008"), ("0.0766099", "0.08")]
LIMITS = [("0.100", 2), ("0.354", 2), ("0.355", 1), ("0.949", 1), ("0.950", 1), ("0.999", 1), ("1.00", 1)]

positive = st.floats(1e-4, 1e5)
values = st.floats(-1e5, 1e5)


@pytest.mark.parametrize(("error", "printed"), PUBLISHED)
def test_digits_of_published_examples(error, printed) -> None:
    """A doubt gets as many decimal places as the published examples of the rule print."""
    assert places_for(float(error)) == len(printed.partition(".")[2])


@pytest.mark.parametrize(("error", "places"), LIMITS)
def test_digits_at_the_limits_of_the_rule(error, places) -> None:
    """100 to 354 keeps two digits, 355 to 949 one, and 950 on counts as the 1.0 of the next decade."""
    assert places_for(float(error)) == places


@given(positive, st.integers(-3, 3))
def test_the_rule_knows_no_units(doubt, decades) -> None:
    """A doubt ten times as large, as a change of unit makes it, loses exactly one decimal place."""
    if min(abs(doubt / 10.0 ** math.floor(math.log10(doubt)) - limit) for limit in (1.0, 3.545, 9.995, 10.0)) < 1e-6:
        return  # within a rounding error of a limit either side is right
    assert places_for(doubt * 10.0**decades) == places_for(doubt) - decades


@pytest.mark.parametrize("doubt", [0.0, -1.0, math.nan, math.inf])
def test_no_digits_for_what_is_no_doubt(doubt) -> None:
    """Zero, negative or endless doubt has no digits to give."""
    with pytest.raises(ValueError, match="positive and finite"):
        places_for(doubt)


@given(values, positive)
def test_what_is_printed_reads_back_within_half_a_digit(value, half) -> None:
    """The printed difference is the difference to half of its last digit, sign included."""
    rounding = Rounding.of((value - half, value + half), value, "kPa")
    printed = rounding.signed(value).removesuffix(f"{NBSP}kPa").replace(MINUS, "-")
    assert float(printed) == pytest.approx(value, abs=0.5000001 * 10.0**-rounding.places)
    assert not printed.startswith("-") or value < 0


@given(values, positive)
def test_an_interval_keeps_its_side_of_zero(value, half) -> None:
    """Whether zero lies inside is what the verdict hangs on: rounding must not hide it."""
    interval = (value - half, value + half)
    if min(abs(end) for end in interval) < half / 50:
        return
    rounding = Rounding.of(interval, value, "")
    ends = [float(rounding.bare(end).replace(MINUS, "-")) for end in interval]
    assert [math.copysign(1, end) for end in ends] == [math.copysign(1, end) for end in interval]
    assert 0.0 not in ends


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
