"""What a single cell of text can be: a number, a time, nothing, or text.

Patterns only; whole columns are read in `cells` and `clock_text`.
"""

import re

__all__ = ["BLANK", "CLOCK", "NUMBER", "is_blank", "is_clock", "is_plain_number", "is_value"]

BLANK = frozenset({"", "nan", "na", "n/a", "#n/a", "null", "none", "nil", "-", "--", "---", "?", "inf", "-inf", "+inf"})
"""What loggers write for "no value", in lower case."""

NUMBER = r"[+-]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:[eE][+-]?\d+)?"
_PLAIN = re.compile(rf"\s*{NUMBER}\s*")
_GLUED = re.compile(rf"\s*{NUMBER}\s?[^\s\d.,:;+\-\"'|][^\s\d:;\"|]{{0,11}}\s*")
_GROUPED = re.compile(r"\s*[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?\s*")

_DATE = (
    r"(?:(?P<year>\d{4})[-/.](?P<month>\d{1,2})[-/.](?P<day>\d{1,2})"
    r"|(?P<first>\d{1,2})[-/.](?P<second>\d{1,2})[-/.](?P<late_year>\d{4}|\d{2})"
    r"|(?P<name_day>\d{1,2})[- ](?P<name>[A-Za-z]{3})[- ](?P<name_year>\d{4}))"
)
_TIME = (
    r"(?P<h>\d{1,3}):(?P<m>\d{1,2})(?::(?P<s>\d{1,2}))?(?:[.,:](?P<f>\d{1,9}))?"
    r"\s?(?P<half>[AaPp]\.?[Mm]\.?)?\s?(?:Z|[+-]\d{2}:?\d{2}|UTC|GMT)?"
)
CLOCK = re.compile(rf"(?:{_DATE}(?:[T ,]\s?|$))?(?:{_TIME})?")
"""A date, a time of day, an elapsed time, or a date with a time; see `pullproof.reading.clock_text`."""


def is_blank(cell: str) -> bool:
    """Nothing, or a word for nothing."""
    return cell.strip().casefold() in BLANK


def is_plain_number(cell: str) -> bool:
    """A number with a point or a comma, and nothing else."""
    return _PLAIN.fullmatch(cell) is not None


def is_clock(cell: str) -> bool:
    """A date or a time with its signs; a bare number is none."""
    cell = cell.strip()
    return bool(cell) and not is_plain_number(cell) and CLOCK.fullmatch(cell) is not None


def is_value(cell: str) -> bool:
    """Anything that a row of data holds and a header does not: a number, one with its unit glued on, or a time."""
    return bool(_PLAIN.fullmatch(cell) or _GLUED.fullmatch(cell) or _GROUPED.fullmatch(cell) or is_clock(cell))
