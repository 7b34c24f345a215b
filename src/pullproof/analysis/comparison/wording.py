"""How numbers and counts are put into sentences: sensible digits, a unit always."""

import math

from pullproof.analysis.comparison.result import MeasureDifference

__all__ = ["Digits", "amount", "capitalised", "counted", "digits_of", "level_text"]

DIFFERENCE_UNITS = {"%": "percentage points", "degC": "K", "1": ""}
"""A difference of percentages is counted in points, one of temperatures in kelvins."""


ROUNDING = 1e-9
"""What is smaller in any unit of ours is rounding of the computer, and no amount."""


class Digits:
    """Decimal places that a doubt deserves, for all the numbers that it stands beside: two digits of the doubt.

    Source: JCGM 100:2008 (GUM) 7.2.6, at most two significant digits of an uncertainty.
    """

    def __init__(self, doubt: float) -> None:
        self.places = 1
        if math.isfinite(doubt) and doubt > ROUNDING:
            self.places = 1 - math.floor(math.log10(doubt))

    @classmethod
    def of_interval(cls, interval: tuple[float, float]) -> "Digits":
        """By half the width; and an end near zero keeps a digit, up to two more, that shows on which side it lies."""
        lower, upper = interval
        digits = cls((upper - lower) / 2.0)
        for _ in range(2):
            if any(abs(end) > ROUNDING and round(end, digits.places) == 0.0 for end in interval):
                digits.places += 1
        return digits

    def bare(self, value: float) -> str:
        """The number without a unit, never a negative zero."""
        return f"{round(value, self.places) + 0.0:.{max(self.places, 0)}f}"

    def with_unit(self, value: float, unit: str) -> str:
        """The number and its unit."""
        return f"{self.bare(value)} {unit}".rstrip()


def digits_of(difference: MeasureDifference) -> Digits:
    """Digits by the interval of a difference."""
    return Digits.of_interval(difference.interval)


def amount(value: float, unit: str, digits: Digits | None = None) -> str:
    """`2.1 percentage points`: an amount of a measure's difference, without its sign.

    With two digits of its own at most, or with those of the interval that it stands beside.
    """
    number = digits.bare(abs(value)) if digits else f"{float(Digits(abs(value)).bare(abs(value))):g}"
    return f"{number} {DIFFERENCE_UNITS.get(unit, unit)}".rstrip()


def counted(number: int, word: str) -> str:
    """`1 pull`, `3 pulls`, `no pull`."""
    if number == 0:
        return f"no {word}"
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def capitalised(text: str) -> str:
    """First letter in upper case, the rest untouched."""
    return text[:1].upper() + text[1:]


def level_text(level: float) -> str:
    """`95 %`."""
    return f"{100.0 * level:.4g} %"
