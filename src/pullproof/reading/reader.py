"""`read_log`: a file in, its channels on one clock out."""

from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import CHANNELS, Trace
from pullproof.errors import CannotRead
from pullproof.reading.columns import Recorded, Recording
from pullproof.reading.header_words import understand
from pullproof.reading.layout import find_layout
from pullproof.reading.log import Column, Log
from pullproof.reading.long_layout import long_roles, read_long
from pullproof.reading.owner import absent_columns
from pullproof.reading.recognition import Decision, Recognition, recognise
from pullproof.reading.text_file import check_file, open_text
from pullproof.reading.unit_choice import channel_of
from pullproof.reading.updates import common_period, update_period
from pullproof.reading.wide_layout import read_wide

__all__ = ["read_log"]

MDF_SIGNATURES = (b"MDF     ", b"UnFinMF ")


def read_log(path: str | Path, car: Car | None = None) -> Log:
    """Read a log and find out what its columns are.

    Parameters
    ----------
    path : str or Path
        A delimited text file of any layout, or MDF 4.
    car : Car or None
        The car sheet. What it says under [columns] and of the decimal sign goes before what is found out.

    Returns
    -------
    Log
        Traces in canonical units on one clock, and for every column what it was taken for and why.

    Raises
    ------
    CannotRead
        The file is missing, no log, broken, or without time; or it would not fit into memory.
    WrongUse
        The car sheet names a channel or a unit that does not exist.
    """
    file = Path(path)
    try:
        recording = _recording(file, car)
        recognition = recognise(recording.columns, car)
        return _log(file, recording, recognition, car)
    except MemoryError:
        raise CannotRead(
            "the log does not fit into memory",
            where=str(file),
            advice="Export a part of it (the minutes with the pulls, or fewer channels), or close other programs.",
        ) from None


def _recording(path: Path, car: Car | None) -> Recording:
    if check_file(path).startswith(MDF_SIGNATURES):
        from pullproof.reading.mdf import read_mdf  # asammdf is an optional extra and slow to load

        recording: Recording = read_mdf(path)
        return recording
    text = open_text(path)
    layout = find_layout(text, car.decimal if car is not None else None)
    roles = long_roles(layout)
    if roles is not None:
        return read_long(text, layout, roles)
    rules = car.columns if car is not None else {}
    ruled_time = next((header for header, rule in rules.items() if rule.channel == "time"), None)
    return read_wide(text, layout, ruled_time if ruled_time in layout.headers else None)


def _log(path: Path, recording: Recording, recognition: Recognition, car: Car | None) -> Log:
    rates = _rates(recording)
    columns = [
        Column(header, "time", unit, 0.95 if doubt is None else 0.6, _row_rate(recording), doubt)
        for header, unit, doubt in recording.clock
    ]
    traces: dict[str, Trace] = {}
    references: dict[str, float] = {}
    winners = {
        decision.candidate.channel: recording.columns[decision.candidate.column].header
        for decision in recognition.decisions
        if decision.candidate is not None
    }
    for recorded, decision, rate in zip(recording.columns, recognition.decisions, rates, strict=True):
        columns.append(_column(recorded, decision, rate, winners))
        trace = _trace(recorded, decision)
        if trace is not None:
            traces[trace.channel] = trace
            if decision.candidate is not None and decision.candidate.gauge_kpa is not None:
                references[trace.channel] = decision.candidate.gauge_kpa
    ends = [trace.time[-1] for trace in traces.values() if trace.time.size]
    return Log(
        file=path.name,
        rows=recording.rows,
        duration_s=float(max(ends, default=0.0)),
        encoding=recording.encoding,
        delimiter=recording.delimiter,
        decimal=recording.decimal,
        columns=tuple(columns),
        traces=MappingProxyType(traces),
        restarts=recording.restarts,
        notes=(
            *recording.notes,
            *recognition.notes,
            *_unreadable(recording, recognition),
            *_coarse_clock(recording),
            *absent_columns([column.header for column in columns], car),
        ),
        gauge_reference_kpa=MappingProxyType(references),
    )


