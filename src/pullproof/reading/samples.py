"""A few thousand instants of a log at which all its columns are looked at side by side.

Recognition needs shapes, not every sample; this keeps it quick on a log of any length.
"""

from collections.abc import Sequence

import numpy as np

from pullproof.arrays import Array
from pullproof.reading.columns import Recorded

__all__ = ["COUNT", "instants", "sampled"]

COUNT = 6000


def instants(columns: Sequence[Recorded]) -> Array:
    """Times [s] at which to look, (COUNT,) at most: rows of the longest column, evenly spread."""
    longest = max((column.time for column in columns), key=lambda time: time.size, default=np.empty(0))
    if longest.size <= COUNT:
        return longest
    return longest[np.linspace(0, longest.size - 1, COUNT).astype(np.intp)]


def sampled(column: Recorded, at: Array, longest: int) -> Array:
    """Values of a column at those instants, the last known one where the cell is blank.

    Parameters
    ----------
    at : (k,)
        Instants. [s]
    longest : int
        Number of samples of the column whose times they are.

    Returns
    -------
    (k,)
        Values [unit of the file]; NaN before the first.
    """
    if not column.values.size or not at.size:
        return np.full(at.shape, np.nan)
    if column.values.size == longest and column.time[-1] == at[-1]:
        rows = np.arange(longest) if longest <= COUNT else np.linspace(0, longest - 1, COUNT).astype(np.intp)
        values = column.values[rows]
        if not np.isnan(values).any():
            return values
    known = np.flatnonzero(~np.isnan(column.values))
    if not known.size:
        return np.full(at.shape, np.nan)
    before = np.searchsorted(column.time[known], at, side="right") - 1
    return np.where(before >= 0, column.values[known[np.maximum(before, 0)]], np.nan)
