"""A text log as columns of numbers: bytes in, float64 columns out, piece after piece so that memory stays small.

Columns that hold nothing but numbers are parsed as numbers straight away. A piece in which one of them holds
anything else is read again as text and gone through cell by cell, so that what cannot be read is counted.
"""

import re
from collections import deque
from collections.abc import Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass, field

import numpy as np
import polars as pl

from pullproof.arrays import Array
from pullproof.errors import CannotRead
from pullproof.reading.cells import NumberCells, Unreadable
from pullproof.reading.clock_text import clock_seconds, date_order
from pullproof.reading.column_store import ColumnStore
from pullproof.reading.header_words import understand
from pullproof.reading.layout import Kind, Layout
from pullproof.reading.memory import require_memory
from pullproof.reading.naming import meanings
from pullproof.reading.text_file import PIECE, TextFile

CELLS = 1_000_000
"""Cells that are parsed at a time, at most."""

__all__ = ["Frame", "TextColumn", "TextTable", "frames", "read_table"]


@dataclass(frozen=True, slots=True)
class TextColumn:
    """One column of the table.

    `values` (rows,) are numbers in the file's own unit, or seconds where `kind` is `clock`; NaN where there is none.
    Of a column that is mostly blank they are the samples alone, and `rows` says in which rows those stand.
    `suffix` is a unit that was glued to the numbers. `unreadable` counts cells that are no value; `first_unreadable`
    is the line of the first one, and its text.
    """

    header: str
    unit: str
    kind: Kind
    values: Array
    rows: np.ndarray | None = None
    suffix: str = ""
    unreadable: int = 0
    first_unreadable: tuple[int, str] | None = None


@dataclass(frozen=True, slots=True)
class TextTable:
    """All columns of a text log and what was noticed while reading them."""

    columns: tuple[TextColumn, ...]
    rows: int
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Frame:
    """One piece of the file: cells as numbers or text, the line of the first row, and which rows were left out."""

    cells: pl.DataFrame
    first_line: int
    rows: np.ndarray | None = None

    def line(self, row: int) -> int:
        """Line of the file in which a row stands."""
        return self.first_line + int(row if self.rows is None else self.rows[row])


