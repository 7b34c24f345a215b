"""The time base: when each channel was really sampled, and what it read at other instants.

A logger that asks one channel after another writes a row for every answer and repeats, or leaves blank, all the
other columns. A repeated value is no measurement: it lags by half its own interval on average, and a slope
taken through it is a staircase. So everything above works on a channel's own samples (`new_samples`) and
interpolates between those (`value_at`), never across a hole in the record or a restart of the logger's clock.

Between being held and being constant there is a difference that one value cannot show: a duty that is pinned at
100 is sampled as often as ever. A channel therefore keeps the rate that it shows while it moves.
"""

import dataclasses

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.reading.updates import new_sample_mask, update_period

__all__ = ["cut", "gaps", "new_samples", "rate_hz", "typical_interval", "value_at"]

# A hole in the record is much longer than what the logger does all the time; anything shorter than half a second
# hides no event of a pull.
_LEAST_GAP_S = 0.5
_GAP_OVER_USUAL = 2.5


def new_samples(trace: Trace) -> Trace:
    """The samples that the logger really took: held and blank rows left out.

    Parameters
    ----------
    trace : Trace
        As read, (n,).

    Returns
    -------
    Trace
        Fewer or as many samples, (k,), double precision, each finite.
    """
    known = np.isfinite(trace.values)
    period = update_period(trace.time, trace.values)
    # A channel that hardly ever moves does not tell its rate. Then every row counts: a repeated row between two
    # equal ones adds nothing, but a pedal held down must not read as a ramp from one change to the next.
    mask = known if period is None else known & new_sample_mask(trace.time, trace.values, period)
    return dataclasses.replace(
        trace,
        time=np.asarray(trace.time[mask], dtype=np.float64),
        values=np.asarray(trace.values[mask], dtype=np.float64),
    )


def typical_interval(samples: Trace) -> float:
    """Median time between the samples of a trace of new samples [s]; infinite with fewer than two."""
    steps = np.diff(samples.time)
    steps = steps[steps > 0]
    return float(np.median(steps)) if steps.size else float("inf")


def rate_hz(trace: Trace) -> float | None:
    """How often the channel was really sampled [1/s]; None with fewer than two samples."""
    interval = typical_interval(new_samples(trace))
    return 1.0 / interval if np.isfinite(interval) else None


def gaps(trace: Trace, restarts: tuple[float, ...] = ()) -> Array:
    """Holes in the record of a channel: much longer without a row than this logger usually is.

    Parameters
    ----------
    trace : Trace
        As read, (n,): a held row is a row, so a constant signal makes no hole.
    restarts : tuple of float
        Instants at which the logger began anew; the interval around each counts, however short. [s]

    Returns
    -------
    (k, 2)
        Last instant before and first instant after each hole, in order. [s]
    """
    time = trace.time[np.isfinite(trace.values)]
    if time.size < 2:
        return np.empty((0, 2))
    steps = np.diff(time)
    moving = steps[steps > 0]
    usual = float(np.percentile(moving, 90)) if moving.size else 0.0
    wide = steps > max(_LEAST_GAP_S, _GAP_OVER_USUAL * usual)
    for restart in restarts:
        after = int(np.searchsorted(time, restart, "left"))
        if 0 < after < time.size:
            wide[after - 1] = True
    return np.column_stack((time[:-1][wide], time[1:][wide])).astype(np.float64)


def value_at(samples: Trace, at: Array, holes: Array | None = None) -> Array:
    """What the channel read at other instants, on straight lines between its own samples.

    Parameters
    ----------
    samples : Trace
        New samples only, (n,).
    at : (m,)
        Instants, in any order. [s]
    holes : (k, 2), optional
        Intervals across which nothing is interpolated, in order, see `gaps`. [s]

    Returns
    -------
    (m,)
        NaN before the first sample, after the last, and inside a hole. [unit of the trace]
    """
    at = np.asarray(at, dtype=np.float64)
    if samples.time.size == 0:
        return np.full(at.shape, np.nan)
    value = np.interp(at, samples.time, samples.values, left=np.nan, right=np.nan)
    if holes is not None and holes.size:
        latest = np.searchsorted(holes[:, 0], at, "left") - 1  # the last hole that begins before
        value[(latest >= 0) & (at < holes[latest, 1])] = np.nan
    return value


def cut(trace: Trace, start: float, end: float) -> Trace:
    """The part of a trace from `start` to `end` [s], both included, in double precision."""
    part = slice(np.searchsorted(trace.time, start, "left"), np.searchsorted(trace.time, end, "right"))
    return dataclasses.replace(
        trace,
        time=np.array(trace.time[part], dtype=np.float64),
        values=np.array(trace.values[part], dtype=np.float64),
    )
