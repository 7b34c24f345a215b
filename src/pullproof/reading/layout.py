"""How a text log is laid out: delimiter, decimal sign, header rows, unit row, first row of data, kinds of column.

Decided on a sample of lines from the beginning, the middle and the end, so that a long preamble or a channel that
starts late does not mislead.
"""

import csv
import re
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

from pullproof.errors import CannotRead
from pullproof.reading.cell_text import is_blank, is_clock, is_plain_number, is_value
from pullproof.reading.text_file import TextFile
from pullproof.units import parse_unit, repair_text

__all__ = ["Kind", "Layout", "find_layout"]

DELIMITERS = (",", ";", "\t", "|", " ")
MOST_COLUMNS = 5000
_CELLS_LOOKED_AT = 8_000

Kind = Literal["number", "clock", "mixed"]
Rows = Sequence[Sequence[str]]


@dataclass(frozen=True, slots=True)
class Layout:
    """How the text is to be cut into columns.

    `headers` are unique, one a column, as the file spells them; `units` the unit row, blank where there is none.
    `first_line` is the number of the first data line, counted from 1. `quotes` says whether quotes can be dropped
    (`drop`) or protect a delimiter (`keep`). `repeated` are header rows as lists of cells: where a logger restarts
    it writes them again.
    """

    delimiter: str
    decimal: str
    quotes: Literal["none", "drop", "keep"]
    headers: tuple[str, ...]
    units: tuple[str, ...]
    kinds: tuple[Kind, ...]
    first_line: int
    preamble: tuple[str, ...] = ()
    repeated: tuple[tuple[str, ...], ...] = ()
    notes: tuple[str, ...] = ()
    sample: tuple[tuple[str, ...], ...] = ()

    @property
    def line_length(self) -> float:
        """Mean length of a row of data, with its delimiters. [characters]"""
        lengths = [sum(map(len, row)) + len(row) for row in self.sample]
        return max(1.0, sum(lengths) / len(lengths)) if lengths else 1.0


def find_layout(file: TextFile, decimal: str | None = None) -> Layout:
    """Look at a sample of the file and decide.

    Parameters
    ----------
    decimal : "." or "," or None
        The owner's word on the decimal sign; None: decide by the cells.

    Raises
    ------
    CannotRead
        No table of numbers is found, or one with more columns than any logger has.
    """
    head = file.sample(0.0)
    rest = [*file.sample(0.5)[:50], *file.sample(1.0)[-50:]] if file.size > 4 * sum(map(len, head)) // 3 else []
    where = str(file.path)
    _refuse_too_many(head, where)
    delimiter, width = _delimiter([line for line in (*_spread(head, 40), *rest) if line.strip()], where)
    rows = _split(head, delimiter)
    first = _first_data_row(rows, width)
    names, unit_row, header_rows, notes = _header(head, rows, first, width, delimiter)
    data = _thinned([*rows[first:], *_split(rest, delimiter)], width)
    if len(names) < width and any(cell.strip() for row in data for cell in row[len(names) : width]):
        notes.append(f"The header has {len(names)} names and the rows {width} columns, so the names may not fit.")
        names = [*names, *(f"column {number}" for number in range(len(names) + 1, width + 1))]
    columns = [[row[index] for row in data if index < len(row)] for index in range(len(names))]
    sign = decimal or _decimal(data, delimiter)
    return Layout(
        delimiter=delimiter,
        decimal=sign,
        quotes=_quotes([*head[first:], *rest], delimiter),
        headers=_unique(names),
        units=tuple((unit_row[index].strip() if index < len(unit_row) else "") for index in range(len(names))),
        kinds=tuple(_kind(cells, "mixed" if sign == delimiter else "number") for cells in columns),
        first_line=first + 1,
        preamble=tuple(head[: max(0, first - len(header_rows))]),
        repeated=tuple(tuple(cell.strip() for cell in row) for row in header_rows),
        notes=tuple(notes),
        sample=tuple(tuple(row) for row in data[:200]),
    )


def _spread(lines: list[str], count: int) -> list[str]:
    return lines[:count] if len(lines) <= 2 * count else [*lines[:count], *lines[-count:]]


