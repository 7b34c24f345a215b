"""How many digits a number keeps, decided here and nowhere else in the report.

The doubt decides: a difference, what it is made of and the two values it stands between keep the digits that the
half-width of its interval deserves, by the rule of the Particle Data Group (Review of Particle Physics,
Introduction, "Rounding"): look at the three leading digits of the doubt; 100 to 354 keeps two digits, 355 to 949
keeps one, 950 to 999 rounds up to 1000 and keeps two.
"""

import math
from dataclasses import dataclass

__all__ = ["MINUS", "NBSP", "UNKNOWN", "Rounding", "places_for", "significant", "with_unit"]

MINUS = "\N{MINUS SIGN}"
NBSP = "\N{NO-BREAK SPACE}"
UNKNOWN = "not known"


def places_for(doubt: float) -> int:
    """Decimal places that a doubt (half an interval, a standard deviation) deserves; negative rounds to tens.

    Raises
    ------
    ValueError
        The doubt is not a positive finite number.
    """
    if not (math.isfinite(doubt) and doubt > 0):
        raise ValueError(f"a doubt must be positive and finite, not {doubt!r}")
    exponent = math.floor(math.log10(doubt))
    leading = round(doubt / 10.0 ** (exponent - 2))
    # From 355 to 949 one digit stays; 950 and more is the 1.0 of the next decade, two digits. Both end at this place.
    return 1 - exponent if leading <= 354 else -exponent


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
        """Digits by the interval; by three digits of `scale` where there is no interval.

        An end of the interval that would be printed as zero gets up to two digits more: whether zero lies inside is
        what the verdict hangs on.
        """
        doubt = (interval[1] - interval[0]) / 2
        if math.isfinite(doubt) and doubt > 0:
            places = places_for(doubt)
            hidden = [more for more in range(3) if all(end == 0 or round(end, places + more) for end in interval)]
            return cls(places + (hidden[0] if hidden else 2), unit)
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
