"""What the reader took each column for, with the evidence, and the user's word where it knows better."""

import re
from dataclasses import dataclass

import numpy as np

from pullproof.car import ColumnRule
from pullproof.channels import CHANNELS
from pullproof.errors import PullproofError, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.readings import log_of
from pullproof.library.schema import LogRow
from pullproof.reading.log import Column, Log
from pullproof.report.wording import channel_name, unit_text
from pullproof.timebase import new_samples
from pullproof.units import UNITS, parse_unit
from pullproof.web.decimation import decimate

__all__ = ["ColumnShown", "columns_shown", "decide", "open_questions", "units_for"]

SKETCH = (220, 44)
"""Width and height of the sketch of a column's values."""

EXTRA = {"lambda": ("lambda", "AFR"), "lambda_target": ("lambda", "AFR")}
"""Channels whose values a file may give in another dimension."""


@dataclass(frozen=True, slots=True)
class ColumnShown:
    """One column of a file, what it was taken for, and why."""

    number: int
    column: Column
    doubt: str
    """What is uncertain, without the advice to edit a sheet: here there are better means."""
    unit: str
    """Unit that the file is taken to use, as the choices name it."""
    decided: ColumnRule | None
    asks: bool
    """Whether somebody should look: there is a doubt, and nobody has decided."""
    low: str
    high: str
    """Least and greatest value in our own unit."""
    shown_unit: str
    sketch: str
    """Path of a line through the values, for a drawing of `SKETCH`."""


def columns_shown(library: Library, row: LogRow, log: Log) -> list[ColumnShown]:
    """Every column of a log but its clock, those with a question first."""
    with library.reading() as session:
        decided = catalogue.decisions_of(session, row.signature)
    shown = []
    for number, column in enumerate(log.columns):
        if column.channel == "time":
            continue
        low, high, unit, sketch = _values(log, column)
        rule = decided.get(column.header)
        asks = column.doubt is not None and column.channel is not None and rule is None
        shown.append(
            ColumnShown(number, column, _bare(column.doubt), column.unit or "", rule, asks, low, high, unit, sketch)
        )
    return sorted(shown, key=lambda one: (not one.asks, one.column.channel is None, one.number))


def _bare(doubt: str | None) -> str:
    return re.sub(r"\s*To settle it, write .* in the car sheet\.", "", doubt or "")


def open_questions(library: Library, row: LogRow, log: Log) -> list[Column]:
    """Columns that were recognised with a doubt and that nobody has decided on."""
    with library.reading() as session:
        decided = catalogue.decisions_of(session, row.signature)
    return [
        column
        for column in log.columns
        if column.doubt is not None and column.channel not in (None, "time") and column.header not in decided
    ]


def _values(log: Log, column: Column) -> tuple[str, str, str, str]:
    trace = log.traces.get(column.channel or column.header)
    if trace is None:
        return "", "", "", ""
    samples = new_samples(trace)
    if samples.time.size == 0:
        return "", "", "", ""
    low, high = float(samples.values.min()), float(samples.values.max())
    width, height = SKETCH
    time, values = decimate(samples.time, samples.values, samples.time[0], samples.time[-1], width // 2)
    across = (time - time[0]) / max(float(time[-1] - time[0]), 1e-9) * width
    up = height - 3 - (values - low) / max(high - low, 1e-9) * (height - 6)
    points = " ".join(f"{x:.1f},{y:.1f}" for x, y in zip(across, up, strict=True) if np.isfinite(y))
    return f"{low:.4g}", f"{high:.4g}", unit_text(trace.unit, trace.channel), points


def units_for(channel: str) -> tuple[str, ...]:
    """Units that a file may use for a channel, with their reference where it is a pressure."""
    if channel in EXTRA:
        return EXTRA[channel]
    own = parse_unit(CHANNELS[channel].unit)
    if own is None:
        return ()
    alike = [unit for unit in UNITS.values() if unit.dimension == own.dimension]
    if own.dimension == "pressure":
        return tuple(name for unit in alike for name in (f"{unit.name} absolute", f"{unit.name} gauge"))
    return tuple(unit.name for unit in alike)


def decide(library: Library, row: LogRow, header: str, channel: str, unit: str, by: str) -> None:
    """Say what a column is, for this log and every other of the same logger; `channel` empty leaves it alone.

    Raises
    ------
    WrongUse
        There is no such channel, or the unit does not measure it.
    PullproofError
        The log cannot be read that way; nothing is kept then.
    """
    if channel and channel not in CHANNELS:
        raise WrongUse(f'there is no channel "{channel}"', advice="Choose one of the list.")
    if channel and unit:
        _check_unit(channel, unit)
    with library.reading() as session:
        before = catalogue.decisions_of(session, row.signature).get(header)
    with library.transaction() as session:
        rule = ColumnRule(channel or None, (unit or None) if channel else None)
        catalogue.decide_column(session, row.signature, header, rule, decided_by=by)
    try:
        log_of(library, row.id)
    except PullproofError:
        with library.transaction() as session:
            if before is None:
                catalogue.undecide_column(session, row.signature, header)
            else:
                catalogue.decide_column(session, row.signature, header, before, decided_by=by)
        raise


def _check_unit(channel: str, unit: str) -> None:
    named = parse_unit(unit)
    own = parse_unit(CHANNELS[channel].unit)
    fits = named is not None and own is not None and named.dimension == own.dimension
    if not fits and unit not in EXTRA.get(channel, ()):
        raise WrongUse(
            f'"{unit}" is no unit of {channel_name(channel)}',
            advice=f"Choose one of: {', '.join(units_for(channel)[:12])}.",
        )
