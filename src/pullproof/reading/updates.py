"""Which samples of a channel are new: loggers that ask one channel after another repeat the old value in between.

A value that changes is new for certain. Where a channel is busy, its changes come at a steady pace, and that pace is
its own rate; a value that stays the same is counted as new again once per such period, because the logger asked then.
"""

import numpy as np

from pullproof.arrays import Array

__all__ = ["common_period", "new_sample_mask", "update_period"]

_MOST_SAMPLES = 50_000
_FEWEST_CHANGES = 8


def update_period(time: Array, values: Array) -> float | None:
    """Time between two new samples of a channel, or None where its changes do not tell.

    Parameters
    ----------
    time : (n,)
        Rising time. [s]
    values : (n,)
        Recorded values, blanks NaN. [any]

    Returns
    -------
    float or None
        Period [s]: that of the rows that hold a value where the channel changes from row to row, a longer one where
        it changes only at every m-th row. None for a channel that hardly ever changes.
    """
    time, values = _known(*_middle(time, values))
    if values.size < 3:
        return None
    changes = np.flatnonzero(values[1:] != values[:-1]) + 1
    if changes.size < _FEWEST_CHANGES:
        return None
    gaps = np.diff(changes)
    row_period = float(np.median(np.diff(time[: changes[-1] + 1])))
    rows = _held_rows(gaps)
    if rows is None:
        return None
    if rows == 1:
        return row_period if row_period > 0 else _mean_period(time)
    busy = np.diff(time[changes])[gaps < 1.5 * rows]
    return float(np.median(busy))


def _middle(time: Array, values: Array) -> tuple[Array, Array]:
    """The middle of a long record: its pace is that of the whole."""
    start = max(0, (values.size - _MOST_SAMPLES) // 2)
    return time[start : start + _MOST_SAMPLES], values[start : start + _MOST_SAMPLES]


def _known(time: Array, values: Array) -> tuple[Array, Array]:
    blank = np.isnan(values)
    return (time[~blank], values[~blank]) if blank.any() else (time, values)


def _held_rows(gaps: np.ndarray) -> float | None:
    """Rows from one new sample to the next: 1 where values change from row to row, None where nothing is certain."""
    least = float(np.quantile(gaps, 0.1))
    if least < 2:
        return 1.0
    first = gaps[gaps <= 1.5 * least]
    rows = float(np.mean(first))
    near = gaps[gaps < 3.5 * rows] / rows
    regular = np.abs(near - np.round(near)) <= max(0.2, 0.5 / rows)
    busy = first.size >= _FEWEST_CHANGES and first.size >= 0.2 * gaps.size
    return rows if busy and regular.mean() >= 0.8 else None


def _mean_period(time: Array) -> float | None:
    """For clocks so coarse that most steps are zero: duration over samples."""
    return float((time[-1] - time[0]) / (time.size - 1)) or None


def common_period(periods: list[float], row_period: float) -> float | None:
    """The period of channels that cannot tell their own, from those that can.

    Parameters
    ----------
    periods : list
        Periods of the channels of one log that change often enough. [s]
    row_period : float
        Time between two rows. [s]

    Where half of the channels or more are held over several rows, the logger asks one after another, and a channel
    that hardly changes is asked at the same pace. Otherwise a channel may be refreshed with every row.
    """
    if not periods:
        return None
    middle = float(np.median(periods))
    return middle if middle > 1.5 * row_period else row_period


def new_sample_mask(time: Array, values: Array, period: float | None) -> np.ndarray:
    """Which samples are new and which only repeat the one before.

    Parameters
    ----------
    time : (n,)
        Rising time. [s]
    values : (n,)
        Recorded values, blanks NaN. [any]
    period : float or None
        Time between two new samples, see `update_period`. [s] None: only changes count.

    Returns
    -------
    (n,) bool
        True for the first value, for each change, and for a repetition that comes a period or more after the last new
        sample (half a period late, so that a late change is never counted twice). False for blanks.
    """
    mask = np.zeros(values.shape, dtype=bool)
    known = np.flatnonzero(~np.isnan(values))
    if not known.size:
        return mask
    seen, at = values[known], time[known]
    changed = np.concatenate(([True], seen[1:] != seen[:-1]))
    if period is not None and at.size > 1 and period < 1.5 * np.median(np.diff(at)):
        changed[:] = True
    elif period is not None and period > 0:
        since = at - at[np.flatnonzero(changed)][np.cumsum(changed) - 1]
        asked = np.floor(since / period - 0.5)
        again = np.concatenate(([False], (asked[1:] > asked[:-1]) & (asked[1:] >= 1)))
        changed |= again
    mask[known] = changed
    return mask
