"""The clock of a log: which column tells the time, in what unit, and a time that never runs backwards.

Loggers write seconds, milliseconds, a time of day, a date with time, or seconds since 1970. Clocks jump back where two
recordings were appended, single time stamps are garbled, and some columns that are called time tell none.
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.errors import CannotRead
from pullproof.reading.header_words import understand
from pullproof.reading.layout import Kind
from pullproof.reading.naming import meanings
from pullproof.units import UNITS, Unit

__all__ = ["Clock", "TimeColumn", "choose_time", "derived_rate", "per_channel_times", "run_clock"]

DAY = 86_400.0
MOST_BACKWARD = 0.05

BARE_SYMBOL = re.compile(r"t\s*[\[(]?\s*(?:s|sec|ms|us|min)?\s*[\])]?")
"""The letter alone is the symbol of time [ISO 80000-3], where its values move on like one; a capital is temperature."""
SURELY_A_CLOCK, AS_A_SYMBOL = 0.5, 0.5


@dataclass(frozen=True, slots=True)
class TimeColumn:
    """A column that may tell the time. `values` are seconds where `kind` is `clock`, else numbers in its own unit."""

    header: str
    unit: str
    kind: Kind
    values: Array


@dataclass(frozen=True, slots=True)
class Clock:
    """Time of the rows of a log.

    `time` [s] belongs to the rows in `rows` (None: all of them), never decreases and starts where the column does.
    `restarts` [s] are the instants at which the column jumped back. `unit` is what the column is taken to count in.
    """

    time: Array
    rows: np.ndarray | None
    restarts: tuple[float, ...]
    unit: str
    doubt: str | None = None
    notes: tuple[str, ...] = ()


def choose_time(columns: Sequence[TimeColumn]) -> int | None:
    """Index of the column that tells the time best, None where none does.

    Its name speaks for a column, or signs of a time in its cells; among several the one counts that moves on at
    most rows and jumps back least. A column called time whose cells a spreadsheet has rounded away loses so.
    """
    scores: dict[int, tuple[float, float]] = {}
    for index, column in enumerate(columns):
        named = next((found.score for found in meanings(understand(column.header)) if found.channel == "time"), 0.0)
        if not named and BARE_SYMBOL.fullmatch(column.header.strip()) and _quality(column.values) > SURELY_A_CLOCK:
            named = AS_A_SYMBOL
        if column.kind != "clock" and not named:
            continue
        quality = _quality(column.values)
        if quality > 0:
            scores[index] = (quality, named)
    if not scores:
        return None
    best = max(quality for quality, _ in scores.values())
    good = [index for index, (quality, _) in scores.items() if quality >= 0.7 * best]
    return max(good, key=lambda index: (scores[index][1], -index))


def _quality(values: Array) -> float:
    """Share of the rows at which the clock moves on, less what jumps back. [1]"""
    known = values[~np.isnan(values)]
    if known.size < 2:
        return 0.1 * known.size
    steps = np.diff(known)
    backward = np.count_nonzero(steps < 0) / steps.size
    moving = (np.count_nonzero(steps) + 1) / values.size
    return max(0.001, moving * (1 - backward))


def per_channel_times(columns: Sequence[TimeColumn]) -> list[tuple[int, list[int]]]:
    """Time columns that stand before each channel, with the columns that belong to each; empty where that is not so."""
    times = []
    for index, column in enumerate(columns):
        words = tuple(word.text for word in understand(column.header).words if not word.text.isdigit())
        if words and any(
            found.channel == "time" and found.score > 0.8 for found in meanings(understand(column.header))
        ):
            times.append((index, words))
    if len(times) < 2 or len({words for _, words in times}) > 1 or times[0][0] != 0:
        return []
    starts = [index for index, _ in times]
    groups = [
        (start, list(range(start + 1, end))) for start, end in zip(starts, [*starts[1:], len(columns)], strict=True)
    ]
    return groups if all(members for _, members in groups) else []


def run_clock(column: TimeColumn, where: str, *, sorted_rows: bool = True) -> Clock:
    """Turn a time column into seconds that never decrease.

    Parameters
    ----------
    sorted_rows : bool
        False where rows of several channels are interleaved, so that small steps back are no fault.

    Raises
    ------
    CannotRead
        It holds no time, or runs backwards.
    """
    rows = np.flatnonzero(~np.isnan(column.values))
    if not rows.size:
        raise CannotRead(
            f'column "{column.header}" holds no time that can be read',
            where=where,
            advice='Name the time column in the car sheet under [columns], like "Time" = "time, s".',
        )
    seconds, unit, doubt = _in_seconds(
        column, column.values if rows.size == column.values.size else column.values[rows]
    )
    if column.kind == "clock":
        seconds = _over_midnight(seconds)
    notes = []
    if missing := column.values.size - rows.size:
        notes.append(f"{missing} of {column.values.size} rows have no readable time and were left out.")
    if not sorted_rows:
        time, restarts = _interleaved(seconds)
        return Clock(time, _unless_all(rows, column.values.size), restarts, unit, doubt, tuple(notes))
    good = _without_garbled(seconds, column.header, where)
    if not good.all():
        notes.append(f"{np.count_nonzero(~good)} rows with a garbled or repeated time stamp were left out.")
        rows, seconds = rows[good], seconds[good]
    time, restarts = _joined(seconds)
    if restarts:
        times = "once" if len(restarts) == 1 else f"{len(restarts)} times"
        notes.append(f"The clock restarts {times}: recordings were appended to one another.")
    return Clock(time, _unless_all(rows, column.values.size), restarts, unit, doubt, tuple(notes))


def _unless_all(rows: np.ndarray, count: int) -> np.ndarray | None:
    return None if rows.size == count else rows


def _in_seconds(column: TimeColumn, values: Array) -> tuple[Array, str, str | None]:
    """Seconds, the unit that the column counts in, and what is doubtful about it."""
    if column.kind == "clock":
        return values.copy(), "date and time" if values[0] > 1e8 else "hh:mm:ss", None
    stated = understand(column.header, column.unit).unit
    middle = float(np.median(np.abs(values)))
    for least, unit in ((1e17, "ns"), (1e14, "us"), (1e11, "ms"), (1e8, "s")):
        if middle >= least:
            return values * UNITS[unit].factor, f"{unit} since 1970", None
    if stated is not None and stated.dimension == "time":
        return values * stated.factor, stated.name, None
    return _guessed(column.header, values)


def _guessed(header: str, values: Array) -> tuple[Array, str, str | None]:
    """A bare number: seconds, unless its steps could not be seconds of a log that is of any use."""
    steps = np.diff(values)
    step = float(np.median(steps[steps > 0])) if np.any(steps > 0) else 0.0
    whole = bool(np.all(values[:1000] == np.round(values[:1000])))
    unit: Unit | None = None
    if whole and step >= 5:
        unit = UNITS["ms"] if step < 10_000 else UNITS["us"]
    elif not whole and 0 < step < 1e-4:
        unit = Unit("d", "time", DAY)
    if unit is None:
        return values.copy(), "s", None
    doubt = (
        f'"{header}" has no unit and steps of {step:.3g}: taken as {unit.name}. '
        f'If that is wrong, write "{header}" = "time, s" under [columns] in the car sheet.'
    )
    return values * unit.factor, unit.name, doubt


def _over_midnight(seconds: Array) -> Array:
    """A time of day goes on counting where it falls by most of a day."""
    falls = np.flatnonzero(np.diff(seconds) < -DAY / 2)
    days = np.zeros(seconds.size)
    days[falls + 1] = DAY
    return seconds + np.cumsum(days) if falls.size and seconds[0] < 2 * DAY else seconds


def _without_garbled(seconds: Array, header: str, where: str) -> np.ndarray:
    """Which rows to keep: single stamps that jump ahead and come back, or fall behind and catch up, are garbled."""
    good = np.ones(seconds.size, dtype=bool)
    steps = np.diff(seconds)
    falls = np.flatnonzero(steps < 0)
    if falls.size > max(5, MOST_BACKWARD * seconds.size) or (falls.size and falls.size == steps.size):
        first = int(falls[0])
        raise CannotRead(
            f'time in column "{header}" runs backwards at {falls.size} of {steps.size} steps, '
            f"first from {seconds[first]:g} s to {seconds[first + 1]:g} s",
            where=where,
            advice="Export the log in the order in which it was recorded.",
        )
    for fall in falls:
        before = seconds[fall - 1] if fall else -np.inf
        after = seconds[fall + 1 : fall + 4]
        if fall and seconds[fall + 1] >= before:
            good[fall] = False
        elif after[-1] >= seconds[fall]:
            behind = fall + 1 + np.flatnonzero(after < seconds[fall])
            good[behind] = False
    return good


def _joined(seconds: Array) -> tuple[Array, tuple[float, ...]]:
    """A clock that goes on by one usual step where the recorded one jumps back, and the instants of the jumps."""
    steps = np.diff(seconds)
    falls = np.flatnonzero(steps < 0)
    if not falls.size:
        return seconds, ()
    forward = steps[steps > 0]
    steps[falls] = float(np.median(forward)) if forward.size else 0.0
    time = np.concatenate(([seconds[0]], seconds[0] + np.cumsum(steps)))
    return time, tuple(float(time[fall + 1] - time[0]) for fall in falls)


def _interleaved(seconds: Array) -> tuple[Array, tuple[float, ...]]:
    """As `_joined`, for rows of several channels: only falls of more than a second that last are restarts."""
    highest = np.maximum.accumulate(seconds)
    low = seconds < highest - 1.0
    starts = np.flatnonzero(low & ~np.concatenate(([False], low[:-1])))
    time, restarts = seconds.copy(), []
    for start in starts:
        if start + 5 < seconds.size and np.all(low[start : start + 5]) and time[start] < time[start - 1]:
            shift = time[start - 1] - time[start]
            time[start:] += shift
            restarts.append(float(time[start] - time[0]))
    return time, tuple(restarts)


_RATE = re.compile(
    r"(?:sampl\w*|log\w*|record\w*|scan|mess\w*|abtast\w*)[\s_-]*(?P<what>rate|freq\w*|interval\w*|period\w*|frequenz|intervall)?"
    r"[^\d]{0,12}(?P<number>\d+(?:[.,]\d+)?)\s*(?P<unit>hz|ms|msec|s|sec|/s|samples/s|samples per second)\b",
    re.IGNORECASE,
)


def derived_rate(preamble: Sequence[str]) -> tuple[float, str] | None:
    """Rows per second [1/s] that the lines above the table state, with the line; None where they state none."""
    for line in preamble:
        if stated := _RATE.search(line):
            number = float(stated["number"].replace(",", "."))
            unit = stated["unit"].lower()
            rate = number if unit in ("hz", "/s", "samples/s", "samples per second") else None
            if rate is None and number > 0:
                rate = 1000 / number if unit.startswith("ms") else 1 / number
            if rate and 0.05 <= rate <= 20_000:
                return rate, line.strip()
    return None