@dataclass(slots=True)
class _Reader:
    """What is learned on the way through a file."""

    file: TextFile
    layout: Layout
    kinds: list[Kind]
    notes: list[str] = field(default_factory=list)
    repeats: int = 0
    ended: bool = False

    def parse(self, piece: bytes) -> pl.DataFrame | bytes:
        """The rows of a piece, number columns as numbers; the piece itself where one of them holds something else."""
        rows = self._parsed(piece, {"number": pl.Float64})
        return piece if rows is None else rows

    def frame(self, parsed: pl.DataFrame | bytes, first_line: int) -> tuple[Frame, int]:
        """What `parse` found, with line numbers, and the line after it."""
        if isinstance(parsed, pl.DataFrame):
            frame = Frame(parsed, first_line)
            any_number = pl.Float64 in parsed.dtypes
            return frame if any_number else self._without_headers(frame), first_line + parsed.height
        text = self._parsed(self.file.sound(parsed), {})
        if text is None:
            raise CannotRead(
                f"the table breaks off after line {first_line}",
                where=str(self.file.path),
                advice="Check the file from there on.",
            )
        return self._without_headers(Frame(text, first_line)), first_line + text.height

    def _parsed(self, piece: bytes, types: dict[str, type[pl.DataType]]) -> pl.DataFrame | None:
        schema = {str(index): types.get(kind, pl.String) for index, kind in enumerate(self.kinds)}
        try:
            return pl.read_csv(
                piece,
                has_header=False,
                schema=schema,
                separator=self.layout.delimiter,
                quote_char='"' if self.layout.quotes == "keep" else None,
                truncate_ragged_lines=True,
                missing_columns="insert",
                extra_columns="ignore",
                decimal_comma=self.layout.decimal == "," and self.layout.delimiter != ",",
            )
        except pl.exceptions.PolarsError:
            return None

    def _without_headers(self, frame: Frame) -> Frame:
        """Leave out headers that a restarted logger wrote again; stop where a header with other names begins."""
        cells = frame.cells
        wordy = pl.all_horizontal(
            ~pl.col(name).str.contains(r"\d").fill_null(value=False) for name in cells.columns
        ) & (pl.sum_horizontal(pl.col(name).is_not_null() for name in cells.columns) >= 2)
        suspects = np.flatnonzero(cells.select(wordy).to_series().to_numpy())
        known = set(self.layout.repeated)
        keep = np.ones(cells.height, dtype=bool)
        for row in self._header_like(cells, suspects):
            found = tuple((cell or "").strip() for cell in cells.row(row))
            if any(found[: len(header)] == header[: len(found)] for header in known):
                keep[row] = False
                self.repeats += 1
            elif row in suspects and self._is_other_header(found):
                keep[row:] = False
                self.ended = True
                self.notes.append(
                    f"Line {frame.line(row)} is a header with other columns; what follows it was left out. "
                    "Split the file there to read the rest."
                )
                break
        if keep.all():
            return frame
        return Frame(cells.filter(pl.Series(keep)), frame.first_line, np.flatnonzero(keep))

    def _header_like(self, cells: pl.DataFrame, suspects: np.ndarray) -> list[int]:
        """Rows that could be headers: those without a digit, and those that begin as a known header does."""
        first = [header[0] for header in self.layout.repeated if header and header[0]]
        alike = cells.to_series(0).str.strip_chars().is_in(first).fill_null(value=False).to_numpy()
        return sorted({*suspects.tolist(), *np.flatnonzero(alike).tolist()})

    def _is_other_header(self, found: tuple[str, ...]) -> bool:
        filled = [cell for cell in found if cell]
        return len(set(filled)) >= max(3, len(self.kinds) // 2) and len(set(filled)) > 0.8 * len(filled)


def frames(file: TextFile, layout: Layout, kinds: list[Kind], notes: list[str]) -> Iterator[Frame]:
    """The data rows of a file, piece by piece.

    Parameters
    ----------
    kinds : list
        Kind of each column; the caller may change an entry to `mixed`, and later pieces hold that column as text.
    notes : list
        What was noticed is added here.
    """
    reader = _Reader(file, layout, kinds, notes)
    waiting: deque[Future[pl.DataFrame | bytes]] = deque()
    line = layout.first_line
    # Two pieces are parsed ahead while the caller works on the one before: parsing leaves the processor to others.
    with ThreadPoolExecutor(2) as ahead:
        for piece in _data_pieces(file, layout, notes):
            waiting.append(ahead.submit(reader.parse, piece))
            if len(waiting) > 2:
                frame, line = reader.frame(waiting.popleft().result(), line)
                yield frame
            if reader.ended:
                break
        while waiting and not reader.ended:
            frame, line = reader.frame(waiting.popleft().result(), line)
            yield frame
    if reader.repeats:
        notes.append(f"The header is repeated {reader.repeats} times: the logger was restarted.")


def _data_pieces(file: TextFile, layout: Layout, notes: list[str]) -> Iterator[bytes]:
    """Pieces without what stands above the data, without a last line that is cut, without needless quotes."""
    skip, torn = layout.first_line - 1, 0
    for raw in file.pieces(_piece_size(layout)):
        piece = raw
        if skip:
            above = min(skip, raw.count(b"\n"))
            piece, skip = _from_line(raw, above), skip - above
        if piece and not piece.endswith(b"\n"):
            piece = _without_cut_line(piece, layout, notes)
        if b"\0" in piece:
            piece, left_out = _without_torn_lines(piece)
            torn += left_out
        if piece:
            yield _cleaned(piece, layout)
    if torn:
        lines = "1 line holds" if torn == 1 else f"{torn} lines hold"
        notes.append(f"{lines} zero bytes, as after a power cut: left out, and what was never written is missing.")


def _piece_size(layout: Layout) -> int:
    """Bytes to parse at a time: fewer where cells are short, because a number takes eight bytes and a text more."""
    weight = sum(1 if kind == "number" else 3 for kind in layout.kinds)
    return max(PIECE // 8, min(PIECE, int(CELLS * layout.line_length / weight)))


def _from_line(piece: bytes, skip: int) -> bytes:
    start = 0
    for _ in range(skip):
        start = piece.find(b"\n", start) + 1
        if not start:
            return b""
    return piece[start:]


def _without_cut_line(piece: bytes, layout: Layout, notes: list[str]) -> bytes:
    """Leave out a last line without an end that has fewer cells than the rows of the sample: its last value is cut."""
    start = piece.rfind(b"\n") + 1
    cells = piece[start:].count(layout.delimiter.encode()) + 1
    usual = min((len(row) for row in layout.sample), default=0)
    if cells >= min(usual, len(layout.headers)) or not piece[start:].strip():
        return piece
    notes.append("The last line is cut short and was left out.")
    return piece[:start]


def _without_torn_lines(piece: bytes) -> tuple[bytes, int]:
    """Leave out lines with zero bytes in them, which may be two halves joined; how many held more than zeros.

    Where most lines have them, they are the logger's own way to end a text, and only the zeros go.
    """
    lines = piece.split(b"\n")
    torn = [line for line in lines if b"\0" in line]
    if 2 * len(torn) > len(lines):
        return piece.replace(b"\0", b""), 0
    return b"\n".join(line for line in lines if b"\0" not in line), len(torn)


def _cleaned(piece: bytes, layout: Layout) -> bytes:
    if layout.quotes == "drop":
        piece = piece.translate(None, b'"')
    elif layout.quotes == "keep" and piece.count(b'"') % 2:
        lines = piece.split(b"\n")
        piece = b"\n".join(row.replace(b'"', b"") if row.count(b'"') % 2 else row for row in lines)
    if layout.delimiter == " ":
        piece = re.sub(rb"(?m)^ +| +$", b"", re.sub(rb" +", b" ", piece))
    return piece


def read_table(file: TextFile, layout: Layout) -> TextTable:
    """Read every column of a wide text log.

    Raises
    ------
    CannotRead
        The table would not fit into memory, or reading fails.
    """
    width = len(layout.headers)
    kinds = list(layout.kinds)
    notes: list[str] = []
    order = date_order(
        [row[index] for row in layout.sample for index in range(min(width, len(row))) if kinds[index] == "clock"]
    )
    numbers = [NumberCells(layout.decimal) for _ in range(width)]
    faults: list[tuple[int, Unreadable | None]] = [(0, None)] * width
    store = _store(file, layout)
    for frame in frames(file, layout, kinds, notes):
        parts = []
        for index, kind in enumerate(kinds):
            cells = frame.cells.to_series(index)
            if cells.dtype == pl.Float64:
                parts.append([chunk.to_numpy() for chunk in cells.get_chunks()])
            elif kind == "clock":
                values = clock_seconds(cells, order)
                faults[index] = _clock_faults(faults[index], cells, values, frame)
                parts.append([values])
            else:
                parts.append([_mixed(numbers[index], cells, frame, kinds, index)])
        store.add(parts, frame.cells.height)
    columns = []
    for index, header in enumerate(layout.headers):
        count, first = faults[index] if kinds[index] == "clock" else (numbers[index].unreadable, numbers[index].first)
        values, rows = store.column(index)
        columns.append(
            TextColumn(
                header=header,
                unit=layout.units[index],
                kind=kinds[index],
                values=values,
                rows=rows,
                suffix=numbers[index].suffix,
                unreadable=count,
                first_unreadable=None if first is None else (first.line, first.text),
            )
        )
    return TextTable(tuple(columns), store.rows, tuple(notes))


def _store(file: TextFile, layout: Layout) -> ColumnStore:
    """Room for what the sample of lines promises."""
    sparse = [_mostly_blank(layout, index) for index in range(len(layout.headers))]
    step = 2 if file.encoding.startswith("utf-16") else 1
    rows = int(1.1 * file.size / step / layout.line_length) + 1000
    needed = rows * 8 * (sparse.count(False) + 0.5 * sparse.count(True))
    where = str(file.path)
    require_memory(int(needed) + 12 * PIECE, where)
    try:
        return ColumnStore(rows, sparse)
    except MemoryError:
        raise CannotRead(
            f"the log needs about {needed / 1e9:.1f} GB of memory, more than there is",
            where=where,
            advice="Export a part of it (the minutes with the pulls, or fewer channels).",
        ) from None


def _mostly_blank(layout: Layout, index: int) -> bool:
    """Whether a column of numbers is blank in most rows of the sample; what may tell the time is kept whole."""
    if layout.kinds[index] != "number" or any(
        found.channel == "time" for found in meanings(understand(layout.headers[index], layout.units[index]))
    ):
        return False
    blanks = sum(index >= len(row) or not row[index].strip() for row in layout.sample)
    return blanks > 0.6 * len(layout.sample)


def _mixed(cells: NumberCells, text: pl.Series, frame: Frame, kinds: list[Kind], index: int) -> Array:
    before = cells.unreadable, cells.suffix
    values = cells.read(text, frame.line)
    if kinds[index] == "number" and before != (cells.unreadable, cells.suffix):
        kinds[index] = "mixed"
    return values


def _clock_faults(
    before: tuple[int, Unreadable | None], cells: pl.Series, values: Array, frame: Frame
) -> tuple[int, Unreadable | None]:
    wrong = np.flatnonzero(np.isnan(values) & cells.is_not_null().to_numpy())
    if not wrong.size:
        return before
    first = before[1] or Unreadable(frame.line(int(wrong[0])), str(cells[int(wrong[0])]))
    return before[0] + wrong.size, first
