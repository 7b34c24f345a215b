"""How a number is printed: digits, true minus, and a unit that stays on its line.

The doubt decides the digits: a difference, what it is made of and the two values it stands between keep the
digits that the half-width of its interval deserves, by the same rule as the verdict's sentence, so that the two
never differ (`analysis.comparison.wording.Digits`: two digits of the doubt, GUM 7.2.6).
"""

import math
from dataclasses import dataclass

from pullproof.analysis.comparison.wording import Digits

__all__ = ["MINUS", "NBSP", "UNKNOWN", "Rounding", "significant", "with_unit"]

MINUS = "\N{MINUS SIGN}"
NBSP = "\N{NO-BREAK SPACE}"
UNKNOWN = "not known"


def with_unit(number: str, unit: str) -> str:
    """`number` and `unit` with a space that never breaks; a degree sign of angle stands close."""
    if not unit:
        return number
    return f"{number}{unit}" if unit == "°" else f"{number}{NBSP}{unit}"


def significant(value: float, digits: int, unit: str = "") -> str:
    """`value` with `digits` significant digits, without an exponent and without trailing zeros."""
    if not math.isfinite(value):
        return UNKNOWN
    if value == 0:
        return with_unit("0", unit)
    places = digits - 1 - math.floor(math.log10(abs(value)))
    text = _fixed(value, places)
    if "." in text:
        text = text.rstrip("0").rstrip(".")
    return with_unit(text, unit)


def _fixed(value: float, places: int) -> str:
    """Rounded to `places`, with a true minus and never a negative zero."""
    rounded = round(value, places) + 0.0
    text = f"{abs(rounded):.{max(places, 0)}f}"
    return f"{MINUS}{text}" if rounded < 0 else text


@dataclass(frozen=True, slots=True)
class Rounding:
    """Digits and unit shared by all the numbers of one measure."""

    places: int
    unit: str

    @classmethod
    def of(cls, interval: tuple[float, float], scale: float, unit: str) -> "Rounding":
        """Digits by the interval; three digits of `scale` where there is no interval."""
        doubt = (interval[1] - interval[0]) / 2
        if math.isfinite(doubt) and doubt > 0:
            return cls(Digits.of_interval(interval).places, unit)
        if math.isfinite(scale) and scale != 0:
            return cls(2 - math.floor(math.log10(abs(scale))), unit)
        return cls(1, unit)

    def bare(self, value: float) -> str:
        """The number without its unit."""
        return _fixed(value, self.places) if math.isfinite(value) else UNKNOWN

    def plain(self, value: float) -> str:
        """`97.2 %`."""
        return with_unit(self.bare(value), self.unit) if math.isfinite(value) else UNKNOWN

    def signed(self, value: float) -> str:
        """`−1.9 %`, `+0.3 %`; zero has no sign."""
        if not math.isfinite(value):
            return UNKNOWN
        sign = "+" if round(value, self.places) > 0 else ""
        return sign + self.plain(value)

    def interval(self, interval: tuple[float, float]) -> str:
        """`−2.8 to −1.0 %`, on one line."""
        low, high = interval
        if not (math.isfinite(low) and math.isfinite(high)):
            return "no interval"
        return f"{_signed_bare(self, low)}{NBSP}to{NBSP}{self.signed(high)}"


def _signed_bare(rounding: Rounding, value: float) -> str:
    return ("+" if round(value, rounding.places) > 0 else "") + rounding.bare(value)
