"""MDF 4, the measurement file of ASAM, through the `asammdf` library (optional extra `mdf`).

A file that holds decoded channels is read as it is. One that holds raw bus frames needs a database of the frames: a
`.dbc` file with the same name beside it, or the only `.dbc` file in its folder.
"""

import contextlib
import gc
import logging
import sys
import warnings
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING, Any

import numpy as np

from pullproof.errors import CannotRead
from pullproof.reading.columns import Recorded, Recording
from pullproof.reading.memory import require_memory

if TYPE_CHECKING:
    from asammdf import MDF

__all__ = ["read_mdf"]

_FRAMES = ("CAN_DataFrame", "CAN_ErrorFrame", "CAN_RemoteFrame", "CAN_OverloadFrame", "LIN_", "FLX_", "ETH_")


def read_mdf(path: Path) -> Recording:
    """Read an MDF file.

    Raises
    ------
    CannotRead
        `asammdf` is not installed, the file is broken, or it holds frames and there is no database for them.
    """
    library = _library(path)
    require_memory(8 * path.stat().st_size, str(path))
    with _quiet():
        try:
            with library.MDF(path) as file:
                return _recording(path, file)
        except CannotRead:
            raise
        except Exception as error:  # noqa: BLE001  its parser raises whatever it stumbles over
            fault = type(error).__name__
        gc.collect()  # what is left of the library's object complains when it goes; let it go here
    raise CannotRead(
        f"the MDF file is broken ({fault})",
        where=str(path),
        advice="Check that the logger closed the recording, or export it as delimited text (CSV).",
    )


@contextlib.contextmanager
def _quiet() -> Iterator[None]:
    """Keep to ourselves what the library thinks of numpy, and what its half-made objects say when they go."""
    hook = sys.unraisablehook
    sys.unraisablehook = lambda _: None
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            yield
    finally:
        sys.unraisablehook = hook


def _library(path: Path) -> ModuleType:
    try:
        with _quiet():
            import asammdf
    except ImportError as error:
        raise CannotRead(
            "this is an MDF file, and the library that reads it is not installed",
            where=str(path),
            advice="Install it with: pip install 'pullproof[mdf]'. Or export the log as delimited text (CSV).",
        ) from error
    logging.getLogger("asammdf").setLevel(logging.CRITICAL)
    return asammdf


def _recording(path: Path, file: "MDF") -> Recording:
    columns, has_frames = _decoded(file), _has_frames(file)
    notes = []
    if has_frames:
        database = _database(path, needed=not columns)
        if database is not None:
            found = _decoded(file.extract_bus_logging(database_files={"CAN": [(str(database), 0)]}))
            if not found and not columns:
                raise CannotRead(
                    f"it holds raw bus frames, and {database.name} describes none of them",
                    where=str(path),
                    advice="Put the .dbc file that belongs to this car beside it, under the same name.",
                )
            columns += found
            notes.append(f"Bus frames were decoded with {database.name}.")
    if not columns:
        raise CannotRead("the MDF file holds no channels", where=str(path), advice="Check the recording.")
    start = min(float(column.time[0]) for column in columns)
    shifted: dict[int, np.ndarray] = {}
    moved = [
        Recorded(
            column.header,
            column.unit,
            shifted.setdefault(id(column.time), column.time - start),
            column.values,
            column.rows,
        )
        for column in columns
    ]
    return Recording(
        columns=moved,
        clock=(),
        rows=max(column.rows for column in moved),
        restarts=(),
        encoding=f"MDF {file.version}",
        delimiter="",
        decimal="",
        notes=tuple(notes),
        holds_values=False,
    )


def _has_frames(file: "MDF") -> bool:
    return any(channel.name.startswith(_FRAMES) for group in file.groups for channel in group.channels)


def _decoded(file: "MDF") -> list[Recorded]:
    """All channels of numbers, with a time that never decreases; raw frames are left out."""
    columns: list[Recorded] = []
    names: dict[str, int] = {}
    groups: list[Any] = list(file.groups)
    for index, group in enumerate(groups):
        if not group.channel_group.cycles_nr:
            continue
        time = np.asarray(file.get_master(index), dtype=np.float64)
        order = None if time.size < 2 or np.all(np.diff(time) >= 0) else np.argsort(time, kind="stable")
        time = time if order is None else time[order]
        for position, channel in enumerate(group.channels):
            if channel.name.startswith(_FRAMES) or position == file.masters_db.get(index):
                continue
            signal = file.get(group=index, index=position)
            if signal.samples.ndim != 1 or signal.samples.dtype.kind not in "iufb" or signal.samples.size != time.size:
                continue
            values = signal.samples.astype(np.float64)
            values[np.isinf(values)] = np.nan
            if signal.invalidation_bits is not None:
                values[np.asarray(signal.invalidation_bits, dtype=bool)] = np.nan
            seen = names[channel.name] = names.get(channel.name, 0) + 1
            header = channel.name if seen == 1 else f"{channel.name} ({seen})"
            columns.append(
                Recorded(header, signal.unit or "", time, values if order is None else values[order], time.size)
            )
    return columns


def _database(path: Path, *, needed: bool) -> Path | None:
    """The database of the bus frames: the one with the name of the log, or the only one in its folder."""
    beside = sorted(path.parent.glob("*.[dD][bB][cC]"))
    own = [other for other in beside if other.stem == path.stem]
    if own or len(beside) == 1:
        return (own or beside)[0]
    if not needed:
        return None
    many = f" ({len(beside)} .dbc files are beside it)" if beside else ""
    raise CannotRead(
        f"it holds raw bus frames, which mean nothing without a database of them{many}",
        where=str(path),
        advice=f"Put the .dbc file of the car beside it as {path.stem}.dbc, or export decoded channels.",
    )
