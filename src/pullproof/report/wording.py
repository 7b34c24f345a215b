"""The report's standing words: names of measures and channels, verdicts, checks, and how a number is read."""

import re
from collections.abc import Sequence

from pullproof.channels import CHANNELS
from pullproof.measures import MEASURES
from pullproof.report.rounding import MINUS, NBSP

__all__ = [
    "CHECK_STATUS",
    "VERDICT_WORDS",
    "capitalised",
    "channel_name",
    "check_name",
    "count",
    "difference_unit",
    "level_text",
    "listed",
    "measure_meaning",
    "measure_name",
    "typographic",
    "unit_text",
    "verdict_meaning",
]

UNITS = {"degC": "°C", "deg": "°", "m/s2": "m/s²", "1": ""}
DIFFERENCE_UNITS = {"%": "points", "degC": "K"}
"""A difference of percentages is counted in percentage points, one of temperatures in kelvins."""

VERDICT_WORDS = {"lower": ("▼", "lower"), "higher": ("▲", "higher"), "same": ("=", "same"), "unclear": ("?", "unclear")}
"""Sign and word of a verdict."""

CHECK_STATUS = {"pass": ("✓", "fair"), "warn": ("!", "in doubt"), "fail": ("✗", "not fair")}
"""Sign and word of a fairness check's status."""

_NEGATIVE = re.compile(r"(?<![\w.,\-])-(?=\.?\d)")
_DEGREES = re.compile(r"(?<=\d) degC\b")
_BEFORE_UNIT = re.compile(r"(?<=\d) (?=(?:%|°C|rpm|kPa|kW|g/s|km/h|deg|λ|Hz|s|K|V)(?![\w/]))")
_SQUARED = re.compile(r"(?<=\bm/s)2\b")


def typographic(sentence: str) -> str:
    """A sentence made elsewhere, with a true minus before negative numbers and units that stay with their number.

    File names, dates and ranges (`before-1.csv`, `2026-10-03`, `4000-6500`) keep their hyphens.
    """
    sentence = _DEGREES.sub(" °C", _NEGATIVE.sub(MINUS, sentence))
    return _BEFORE_UNIT.sub(NBSP, _SQUARED.sub("²", sentence))


def capitalised(text: str) -> str:
    """First letter in upper case, the rest untouched."""
    return text[:1].upper() + text[1:]


def count(number: int, word: str) -> str:
    """`1 pull`, `3 pulls`."""
    return f"{number} {word}" if number == 1 else f"{number} {word}s"


def level_text(level: float) -> str:
    """`95 %`."""
    return f"{100 * level:.4g}{NBSP}%"


def measure_name(measure: str) -> str:
    """The measure in words; an identifier that has none is spelt out."""
    if measure in MEASURES:
        return MEASURES[measure].label
    quantity, _, reading = measure.partition(".")
    return f"{reading} {channel_name(quantity)}".replace("_", " ").strip()


def measure_meaning(measure: str) -> str:
    """What is read from each pull, to stand inside a sentence; empty where the name says it all."""
    if measure not in MEASURES or MEASURES[measure].meaning.rstrip(".").lower() == MEASURES[measure].label:
        return ""
    meaning = MEASURES[measure].meaning.rstrip(".")
    return meaning[:1].lower() + meaning[1:]


def channel_name(channel: str) -> str:
    """The channel in words."""
    return CHANNELS[channel].label if channel in CHANNELS else channel.replace("_", " ")


def check_name(check: str) -> str:
    """The fairness check in words."""
    return capitalised(check.replace("_", " "))


def unit_text(unit: str, quantity: str) -> str:
    """The unit as it is printed. A lambda counts in lambdas: every number on paper has a unit."""
    if unit == "1" and quantity.startswith("lambda"):
        return "λ"
    return UNITS.get(unit, unit)


def difference_unit(unit: str, quantity: str) -> str:
    """The unit of a difference of two values in `unit`, as it is printed."""
    return DIFFERENCE_UNITS.get(unit) or unit_text(unit, quantity)


def verdict_meaning(verdict: str, interval: tuple[float, float], worth: float, worth_text: str) -> str:
    """What the word claims of this interval; `worth` is the smallest difference worth having."""
    low, high = interval
    if verdict == "same":
        return f"The whole interval lies within ±{worth_text}, the smallest difference worth having."
    if verdict == "unclear" and low <= 0 <= high:
        return f"The interval holds zero and reaches beyond ±{worth_text}: these pulls cannot tell."
    if verdict == "unclear":
        return "The interval leaves out zero, but something else could make the whole difference: see the checks."
    side = "below" if verdict == "lower" else "above"
    small = f", yet within ±{worth_text}: real, but smaller than is worth having" if max(-low, high) <= worth else ""
    return f"The whole interval lies {side} zero{small}."


def listed(parts: Sequence[str]) -> str:
    """`a`, `a and b`, `a, b and c`."""
    return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))
