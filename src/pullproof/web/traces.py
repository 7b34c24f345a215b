"""Traces of a log for its page: the samples that were really taken, as a picture of some hundred columns needs them.

They travel as little-endian numbers, one block a channel: how many points, and whether these are fewer than there are
samples (1) or all of them (0), both 32-bit whole numbers; then their times after the start of the window [s], and their
values in the channel's unit, both 32-bit floating point, NaN for a gap.
"""

import struct
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import CHANNELS
from pullproof.library import Library
from pullproof.library.readings import log_of
from pullproof.library.schema import LogRow
from pullproof.reading.log import Log
from pullproof.report.wording import channel_name, unit_text
from pullproof.timebase import gaps, new_samples
from pullproof.web.decimation import decimate, with_gaps

__all__ = ["Offered", "Shown", "offered", "packed", "shown", "usual_choice"]

USUAL = (
    "engine_speed",
    "pedal_position",
    "throttle_position",
    "charge_pressure",
    "manifold_pressure",
    "wastegate_duty",
    "vehicle_speed",
)
"""What somebody who looks for pulls wants to see first."""

MOST_COLUMNS = 8_000


@dataclass(frozen=True, slots=True)
class Offered:
    """A channel that can be drawn, in words."""

    name: str
    label: str
    unit: str


@dataclass(frozen=True, slots=True)
class Shown:
    """One channel ready to be cut and thinned out: its own samples in order of time, and the holes between them."""

    time: Array
    values: Array
    holes: Array


def offered(log: Log) -> list[Offered]:
    """Channels of a log: those we know in our own order, then the others under their own names."""
    known = [name for name in CHANNELS if name in log.traces]
    others = sorted((name for name in log.traces if name not in CHANNELS), key=str.casefold)
    return [
        Offered(name, channel_name(name), unit_text(log.traces[name].unit, name))
        for name in (*known, *others)
        if name != "time"
    ]


def usual_choice(log: Log) -> list[str]:
    """Channels to begin with: four at most, so that they fit the window."""
    there = [name for name in USUAL if name in log.traces]
    if "charge_pressure" in there and "manifold_pressure" in there:
        there.remove("manifold_pressure")
    if "pedal_position" in there and "throttle_position" in there:
        there.remove("throttle_position")
    return there[:4] or [channel.name for channel in offered(log)[:3]]


def shown(library: Library, row: LogRow, channel: str) -> Shown | None:
    """A channel of a log; None where the log has no such channel. Kept in memory for the next window."""
    log = log_of(library, row.id)
    if channel not in log.traces:
        return None

    def make() -> Shown:
        trace = log.traces[channel]
        samples = new_samples(trace)
        order = np.argsort(samples.time, kind="stable")
        return Shown(samples.time[order], samples.values[order], gaps(trace, log.restarts))

    kept: Shown = library.memory.get(
        ("shown", row.hash, row.reading_key, channel), make, lambda one: one.time.nbytes + one.values.nbytes
    )
    return kept


def packed(channels: Sequence[Shown], start: float, end: float, columns: int) -> bytes:
    """What the browser draws: `channels` from `start` to `end` [s] for a picture `columns` wide."""
    parts = []
    for one in channels:
        there = np.count_nonzero((one.time >= start) & (one.time <= end))
        time, values = decimate(one.time, one.values, start, end, min(max(columns, 1), MOST_COLUMNS))
        thinned = time.size < there
        time, values = with_gaps(time, values, one.holes)
        parts.append(struct.pack("<II", time.size, int(thinned)))
        parts.append((time - start).astype("<f4").tobytes())
        parts.append(values.astype("<f4").tobytes())
    return b"".join(parts)