def _trace(recorded: Recorded, decision: Decision) -> Trace | None:
    """The trace in canonical units; converted in place, because nobody else holds the values."""
    values = recorded.values
    candidate = decision.candidate
    if candidate is None:
        if not np.isfinite(values).any():
            return None
        unit = understand(recorded.header, recorded.unit).unit
        return Trace(recorded.header, unit.name if unit else recorded.unit, recorded.time, values)
    if candidate.scale != 1.0:
        values *= candidate.scale
        values += 0.0  # no negative zero where the sign was turned
    if candidate.offset != 0.0:
        values += candidate.offset
    return Trace(candidate.channel, CHANNELS[channel_of(candidate.channel)].unit, recorded.time, values)


def _column(recorded: Recorded, decision: Decision, rate: float | None, winners: Mapping[str, str]) -> Column:
    candidate = decision.candidate
    unit = understand(recorded.header, recorded.unit).unit
    doubt = decision.doubt
    if candidate is None and doubt is None:
        doubt = _without_channel(recorded, decision, winners)
    return Column(
        header=recorded.header,
        channel=candidate.channel if candidate else None,
        unit=candidate.unit.name if candidate else (unit.name if unit else recorded.unit or None),
        confidence=decision.confidence,
        rate_hz=rate,
        doubt=doubt,
        evidence=decision.evidence,
        unreadable=recorded.unreadable,
    )


def _without_channel(recorded: Recorded, decision: Decision, winners: Mapping[str, str]) -> str | None:
    """Why a column without a channel and without a doubt of its own has none, where that is worth a sentence."""
    if not np.isfinite(recorded.values).any():
        return "It holds text, not numbers." if recorded.unreadable else "It holds no values."
    for sentence in decision.evidence:
        channel = sentence.removeprefix("it also looks like ")
        if channel in winners:
            return f'It also looks like {channel}, for which "{winners[channel]}" was taken.'
    return None


def _unreadable(recording: Recording, recognition: Recognition) -> list[str]:
    """A note for each recognised column with a few cells that are no numbers."""
    notes = []
    for recorded, decision in zip(recording.columns, recognition.decisions, strict=True):
        if decision.candidate is not None and recorded.first_unreadable is not None:
            line, text = recorded.first_unreadable
            notes.append(
                f'"{recorded.header}": {recorded.unreadable} of {recorded.rows} values are no numbers, '
                f'the first is "{text.strip()[:40]}" in line {line}.'
            )
    return notes


def _row_rate(recording: Recording) -> float | None:
    """Rows per second of the log. [1/s]"""
    return _per_second(_row_period(_longest(recording)))


def _longest(recording: Recording) -> Array:
    """Time of the rows: that of the column with most of them. [s]"""
    return max((column.time for column in recording.columns), key=lambda time: time.size, default=np.empty(0))


def _row_period(time: Array) -> float | None:
    if time.size < 2:
        return None
    period = float(np.median(np.diff(time)))
    return period if period > 0 else float(time[-1] - time[0]) / (time.size - 1) or None


def _per_second(period: float | None) -> float | None:
    return None if not period else float(f"{1 / period:.4g}")


def _rates(recording: Recording) -> list[float | None]:
    """New samples per second of each column. [1/s] None where a column has too few to tell."""
    if not recording.holds_values or not recording.columns:
        return [_per_second(_row_period(column.time[~np.isnan(column.values)])) for column in recording.columns]
    row = _row_period(_longest(recording))
    periods = [update_period(column.time, column.values) for column in recording.columns]
    common = common_period([period for period in periods if period], row or 0.0)
    rates: list[float | None] = []
    for column, period in zip(recording.columns, periods, strict=True):
        filled = np.count_nonzero(~np.isnan(column.values))
        if period is None and filled > 0.7 * column.rows:
            period = common or row
        elif period is None:
            period = _row_period(column.time[~np.isnan(column.values)])
        rates.append(_per_second(period))
    return rates


def _coarse_clock(recording: Recording) -> list[str]:
    """A note where many samples share a time stamp: the clock is coarser than the log."""
    if not recording.holds_values or not recording.columns:
        return []
    longest = _longest(recording)
    equal = int(np.count_nonzero(np.diff(longest) == 0))
    if longest.size < 10 or equal < 0.1 * longest.size:
        return []
    return [f"{equal} of {longest.size} rows have the time stamp of the row before: the clock is coarser than the log."]
