"""Columns that grow while a file is read: whole ones in one block, mostly blank ones as the samples that they hold.

A logger that asks one channel after another leaves most cells blank; keeping a number for each of them would take many
times the file's own size.
"""

from collections.abc import Sequence

import numpy as np

from pullproof.arrays import Array

__all__ = ["ColumnStore"]


class ColumnStore:
    """Room for columns of numbers.

    Parameters
    ----------
    rows : int
        Rows that are expected; more are made room for when they come.
    sparse : sequence of bool
        Which columns are kept as samples only.
    """

    def __init__(self, rows: int, sparse: Sequence[bool]) -> None:
        self._places = [None if blank else sparse[:index].count(False) for index, blank in enumerate(sparse)]
        self._room = np.empty((sparse.count(False), rows))
        self._samples: list[tuple[list[np.ndarray], list[Array]]] = [([], []) for _ in sparse]
        self.rows = 0

    def add(self, parts: Sequence[Sequence[Array]], count: int) -> None:
        """Add the rows of one piece: for each column one or more arrays, `count` values together."""
        if self.rows + count > self._room.shape[1]:
            wider = np.empty((self._room.shape[0], int(1.3 * (self.rows + count)) + 1))
            wider[:, : self.rows] = self._room[:, : self.rows]
            self._room = wider
        for index, part in enumerate(parts):
            place, at = self._places[index], self.rows
            for values in part:
                if place is None:
                    known = np.flatnonzero(~np.isnan(values))
                    self._samples[index][0].append((known + at).astype(np.uint32))
                    self._samples[index][1].append(values[known])
                else:
                    self._room[place, at : at + values.size] = values
                at += values.size
        self.rows += count

    def column(self, index: int) -> tuple[Array, np.ndarray | None]:
        """Values of a column, and the rows that they stand in (None: every row). To be asked once."""
        place = self._places[index]
        if place is not None:
            return _finite(self._room[place, : self.rows]), None
        rows, values = self._samples[index]
        self._samples[index] = ([], [])
        if not rows:
            return np.empty(0), np.empty(0, dtype=np.uint32)
        return _finite(np.concatenate(values)), np.concatenate(rows)


def _finite(values: Array) -> Array:
    """The column itself, with blanks where the file says infinite."""
    if not np.isfinite(values.sum()):
        values[np.isinf(values)] = np.nan
    return values
