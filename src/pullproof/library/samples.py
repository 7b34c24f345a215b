"""The traces of a log as one Parquet file, and back again, exactly.

Channels of one log may have clocks of their own. Each distinct clock is a column (`time 0`, `time 1`, ...), each
channel a column (`0 engine_speed`, ...), all padded with nulls to the longest, which costs next to nothing. Which
channel goes with which clock, and everything else that the reader found, stands as JSON in the file's own metadata.
A blank cell is NaN, which Parquet keeps apart from null.
"""

import dataclasses
import json
from collections.abc import Mapping
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np
import polars as pl

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.library.durable import move_durably, temporary_file
from pullproof.library.files import Kept, hash_file
from pullproof.reading.log import Column, Log

__all__ = ["UNREADABLE_SAMPLES", "read_samples", "write_samples"]

FORMAT = "pullproof.samples/1"
_KEY = "pullproof"

UNREADABLE_SAMPLES = (ValueError, KeyError, OSError, pl.exceptions.PolarsError)
"""What `read_samples` raises of a file that is not there, damaged, or of another format."""


def write_samples(folder: Path, log: Log, path: Path) -> Kept:
    """Write a log's samples to their place in the library; on the disk when this returns."""
    clocks: list[Array] = []
    which: dict[bytes, int] = {}
    channels = []
    for trace in log.traces.values():
        time = np.ascontiguousarray(trace.time, dtype=np.float64)
        clock = which.setdefault(time.tobytes(), len(clocks))
        if clock == len(clocks):
            clocks.append(time)
        channels.append({"clock": clock, "channel": trace.channel, "unit": trace.unit})
    longest = max((clock.size for clock in clocks), default=0)
    columns = [_padded(f"time {place}", clock, longest) for place, clock in enumerate(clocks)]
    columns += [
        _padded(f"{place} {name}", trace.values, longest) for place, (name, trace) in enumerate(log.traces.items())
    ]
    said = {
        "format": FORMAT,
        "names": list(log.traces),
        "channels": channels,
        "sizes": [int(clock.size) for clock in clocks],
        "log": _described(log),
    }
    with temporary_file(folder / "incoming", ".parquet") as (temporary, file):
        pl.DataFrame(columns).write_parquet(
            file, compression="zstd", statistics=False, metadata={_KEY: json.dumps(said)}
        )
    kept = hash_file(temporary)
    move_durably(temporary, path)
    return kept


def read_samples(path: Path) -> Log:
    """The log as it was read.

    Raises
    ------
    UNREADABLE_SAMPLES
        The file is not there, damaged, or of another format; the samples can be made again from the original.
    """
    said = json.loads(pl.read_parquet_metadata(path).get(_KEY, "{}"))
    if said.get("format") != FORMAT:
        raise ValueError(f"{path} holds no samples of this format")
    table = pl.read_parquet(path, use_statistics=False)
    clocks = [_numbers(table[f"time {place}"], size) for place, size in enumerate(said["sizes"])]
    traces = {}
    for place, (name, entry) in enumerate(zip(said["names"], said["channels"], strict=True)):
        time = clocks[entry["clock"]]
        traces[name] = Trace(entry["channel"], entry["unit"], time, _numbers(table[f"{place} {name}"], time.size))
    log = said["log"]
    return Log(
        **{key: log[key] for key in ("file", "rows", "duration_s", "encoding", "delimiter", "decimal")},
        columns=tuple(Column(**{**column, "evidence": tuple(column["evidence"])}) for column in log["columns"]),
        traces=MappingProxyType(traces),
        restarts=tuple(log["restarts"]),
        notes=tuple(log["notes"]),
        gauge_reference_kpa=MappingProxyType(log["gauge_reference_kpa"]),
    )


def _described(log: Log) -> Mapping[str, Any]:
    """Everything but the traces, as JSON takes it."""
    said = {field.name: getattr(log, field.name) for field in dataclasses.fields(log) if field.name != "traces"}
    said["columns"] = [dataclasses.asdict(column) for column in log.columns]
    said["gauge_reference_kpa"] = dict(log.gauge_reference_kpa)
    return said


def _padded(name: str, values: Array, size: int) -> pl.Series:
    series = pl.Series(name, np.ascontiguousarray(values, dtype=np.float64), nan_to_null=False)
    return (
        series
        if series.len() == size
        else series.extend(pl.repeat(None, size - series.len(), dtype=pl.Float64, eager=True))
    )


def _numbers(series: pl.Series, size: int) -> Array:
    values: Array = series.slice(0, size).to_numpy(allow_copy=True).copy()
    return values
