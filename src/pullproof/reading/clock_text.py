"""Times written as text (`7:00:41.381`, `12:41:58 PM`, `2007-05-31 07:29:19`) as seconds.

A whole column is read by position: cells of the same length as a sample, with the same signs in the same places,
have their digits in the same places. That is as fast as reading numbers; what fits no sample is read cell by cell.
"""

import re
from collections.abc import Callable
from typing import Literal

import numpy as np
import polars as pl

from pullproof.arrays import Array
from pullproof.reading.cell_text import CLOCK

__all__ = ["DateOrder", "clock_seconds", "date_order"]

DateOrder = Literal["day first", "month first"]

_MONTHS = {
    name: number
    for number, name in enumerate(
        ("jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"), start=1
    )
}
_MOST_SHAPES = 40


def date_order(cells: list[str]) -> DateOrder:
    """Which comes first in dates like 4/12/2015: decided by a number above 12, else by the sign between."""
    found = [match for cell in cells if (match := CLOCK.fullmatch(cell.strip())) and match["first"]]
    if any(int(match["first"]) > 12 for match in found):
        return "day first"
    if any(int(match["second"]) > 12 for match in found):
        return "month first"
    return "month first" if any("/" in cell for cell in cells) else "day first"


def clock_seconds(cells: pl.Series, order: DateOrder) -> Array:
    """Seconds since midnight, since the start of an elapsed time, or since 1970 where a date is given.

    Parameters
    ----------
    cells : (n,) text
        Times as they stand in the file.

    Returns
    -------
    (n,)
        Time. [s] NaN where a cell holds no time.
    """
    seconds = np.full(len(cells), np.nan)
    text = cells.str.strip_chars(" \t\r\"'")
    lengths = text.str.len_bytes().fill_null(0).to_numpy()
    open_rows = np.flatnonzero(lengths > 0)
    for _ in range(_MOST_SHAPES):
        if not open_rows.size:
            return seconds
        length = lengths[open_rows[0]]
        rows = open_rows[lengths[open_rows] == length]
        group = text if rows.size == len(text) else text.gather(rows)
        sample = str(group[0])
        match = CLOCK.fullmatch(sample)
        done = np.arange(rows.size) == 0
        if match is not None and sample.isascii():
            letters = np.frombuffer(str(group.str.join("")[0]).encode(), dtype=np.uint8)
            if letters.size == rows.size * length:
                values, done = _by_position(letters.reshape(rows.size, length), sample, match, order)
                seconds[rows[done]] = values[done]
        open_rows = np.setdiff1d(open_rows, rows[done], assume_unique=True)
    for row in open_rows:
        seconds[row] = _one(str(text[int(row)]), order)
    return seconds


def _by_position(letters: np.ndarray, sample: str, match: re.Match[str], order: DateOrder) -> tuple[Array, np.ndarray]:
    """Seconds of all rows that look like the sample, and which rows those are."""
    shape = np.frombuffer(sample.encode(), dtype=np.uint8)
    digit = (shape >= 48) & (shape <= 57)
    # The letters of AM and PM and of a month may differ from row to row; everything else must stand as it does.
    free = np.zeros(shape.size, dtype=bool)
    for name in ("half", "name"):
        if match[name]:
            free[match.start(name) : match.end(name)] = True
    alike = np.ones(letters.shape[0], dtype=bool)
    for column in range(shape.size):
        values = letters[:, column]
        if digit[column]:
            alike &= (values >= 48) & (values <= 57)
        elif not free[column]:
            alike &= values == shape[column]

    def number(name: str) -> Array:
        total = np.zeros(letters.shape[0])
        for column in range(match.start(name), match.end(name)):
            total = total * 10 + (letters[:, column] - 48.0)
        return total

    seconds = _time_of_day(match, number, letters)
    if any(match[name] for name in ("year", "first", "name_day")):
        seconds = seconds + 86_400 * _days(match, number, letters, order)
    return seconds, alike


def _time_of_day(match: re.Match[str], number: Callable[[str], Array], letters: np.ndarray) -> Array:
    if match["h"] is None:
        return np.zeros(letters.shape[0])
    hours, minutes = number("h"), number("m")
    if match["s"] is None and match["half"] is None and not _has_date(match):
        hours, minutes, seconds = np.zeros_like(hours), hours, minutes  # 12:34.5 is minutes and seconds
    else:
        seconds = number("s") if match["s"] else np.zeros_like(hours)
    if match["f"]:
        seconds = seconds + number("f") / 10.0 ** len(match["f"])
    if match["half"]:
        afternoon = (letters[:, match.start("half")] | 32) == ord("p")
        hours = hours % 12 + 12 * afternoon
    return hours * 3600 + minutes * 60 + seconds


def _has_date(match: re.Match[str]) -> bool:
    return any(match[name] for name in ("year", "first", "name_day"))


def _days(match: re.Match[str], number: Callable[[str], Array], letters: np.ndarray, order: DateOrder) -> Array:
    """Days since 1970-01-01 in the civil calendar."""
    if match["year"]:
        year, month, day = number("year"), number("month"), number("day")
    elif match["name_day"]:
        year, day = number("name_year"), number("name_day")
        names = letters[:, match.start("name") : match.end("name")] | 32
        month = np.array([_MONTHS.get(bytes(name).decode("ascii", "replace"), 1) for name in names], dtype=float)
    else:
        year, first, second = number("late_year"), number("first"), number("second")
        year = np.where(year < 100, year + 2000, year)
        day, month = (first, second) if order == "day first" else (second, first)
    # Fliegel and Van Flandern's integer formula, counted from March so that the leap day comes last.
    shifted = np.floor((14 - month) / 12)
    years, months = year + 4800 - shifted, month + 12 * shifted - 3
    julian = day + np.floor((153 * months + 2) / 5) + 365 * years
    julian += np.floor(years / 4) - np.floor(years / 100) + np.floor(years / 400) - 32_045
    return np.asarray(julian - 2_440_588.0, dtype=np.float64)


def _one(text: str, order: DateOrder) -> float:
    match = CLOCK.fullmatch(text)
    if match is None or not text.isascii():
        return float("nan")
    letters = np.frombuffer(text.encode(), dtype=np.uint8).reshape(1, -1)
    return float(_by_position(letters, text, match, order)[0][0])
