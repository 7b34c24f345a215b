"""A column of text cells as numbers, with every cell counted that holds something else."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import polars as pl

from pullproof.arrays import Array
from pullproof.reading.cell_text import BLANK, NUMBER

__all__ = ["NumberCells", "Unreadable"]

_SUFFIXED = rf"^({NUMBER})\s?([^\s\d.,:;+\-\"'|][^\s\d:;\"|]*)$"
_GROUPED = {".": r"^[+-]?\d{1,3}(?:,\d{3})+(?:\.\d+)?$", ",": r"^[+-]?\d{1,3}(?:\.\d{3})+,\d+$"}
"""Numbers whose thousands are marked, by decimal sign."""


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A cell that is not a value of its column: its line in the file, and its text."""

    line: int
    text: str


@dataclass(slots=True)
class NumberCells:
    """Reads cells of one column as numbers, piece after piece.

    A unit glued to the numbers (`2124RPM`) is learned from the first piece that mostly holds it, and kept in
    `suffix`. `unreadable` counts what is neither a number nor a word for "no value"; `first` is the first such cell.
    """

    decimal: str
    suffix: str = ""
    unreadable: int = 0
    first: Unreadable | None = None

    def read(self, cells: pl.Series, line: Callable[[int], int]) -> Array:
        """Numbers of one piece, NaN where there is none.

        Parameters
        ----------
        cells : (n,) text
            Cells as they stand in the file.
        line : function
            Line of the file in which the cell of a row stands, for messages.

        Returns
        -------
        (n,)
            Values. [unit of the file]
        """
        text = cells.str.strip_suffix(self.suffix) if self.suffix else cells
        if self.decimal == ",":
            text = text.str.replace(",", ".", literal=True)
        values = text.cast(pl.Float64, strict=False)
        numbers = np.array(values.to_numpy(), dtype=np.float64)
        left = np.flatnonzero((cells.is_not_null() & values.is_null()).to_numpy())
        if left.size:
            self._read_left(cells.gather(left), numbers, left, line)
        numbers[np.isinf(numbers)] = np.nan
        return numbers

    def _read_left(self, cells: pl.Series, numbers: Array, rows: np.ndarray, line: Callable[[int], int]) -> None:
        """What is no plain number: blanks around it, a unit glued on, thousands marked, a word for nothing, or text."""
        text = cells.str.strip_chars(" \t\r\u00a0\"'")
        parts = text.str.extract_groups(_SUFFIXED)
        number, suffix = (parts.struct.field(name) for name in parts.struct.fields)
        if not self.suffix:
            common = suffix.drop_nulls().value_counts(sort=True)
            plain = np.count_nonzero(~np.isnan(numbers))
            if common.height and common["count"][0] >= 0.5 * (plain + len(text)):
                self.suffix = str(common[0, 0])
        bare = pl.select(
            pl.when(suffix == self.suffix)
            .then(number)
            .when(text.str.contains(_GROUPED[self.decimal]))
            .then(self._ungrouped(text))
            .otherwise(text)
        ).to_series()
        if self.decimal == ",":
            bare = bare.str.replace(",", ".", literal=True)
        values = bare.cast(pl.Float64, strict=False)
        numbers[rows] = values.to_numpy()
        wrong = np.flatnonzero((values.is_null() & ~text.str.to_lowercase().is_in(list(BLANK))).to_numpy())
        self.unreadable += wrong.size
        if wrong.size and self.first is None:
            self.first = Unreadable(line(int(rows[wrong[0]])), str(cells[int(wrong[0])]))

    def _ungrouped(self, text: pl.Series) -> pl.Series:
        return text.str.replace_all("," if self.decimal == "." else ".", "", literal=True)
