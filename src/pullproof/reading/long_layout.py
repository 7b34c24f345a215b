"""A long text log (one row a sample: time, name, value, perhaps a unit) as recorded quantities."""

from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pullproof.arrays import Array
from pullproof.errors import CannotRead
from pullproof.reading.cell_text import is_blank, is_value
from pullproof.reading.cells import NumberCells
from pullproof.reading.clock import TimeColumn, run_clock
from pullproof.reading.clock_text import clock_seconds, date_order
from pullproof.reading.columns import Recorded, Recording
from pullproof.reading.header_words import understand
from pullproof.reading.layout import Layout
from pullproof.reading.memory import require_memory
from pullproof.reading.naming import meanings
from pullproof.reading.text_file import TextFile
from pullproof.reading.text_table import Frame, frames
from pullproof.reading.vocabulary import plain_text, vocabulary

__all__ = ["Roles", "long_roles", "read_long"]

MOST_NAMES = 2000
NO_NAME = np.iinfo(np.uint32).max
"""Code of a row whose name is blank."""


@dataclass(frozen=True, slots=True)
class Roles:
    """Which column of a long log holds what."""

    time: int
    name: int
    value: int
    unit: int | None


def long_roles(layout: Layout) -> Roles | None:
    """The columns of a long log, or None where the log is a wide one.

    A long log has few columns: a time, one of texts that come again and again, one of values.
    """
    if not 3 <= len(layout.headers) <= 8:
        return None
    times = [index for index, header in enumerate(layout.headers) if _is_time(header) or layout.kinds[index] == "clock"]
    names = [index for index in range(len(layout.headers)) if index not in times and _holds_names(layout, index)]
    spoken = [index for index in names if _role(layout.headers[index]) == "name"]
    values = [index for index, header in enumerate(layout.headers) if _role(header) == "value"]
    if not values:
        numbers = [index for index, kind in enumerate(layout.kinds) if kind == "number" and index not in times]
        values = numbers if len(numbers) == 1 and spoken else []
    names = spoken or names[:1]
    if not times or not names or len(values) != 1:
        return None
    units = [index for index, header in enumerate(layout.headers) if _role(header) == "unit" and index != names[0]]
    return Roles(times[0], names[0], values[0], units[0] if units else None)


def _is_time(header: str) -> bool:
    return any(found.channel == "time" for found in meanings(understand(header)))


def _role(header: str) -> str | None:
    plain = plain_text(header).strip()
    return next((role for role, words in vocabulary().layout.items() if plain in words), None)


def _holds_names(layout: Layout, index: int) -> bool:
    cells = [row[index].strip() for row in layout.sample if index < len(row) and not is_blank(row[index])]
    wordy = sum(not is_value(cell) and any(map(str.isalpha, cell)) for cell in cells)
    return len(cells) > 1 and wordy > 0.9 * len(cells) and _role(layout.headers[index]) != "unit"


@dataclass(slots=True)
class _Named:
    """What has been gathered of one name."""

    cells: NumberCells
    unit: str = ""
    rows: list[np.ndarray] = field(default_factory=list)
    values: list[Array] = field(default_factory=list)


def read_long(file: TextFile, layout: Layout, roles: Roles) -> Recording:
    """Read a log that has one row a sample.

    Raises
    ------
    CannotRead
        There is no readable time, or more names than any log has channels.
    """
    where = str(file.path)
    # Time, value and row number of each sample, and the same again while they are put in order.
    require_memory(int(2.5 * 20 * file.size / layout.line_length) + (100 << 20), where)
    notes: list[str] = []
    order = date_order([row[roles.time] for row in layout.sample if roles.time < len(row)])
    clock_cells = NumberCells(layout.decimal)
    times: list[Array] = []
    named: dict[str, _Named] = {}
    count = 0
    kinds = list(layout.kinds)
    for frame in frames(file, layout, kinds, notes):
        cells = frame.cells.to_series(roles.time)
        if layout.kinds[roles.time] == "clock":
            times.append(clock_seconds(cells, order))
        else:
            times.append(_numbers(clock_cells, cells, frame, np.arange(frame.cells.height)))
        _gather(frame, roles, named, count, layout)
        count += frame.cells.height
        if len(named) > MOST_NAMES:
            raise CannotRead(
                f'column "{layout.headers[roles.name]}" holds more than {MOST_NAMES} different names',
                where=where,
                advice="This is no log of channels: check the file.",
            )
    if not count:
        raise CannotRead("it has a header and no rows", where=where, advice="Check that the logger recorded anything.")
    header, unit = layout.headers[roles.time], layout.units[roles.time]
    clock = run_clock(
        TimeColumn(header, unit, layout.kinds[roles.time], np.concatenate(times)), where, sorted_rows=False
    )
    times.clear()
    at = clock.time - np.min(clock.time)
    if clock.rows is not None:
        at = np.full(count, np.nan)
        at[clock.rows] = clock.time - np.min(clock.time)
    return Recording(
        # A row may be called as the time column is: the header comes again among the rows, say.
        columns=[_recorded(f"{name} (2)" if name == header else name, named.pop(name), at) for name in list(named)],
        clock=[(header, clock.unit, clock.doubt)],
        rows=count,
        restarts=clock.restarts,
        encoding=file.encoding,
        delimiter=layout.delimiter,
        decimal=layout.decimal,
        notes=(*layout.notes, *notes, "Long layout: one row a sample.", *clock.notes),
        holds_values=False,
    )


def _gather(frame: Frame, roles: Roles, named: dict[str, _Named], first_row: int, layout: Layout) -> None:
    """Add the samples of one piece to what has been gathered of each name."""
    names = frame.cells.to_series(roles.name).cast(pl.Categorical)
    codes = names.to_physical().fill_null(NO_NAME).to_numpy()
    order = np.argsort(codes, kind="stable")
    starts = np.flatnonzero(np.diff(codes[order], prepend=codes[order[:1]] + 1))
    values = frame.cells.to_series(roles.value)
    units = None if roles.unit is None else frame.cells.to_series(roles.unit)
    for rows in np.split(order, starts[1:]):
        name = str(names[int(rows[0])] or "").strip()
        if not name:
            continue
        gathered = named.setdefault(name, _Named(NumberCells(layout.decimal)))
        if units is not None and not gathered.unit:
            gathered.unit = str(units[int(rows[0])] or "").strip()
        gathered.rows.append((rows + first_row).astype(np.uint32))
        gathered.values.append(_numbers(gathered.cells, values.gather(rows), frame, rows))


def _numbers(reader: NumberCells, cells: pl.Series, frame: Frame, rows: np.ndarray) -> Array:
    if cells.dtype == pl.Float64:
        return np.array(cells.to_numpy(), dtype=np.float64)
    return reader.read(cells, lambda index: frame.line(int(rows[index])))


def _recorded(name: str, gathered: _Named, at: Array) -> Recorded:
    """One channel, in the order of its times."""
    rows, values = np.concatenate(gathered.rows), np.concatenate(gathered.values)
    time = at[rows]
    known = ~np.isnan(time)
    if not known.all():
        time, values = time[known], values[known]
    if np.any(np.diff(time) < 0):
        order = np.argsort(time, kind="stable")
        time, values = time[order], values[order]
    first = gathered.cells.first
    return Recorded(
        header=name,
        unit=gathered.unit or gathered.cells.suffix,
        time=time,
        values=values,
        rows=values.size,
        unreadable=gathered.cells.unreadable,
        first_unreadable=None if first is None else (first.line, first.text),
    )
