"""A wide text log (one column a channel) as recorded quantities on their clock."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.errors import CannotRead
from pullproof.reading.clock import Clock, TimeColumn, choose_time, derived_rate, per_channel_times, run_clock
from pullproof.reading.columns import Recorded, Recording
from pullproof.reading.layout import Layout
from pullproof.reading.text_file import TextFile
from pullproof.reading.text_table import TextColumn, TextTable, read_table

__all__ = ["read_wide"]


@dataclass(frozen=True, slots=True)
class _Clocked:
    columns: list[Recorded]
    clock: list[tuple[str, str, str | None]]
    restarts: tuple[float, ...]
    notes: list[str]


def read_wide(file: TextFile, layout: Layout, time_header: str | None) -> Recording:
    """Read a log that has one column a channel.

    Parameters
    ----------
    time_header : str or None
        The column that the owner says is the time.

    Raises
    ------
    CannotRead
        There is no time, it runs backwards, or the table cannot be read.
    """
    table = read_table(file, layout)
    where = str(file.path)
    if not table.rows:
        raise CannotRead("it has a header and no rows", where=where, advice="Check that the logger recorded anything.")
    times = [TimeColumn(column.header, column.unit, column.kind, column.values) for column in table.columns]
    groups = per_channel_times(times) if time_header is None else []
    if groups:
        clocked = _clock_each(table, times, groups, where)
    else:
        clocked = _clock_all(table, times, _time_index(times, time_header, where), layout, where)
    return Recording(
        columns=clocked.columns,
        clock=clocked.clock,
        rows=table.rows,
        restarts=clocked.restarts,
        encoding=file.encoding,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        notes=(*layout.notes, *table.notes, *clocked.notes),
        holds_values=not groups,
    )


def _time_index(times: Sequence[TimeColumn], header: str | None, where: str) -> int | None:
    if header is None:
        return choose_time(times)
    index = next((index for index, column in enumerate(times) if column.header == header), None)
    if index is None:
        raise CannotRead(
            f'there is no column "{header}", which the car sheet names as the time',
            where=where,
            advice=f"Columns are: {', '.join(column.header for column in times[:20])}.",
        )
    return index


def _clock_all(
    table: TextTable, times: Sequence[TimeColumn], index: int | None, layout: Layout, where: str
) -> _Clocked:
    """One clock for all columns."""
    if index is None:
        clock, told = _by_rate(table, layout, where), []
    else:
        clock = run_clock(times[index], where)
        told = [(times[index].header, clock.unit, clock.doubt)]
    start = float(clock.time[0])
    time = clock.time - start
    time.flags.writeable = False
    columns = [
        _recorded(column, clock, time, table.rows) for number, column in enumerate(table.columns) if number != index
    ]
    return _Clocked(columns, told, clock.restarts, list(clock.notes))


def _by_rate(table: TextTable, layout: Layout, where: str) -> Clock:
    """Time from a sampling rate that stands above the table."""
    stated = derived_rate(layout.preamble)
    if stated is None:
        single = " One file per channel cannot be read alone." if len(table.columns) < 3 else ""
        raise CannotRead(
            f"there is no time column among {', '.join(column.header for column in table.columns[:8])}",
            where=where,
            advice='Log the time too, or name its column under [columns] in the car sheet: "clock" = "time, s".'
            + single,
        )
    rate, line = stated
    note = f'There is no time column; time follows from "{line}".'
    return Clock(np.arange(table.rows) / rate, None, (), "s", notes=(note,))


def _recorded(column: TextColumn, clock: Clock, time: Array, rows: int) -> Recorded:
    """A column on its clock: rows without a time are left out, and a column of samples gets their instants."""
    values = column.values
    if column.rows is not None:
        places = np.arange(rows) if clock.rows is None else clock.rows
        found = np.minimum(np.searchsorted(places, column.rows), places.size - 1)
        timed = places[found] == column.rows
        time, values = time[found[timed]], values[timed]
    elif clock.rows is not None:
        values = values[clock.rows]
    return Recorded(
        header=column.header,
        unit="s" if column.kind == "clock" else column.unit or column.suffix,
        time=time,
        values=values,
        rows=rows,
        unreadable=column.unreadable,
        first_unreadable=column.first_unreadable,
    )


def _clock_each(
    table: TextTable, times: Sequence[TimeColumn], groups: list[tuple[int, list[int]]], where: str
) -> _Clocked:
    """A clock of its own for each channel; all of them count from the earliest sample."""
    clocks = [run_clock(times[index], where) for index, _ in groups]
    start = min(float(clock.time[0]) for clock in clocks)
    columns, notes = [], [f"Each channel has a time column of its own ({len(groups)} of them)."]
    for clock, (_, members) in zip(clocks, groups, strict=True):
        time = clock.time - start
        columns += [_recorded(table.columns[member], clock, time, table.rows) for member in members]
        notes += [note for note in clock.notes if note not in notes]
    told = [(times[index].header, clock.unit, clock.doubt) for clock, (index, _) in zip(clocks, groups, strict=True)]
    restarts = max((clock.restarts for clock in clocks), key=len)
    return _Clocked(columns, told, restarts, notes)
