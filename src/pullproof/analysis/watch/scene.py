"""One log as the rules look at it: own samples, where full load was, and where one may not look across."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull, find_pulls
from pullproof.pulls.full_load import full_load
from pullproof.reading.log import Log
from pullproof.reading.updates import new_sample_mask
from pullproof.timebase import gaps, new_samples, typical_interval, value_at

__all__ = ["Scene", "Signal", "look_at"]

SETTLED_S = 0.7
"""After full load begins mixture and pressures still follow the foot. Common practice, no source. [s]"""

SHORTEST_LOAD_S = 1.0
"""A stab at the pedal that is shorter says nothing. [s]"""

RUNNING_RPM = 500.0
"""Above it the engine runs by itself. [rpm]"""

AROUND_PULL_S = (0.5, 1.5)
"""Before and after a pull: what happens here belongs to it, because sensors lag. [s]"""

_HELD = 0.7
"""Samples closer together than this share of their column's pace are repeated rows."""


@dataclass(frozen=True, slots=True)
class Signal:
    """What one rule holds against its limit: own samples of a channel, or what follows from them.

    `time` [s], `values` [unit of the limit] and `segment` have the same shape, (n,). Samples of different segments
    are never one event: between them lies a hole in the record, or a time at which the rule does not look.
    """

    channel: str
    time: Array
    values: Array
    segment: NDArray[np.intp]
    doubts: tuple[str, ...] = ()
    detail: str = ""

    def where(self, kept: NDArray[np.bool_]) -> "Signal":
        """The part of it at some of its samples."""
        return Signal(
            self.channel, self.time[kept], self.values[kept], self.segment[kept], self.doubts, self.detail
        )  # fmt: skip


@dataclass(slots=True)
class Scene:
    """One log. `load` are the stretches of full load from when they have settled, (k, 2). [s]"""

    log: Log
    pulls: tuple[Pull, ...]
    load: Array
    redline: float | None
    """By the car sheet, else the highest engine speed of the log. [rpm]"""
    _samples: dict[str, Trace] = field(default_factory=dict)

    def has(self, channel: str) -> bool:
        """Whether the log holds samples of the channel."""
        return channel in self.log.traces and bool(self.samples(channel).time.size)

    def samples(self, channel: str) -> Trace:
        """Own samples of a channel: a held value is none."""
        if channel not in self._samples:
            self._samples[channel] = _own_samples(self.log, channel)
        return self._samples[channel]

    def signal(self, channel: str) -> Signal:
        """A channel as it is."""
        samples = self.samples(channel)
        holes = gaps(self.log.traces[channel], self.log.restarts)
        segment = np.searchsorted(holes[:, 0], samples.time, "left").astype(np.intp)
        return Signal(channel, samples.time, samples.values, segment)

    def at(self, channel: str, time: Array) -> Array:
        """What another channel read at some instants; NaN where it is not there."""
        if not self.has(channel):
            return np.full(time.shape, np.nan)
        return value_at(self.samples(channel), time, gaps(self.log.traces[channel], self.log.restarts))

    def running(self, signal: Signal, above_rpm: float = RUNNING_RPM) -> Signal:
        """The part of a signal in which the engine turns faster than a speed; all of it where that is not logged."""
        if not self.has("engine_speed"):
            return signal
        return signal.where(self.at("engine_speed", signal.time) > above_rpm)

    def at_load(self, signal: Signal) -> Signal:
        """The part of a signal at full load; each stretch is a segment of its own."""
        place = np.searchsorted(self.load[:, 0], signal.time, "right") - 1
        inside = (place >= 0) & (signal.time <= self.load[np.maximum(place, 0), 1]) if len(self.load) else place >= 0
        kept = signal.where(inside)
        count = len(self.load) + 1
        segment = (kept.segment * count + place[inside]).astype(np.intp)
        return Signal(kept.channel, kept.time, kept.values, segment, kept.doubts, kept.detail)

    def pull_at(self, time: float) -> int | None:
        """Number of the pull that an instant belongs to, counted from 1."""
        before, after = AROUND_PULL_S
        for number, pull in enumerate(self.pulls, 1):
            if pull.start_s - before <= time <= pull.end_s + after:
                return number
        return None


def _own_samples(log: Log, channel: str) -> Trace:
    """New samples; of a channel too steady to show its own pace, at the pace that the reader found for its column."""
    samples = new_samples(log.traces[channel])
    pace = next((column.rate_hz for column in log.columns if column.channel == channel and column.rate_hz), None)
    if pace is None or typical_interval(samples) > _HELD / pace:
        return samples
    kept = new_sample_mask(samples.time, samples.values, 1.0 / pace)
    return Trace(samples.channel, samples.unit, samples.time[kept], samples.values[kept])


def look_at(log: Log, car: Car) -> Scene:
    """Gather what the rules need of one log. A log without engine speed has no pulls, and is looked at all the same."""
    try:
        pulls = find_pulls(log, car)
    except CannotAnswer:
        pulls = ()
    shown = full_load(log)
    if shown is not None:
        spans = [(span.start, span.end) for span in shown.spans]
    else:
        spans = [(pull.start_s, pull.end_s) for pull in pulls]
    settled = [(start + SETTLED_S, end) for start, end in spans if end - start >= SHORTEST_LOAD_S]
    redline = car.engine.redline_rpm
    if redline is None and "engine_speed" in log.traces:
        speeds = log.traces["engine_speed"].values
        redline = float(np.max(speeds[np.isfinite(speeds)], initial=0.0)) or None
    return Scene(log, pulls, np.array(settled, dtype=float).reshape(-1, 2), redline)
