"""Fewer points than samples without losing a peak: for a picture that is some hundred columns wide."""

import numpy as np

from pullproof.arrays import Array

__all__ = ["decimate", "with_gaps"]


def decimate(time: Array, values: Array, start: float, end: float, columns: int) -> tuple[Array, Array]:
    """The lowest and the highest sample of each column of a picture, at their own instants.

    Parameters
    ----------
    time : (n,)
        Never falling. [s]
    values : (n,)
        NaN where nothing was recorded. [any unit]
    start, end : float
        What the picture shows. [s] One sample beyond each end is kept, so that a line leaves the picture.
    columns : int
        Width of the picture. [1] Where there are no more than four samples a column, all of them are given.

    Returns
    -------
    (m,), (m,)
        Time [s] and values, m at most 2 `columns` + 4, or 4 `columns` + 2 where all are given.

    Within the range the least and the greatest value are those of the samples, and no point is invented.
    """
    first = max(0, int(np.searchsorted(time, start, "left")) - 1)
    last = min(time.size, int(np.searchsorted(time, end, "right")) + 1)
    time, values = time[first:last], values[first:last]
    count = time.size
    if count <= 4 * columns + 2:
        return time, values
    size = -(-count // columns)
    whole = count // size * size
    low = np.where(np.isnan(values), np.inf, values)[:whole].reshape(-1, size).argmin(axis=1)
    high = np.where(np.isnan(values), -np.inf, values)[:whole].reshape(-1, size).argmax(axis=1)
    offset = np.arange(0, whole, size)
    kept = [offset + low, offset + high, [0, count - 1]]
    if whole < count:
        rest = values[whole:]
        if not np.isnan(rest).all():
            kept.append([whole + int(np.nanargmin(rest)), whole + int(np.nanargmax(rest))])
    chosen = np.unique(np.concatenate(kept).astype(np.intp))
    return time[chosen], values[chosen]


def with_gaps(time: Array, values: Array, holes: Array) -> tuple[Array, Array]:
    """Put a NaN into each hole of the record, so that no line is drawn across it.

    Parameters
    ----------
    time, values : (m,)
        What is drawn; time in order. [s], [any unit]
    holes : (k, 2)
        Last instant before and first instant after each hole. [s]
    """
    if not holes.size or not time.size:
        return time, values
    middle = holes.mean(axis=1)
    middle = middle[(middle > time[0]) & (middle < time[-1])]
    at = np.searchsorted(time, middle)
    return np.insert(time, at, middle), np.insert(values, at, np.nan)
