"""Recorded pulls on the disk, so that what took a while to compute is there at once the next time.

One file a log, beside the samples: numpy's own archive, whose checksums tell a damaged one. It is a cache of one
state of the car, the conditions and the code (`base`); with any other it counts for nothing and is written anew.
"""

import dataclasses
import hashlib
import json
import zipfile
import zlib
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import Any

import numpy as np

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air, Conditions
from pullproof.library.code import computing_code
from pullproof.library.durable import move_durably, temporary_file
from pullproof.library.schema import LogRow
from pullproof.pulls import Pull
from pullproof.reading.log import Log

__all__ = ["Computed", "base_of", "computed_path", "has_computed", "pull_key", "read_computed", "write_computed"]

_UNREADABLE = (OSError, ValueError, KeyError, TypeError, AttributeError, EOFError, zipfile.BadZipFile, zlib.error)


@dataclass(frozen=True, slots=True)
class Computed:
    """What a recorded pull holds beyond the pull and its log."""

    day: str
    air: Air
    direction: str | None
    traces: Mapping[str, Trace]
    left_out: Mapping[str, str]
    doubts: Mapping[str, str]

    @classmethod
    def of(cls, record: PullRecord) -> "Computed":
        """What is kept of a record."""
        return cls(record.day, record.air, record.direction, record.traces, record.left_out, record.doubts)

    def record(self, pull: Pull, log: Log) -> PullRecord:
        """The record as it was."""
        return PullRecord(pull, log, self.day, self.air, self.direction, self.traces, self.left_out, self.doubts)


def computed_path(folder: Path, log_id: int) -> Path:
    """Where the recorded pulls of a log lie."""
    return folder / "computed" / f"{log_id}.npz"


def base_of(row: LogRow, car: Car, said: Conditions) -> str:
    """Fingerprint of all that the recorded pulls of a log depend on, but the pulls themselves."""
    return _digest(computing_code(), row.hash, row.reading_key, row.name, car, said)


def pull_key(pull: Pull) -> str:
    """What a recorded pull is kept under."""
    return _digest(pull)


def read_computed(path: Path, base: str) -> dict[str, Computed]:
    """Recorded pulls by `pull_key`; none where the file is not there, damaged, or of another state."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            said = json.loads(archive["about"].tobytes())
            if said["base"] != base:
                return {}
            return {key: _unpacked(place, entry, archive) for place, (key, entry) in enumerate(said["pulls"].items())}
    except _UNREADABLE:
        return {}


def has_computed(path: Path, base: str) -> bool:
    """Whether recorded pulls of this state are there; whether all of them are, only reading tells."""
    try:
        with path.open("rb") as file, np.load(file, allow_pickle=False) as archive:
            return bool(json.loads(archive["about"].tobytes())["base"] == base)
    except _UNREADABLE:
        return False


def write_computed(folder: Path, path: Path, base: str, pulls: Mapping[str, Computed]) -> None:
    """Keep recorded pulls; a library that cannot be written goes without."""
    arrays: dict[str, Any] = {}
    said: dict[str, Any] = {"base": base, "pulls": {}}
    for place, (key, computed) in enumerate(pulls.items()):
        said["pulls"][key] = {
            "day": computed.day,
            "air": {**_fields(computed.air), "origin": dict(computed.air.origin)},
            "direction": computed.direction,
            "traces": [[name, trace.channel, trace.unit] for name, trace in computed.traces.items()],
            "left_out": dict(computed.left_out),
            "doubts": dict(computed.doubts),
        }
        for number, trace in enumerate(computed.traces.values()):
            arrays[f"{place}.{number}.time"], arrays[f"{place}.{number}.values"] = trace.time, trace.values
    arrays["about"] = np.frombuffer(json.dumps(said).encode(), dtype=np.uint8)
    with suppress(OSError):
        with temporary_file(folder / "incoming", ".npz") as (temporary, file):
            np.savez_compressed(file, **arrays)
        move_durably(temporary, path)


def _unpacked(place: int, entry: dict[str, Any], archive: Mapping[str, Any]) -> Computed:
    traces = {
        name: Trace(channel, unit, archive[f"{place}.{number}.time"], archive[f"{place}.{number}.values"])
        for number, (name, channel, unit) in enumerate(entry["traces"])
    }
    air = {**entry["air"], "origin": MappingProxyType(entry["air"]["origin"])}
    return Computed(
        day=entry["day"],
        air=Air(**air),
        direction=entry["direction"],
        traces=MappingProxyType(traces),
        left_out=MappingProxyType(entry["left_out"]),
        doubts=MappingProxyType(entry["doubts"]),
    )


def _fields(air: Air) -> dict[str, float | None]:
    return {field.name: getattr(air, field.name) for field in dataclasses.fields(air) if field.name != "origin"}


def _digest(*said: object) -> str:
    return hashlib.sha256(repr(said).encode()).hexdigest()
