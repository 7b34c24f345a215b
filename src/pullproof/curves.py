"""Every channel of a pull over engine speed, alike for slow and fast loggers.

A sample of a channel belongs to the engine speed at its own instant. So engine speed is first made a smooth, rising
function of time (`Revs`): its own samples are noisy, in whole rpm, and taken at other instants than the channel's.
Then the channel is smoothed over engine speed by local parabolas that reach a tenth of the engine speed to either
side. That reach is the same at 5 Hz and at 50 Hz; it widens only where fewer than four samples lie in it, as at
3 Hz in second gear. Held samples are gone before (`timebase.new_samples`), so hold adds no lag.

Only samples within the pull are used: full load ends in a step, and smoothing across it would bend the curve. At
both ends the parabolas look to one side; from the last sample to the end of the pull the curve stays level.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from pullproof.arrays import Array
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.stats.local_linear import local_polynomial, width_for_points
from pullproof.timebase import cut, value_at

__all__ = ["Revs", "curve", "revs", "rpm_grid", "samples_over_rpm", "smoothed"]

# Reach of the smoothing, either side: over time for engine speed [s], over its logarithm for the channels.
_REVS_REACH_S = 0.4
_REACH = 0.1
# Samples that a parabola needs within reach, so that one of them can be wrong.
_POINTS = 4
# Spacing of the table that engine speed is kept in [s].
_STEP_S = 0.05
# Samples this near [s] to the ends of the pull speak for the ends.
_NEAR_END_S = 0.03


@dataclass(frozen=True, slots=True)
class Revs:
    """Engine speed as a smooth, never falling function of time; both (m,)."""

    time: Array
    """[s]"""
    rpm: Array
    """[rpm]"""

    def at(self, time: Array) -> Array:
        """Engine speed at instants within the pull, NaN outside. [rpm]"""
        return np.interp(time, self.time, self.rpm, left=np.nan, right=np.nan)

    def when(self, rpm: Array) -> Array:
        """First instant at which an engine speed is reached, NaN where it never is. [s]"""
        rising = np.concatenate(([True], np.diff(self.rpm) > 0))
        return np.interp(rpm, self.rpm[rising], self.time[rising], left=np.nan, right=np.nan)


def rpm_grid(low: float, high: float, step: float = 50.0) -> Array:
    """Engine speeds from `low` to `high` [rpm], both included, about `step` apart.

    Raises
    ------
    ValueError
        `high` is not above `low`, or the step is not positive.
    """
    if not (high > low and step > 0):
        raise ValueError(f"no grid from {low} to {high} in steps of {step}")
    return np.linspace(low, high, max(1, round((high - low) / step)) + 1)


@lru_cache(maxsize=64)
def revs(record: PullRecord) -> Revs:
    """Engine speed through a pull; kept for the next measure of the same record, since each of them begins with it.

    Raises
    ------
    CannotAnswer
        Fewer than four samples of engine speed lie in the pull.
    """
    start, end = record.pull.start_s, record.pull.end_s
    engine = record.traces.get("engine_speed")
    if engine is None:
        raise CannotAnswer("no engine speed in the log")
    part = cut(engine, start, end)
    known = np.isfinite(part.values)
    time, rpm = part.time[known], part.values[known]
    if time.size < _POINTS:
        raise CannotAnswer(f"only {time.size} samples of engine speed in the pull")
    # Samples just outside tell where the ends are: engine speed goes on steadily there, if not its slope.
    outer = np.array([at for at in (start, end) if np.min(np.abs(time - at)) > _NEAR_END_S])
    ends = value_at(engine, outer)
    time, rpm = np.append(time, outer[np.isfinite(ends)]), np.append(rpm, ends[np.isfinite(ends)])
    grid = np.linspace(time.min(), time.max(), max(8, round(float(np.ptp(time)) / _STEP_S)))
    fit = local_polynomial(time, rpm, grid, width_for_points(time, grid, _REVS_REACH_S, _POINTS))
    return Revs(grid, np.maximum.accumulate(fit.value))


def samples_over_rpm(record: PullRecord, channel: str, turning: Revs) -> tuple[Array, Array, Array]:
    """Own samples of a channel within the pull: engine speed [rpm], value [its unit], time [s]; each (n,).

    Raises
    ------
    CannotAnswer
        The channel is missing; the reason is the record's, where it tells one.
    """
    trace = record.traces.get(channel)
    if trace is None:
        reason = record.left_out.get(channel)
        raise CannotAnswer(reason or f"no {channel.replace('_', ' ')} in the log")
    order = np.argsort(trace.time, kind="stable")
    time, values = trace.time[order], trace.values[order]
    inside = (time >= turning.time[0]) & (time <= turning.time[-1]) & np.isfinite(values)
    time = time[inside]
    return turning.at(time), values[inside], time


def smoothed(record: PullRecord, channel: str, rpm: Array, turning: Revs) -> Array:
    """As `curve`, for callers that hold the engine speed already: `turning` is `revs(record)`."""
    if turning is not revs(record):
        return _smoothed(record, channel, rpm, turning)
    return _kept(record, channel, np.asarray(rpm, dtype=np.float64).tobytes()).copy()


# One comparison after another, with a pull more or less, reads the same curves again; so do the measures of one.
@lru_cache(maxsize=512)
def _kept(record: PullRecord, channel: str, rpm: bytes) -> Array:
    return _smoothed(record, channel, np.frombuffer(rpm), revs(record))


def _smoothed(record: PullRecord, channel: str, rpm: Array, turning: Revs) -> Array:
    at, values, _ = samples_over_rpm(record, channel, turning)
    if values.size < _POINTS:
        raise CannotAnswer(f"only {values.size} samples of {channel.replace('_', ' ')} in the pull")
    within = (rpm >= turning.rpm[0]) & (rpm <= turning.rpm[-1])
    place = np.log(np.clip(rpm[within], at.min(), at.max()))
    reach = width_for_points(np.log(at), place, _REACH, _POINTS)
    answer = np.full(rpm.shape, np.nan)
    answer[within] = local_polynomial(np.log(at), values, place, reach).value
    return answer


def curve(record: PullRecord, channel: str, rpm: Array) -> Array:
    """A channel over engine speed.

    Parameters
    ----------
    record : PullRecord
        The pull.
    channel : str
        Canonical name, or the column's own header.
    rpm : (m,)
        Engine speeds. [rpm]

    Returns
    -------
    (m,)
        Values, NaN outside the pull. [unit of the channel]

    Raises
    ------
    CannotAnswer
        The log lacks the channel, or fewer than four of its samples lie in the pull.
    """
    return smoothed(record, channel, np.asarray(rpm, dtype=np.float64), revs(record))