def _thinned(rows: list[list[str]], width: int) -> list[list[str]]:
    """Rows of data, not more cells than are quickly looked at: runs of ten rows, so that no logger's turn is missed."""
    step = 1 + len(rows) * width // _CELLS_LOOKED_AT
    return [row for index, row in enumerate(rows) if index // 10 % step == 0 and _is_data(row)]


def _refuse_too_many(lines: list[str], where: str) -> None:
    widest = max((line.count(sign) for line in lines[:50] for sign in DELIMITERS[:4]), default=0)
    if widest >= MOST_COLUMNS:
        raise CannotRead(
            f"a line holds {widest + 1} columns, and no log has more than {MOST_COLUMNS}",
            where=where,
            advice="Check the file, or export fewer channels.",
        )


def _split(lines: Sequence[str], delimiter: str) -> list[list[str]]:
    """Lines as rows of cells. A stray quote must not swallow the lines after it, so each line is split alone."""
    if delimiter == " ":
        return [re.split(" +", line.strip(" ")) for line in lines]
    rows = []
    for line in lines:
        if '"' in line:
            try:
                rows.append(next(csv.reader([line], delimiter=delimiter), []))
            except csv.Error:
                rows.append(line.split(delimiter))
        else:
            rows.append(line.split(delimiter))
    return rows


def _is_data(row: Sequence[str]) -> bool:
    filled = [cell for cell in row if not is_blank(cell)]
    values = sum(map(is_value, filled))
    return values > 0 and values >= 0.3 * len(filled)


def _delimiter(lines: list[str], where: str) -> tuple[str, int]:
    """The sign that cuts most lines into the same number of cells that hold values, and that number."""
    best: tuple[float, int, str] = (0.0, 0, "")
    for sign in DELIMITERS:
        rows = _split(lines, sign)
        data = [row for row in rows if _is_data(row)]
        if not data:
            continue
        width = Counter(map(len, data)).most_common(1)[0][0]
        if width > 1 and all(len(row) < width or not row[width - 1].strip() for row in data):
            width -= 1  # a delimiter at the end of each line
        if width < 2:
            continue
        cells = [cell for row in data for cell in row if not is_blank(cell)]
        share = sum(map(is_value, cells)) / len(cells)
        fitting = sum(width <= len(row) <= width + 1 for row in data) / len(rows)
        best = max(best, (round(share * fitting, 2), width, sign))
    if best[1]:
        return best[2], best[1]
    if any(is_plain_number(line) for line in lines):
        raise CannotRead(
            "the file holds one column of numbers, without names and without time",
            where=where,
            advice="One file per channel cannot be read alone: log all channels into one file with a time column.",
        )
    raise CannotRead(
        "no table of numbers was found in it",
        where=where,
        advice="Export the log as delimited text (CSV) with one row of names above the numbers.",
    )


def _first_data_row(rows: list[list[str]], width: int) -> int:
    """The first row of values that more of them follow: a line above the table may hold a number too."""
    for index, row in enumerate(rows):
        following = rows[index + 1 : index + 4]
        if not _is_data(row) or sum(map(_is_data, following)) < 0.5 * len(following):
            continue
        if len(row) >= 0.6 * width or _starts_like(row, following, width):
            return index
    return len(rows)


def _starts_like(row: list[str], following: Rows, width: int) -> bool:
    """A short first row (a time alone) belongs to the data where full rows come right after it."""
    return is_clock(row[0]) and any(len(after) >= 0.6 * width and is_clock(after[0]) for after in following)


def _header(
    lines: list[str], rows: list[list[str]], first: int, width: int, delimiter: str
) -> tuple[list[str], list[str], list[list[str]], list[str]]:
    """Names, unit row, all header rows and notes, from the rows above the first row of data."""
    block: list[list[str]] = []
    for index in range(first - 1, max(-1, first - 6), -1):
        row = _without_mark(rows[index])
        if not any(cell.strip() for cell in row):
            if block:
                break
            continue
        if len(row) < max(2, 0.5 * width):
            break
        block.insert(0, row)
    notes: list[str] = []
    if not block and first > 0:
        block, notes = _otherwise_delimited(lines[first - 1], width, delimiter)
    if not block:
        notes = [*notes, "There is no header row: columns are called by their number."]
        return [f"column {number}" for number in range(1, width + 1)], [], [], notes
    unit_row = _unit_row(block)
    names = _name_row(block, unit_row)
    names = [cell.strip() for cell in names]
    while len(names) > width and not names[-1]:
        names.pop()
    return names, unit_row, block, notes


def _without_mark(row: list[str]) -> list[str]:
    """A header row without the sign of a comment before it."""
    return [re.sub(r"^\s*(#|//|%)\s*", "", row[0]), *row[1:]] if row else row


def _otherwise_delimited(line: str, width: int, delimiter: str) -> tuple[list[list[str]], list[str]]:
    for sign in DELIMITERS[:4]:
        cells = _split([line], sign)[0]
        if sign != delimiter and len(cells) > 1:
            told = {"\t": "tab", " ": "space"}
            note = (
                f'The header is cut by "{told.get(sign, sign)}" and the rows by "{told.get(delimiter, delimiter)}"; '
                f"the header has {len(cells)} names and the rows {width} columns, so the names may not fit."
            )
            return [cells[:width]], [note]
    return [], []


def _unit_row(block: list[list[str]]) -> list[str]:
    """The row that holds units: most cells that no other row repeats are units."""
    if len(block) < 2:
        return []
    scores = []
    for row in block:
        others = [other for other in block if other is not row]
        own = [
            cell
            for index, cell in enumerate(row)
            if cell.strip() and not any(index < len(other) and other[index] == cell for other in others)
        ]
        known = sum(parse_unit(cell) is not None for cell in own)
        scores.append(known / len(own) if own else 0.0)
    best = max(scores)
    return block[scores.index(best)] if best >= 0.5 else []


def _name_row(block: list[list[str]], unit_row: list[str]) -> list[str]:
    """The row that says most: longest texts with letters; of equals the one next to the data."""

    def letters(row: list[str]) -> float:
        filled = [cell for cell in row if cell.strip()]
        return sum(sum(map(str.isalpha, repair_text(cell))) for cell in filled) / max(1, len(filled))

    rows = [row for row in block if row is not unit_row]
    widest = max(map(len, rows))
    rows = [row for row in rows if len(row) >= 0.6 * widest]
    return max(reversed(rows), key=lambda row: round(letters(row)))


def _unique(names: list[str]) -> tuple[str, ...]:
    """Each name once: blank ones are numbered, repeated ones get `(2)`, `(3)` after them."""
    seen: Counter[str] = Counter()
    unique: list[str] = []
    for number, name in enumerate(names, 1):
        plain = name or f"column {number}"
        seen[plain] += 1
        unique.append(plain if seen[plain] == 1 else f"{plain} ({seen[plain]})")
    return tuple(unique)


def _decimal(data: Rows, delimiter: str) -> str:
    """The decimal sign. `1,234` alone could be either; it counts as thousands only where points are used too."""
    cells = [cell.strip() for row in data for cell in row]
    points = sum(1 for cell in cells if "." in cell and re.match(r"[+-]?\d*\.\d", cell))
    commas = [cell for cell in cells if re.match(r"[+-]?\d*,\d", cell)]
    thousands = sum(1 for cell in commas if re.fullmatch(r"[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?", cell))
    certain = len(commas) - thousands
    if certain > 0:
        return ","
    return "," if thousands and not points and delimiter != "," else "."


def _quotes(lines: list[str], delimiter: str) -> Literal["none", "drop", "keep"]:
    quoted = [line for line in lines if '"' in line]
    if not quoted:
        return "none"
    if any(delimiter in part for line in quoted[:400] for part in line.split('"')[1::2] if line.count('"') % 2 == 0):
        return "keep"
    return "drop"


def _kind(cells: list[str], number: Kind) -> Kind:
    filled = [cell for cell in cells if not is_blank(cell)]
    if sum(map(is_clock, filled)) > 0.5 * len(filled):
        return "clock"
    return number if all(map(is_plain_number, filled)) else "mixed"
