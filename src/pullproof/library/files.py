"""Files that are named by what is in them: originals byte for byte, and the samples that were read from them.

A file is copied beside its place, flushed to the disk, and renamed into it; the row that names it is committed after
that. So whatever a row names is there, whole, and what a crash leaves over is a file that no row names.
"""

import hashlib
import io
import shutil
import tempfile
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO

from pullproof.errors import CannotRead
from pullproof.library.durable import move_durably, temporary_file

__all__ = [
    "Kept",
    "arranged",
    "clear_incoming",
    "hash_file",
    "keep_bytes",
    "keep_file",
    "original_path",
    "received",
    "samples_path",
    "settle",
]

_PIECE = 1 << 20
_LEFT_OVER_S = 24 * 3600.0
"""Age after which nobody can still be writing a file in incoming/. [s]"""


@dataclass(frozen=True, slots=True)
class Kept:
    """A file in the library: SHA-256 of its content, and its size in bytes."""

    hash: str
    size: int


def original_path(folder: Path, digest: str) -> Path:
    """Where an original lies."""
    return folder / "originals" / digest[:2] / digest[2:]


def samples_path(folder: Path, digest: str, reading_key: str) -> Path:
    """Where the samples lie that one reading (`readings.reading_key`) made of the original with this hash."""
    return folder / "samples" / digest[:2] / f"{digest[2:]}-{reading_key[:16]}.parquet"


def hash_file(path: Path) -> Kept:
    """Hash and size of a file.

    Raises
    ------
    CannotRead
        It cannot be read.
    """
    try:
        with path.open("rb") as file:
            digest = hashlib.file_digest(file, "sha256")
            return Kept(digest.hexdigest(), file.tell())
    except OSError as error:
        raise _unreadable(path, error) from error


@contextmanager
def received(folder: Path, source: Path) -> Iterator[tuple[Path, Kept]]:
    """A flushed copy of a file in incoming/, gone after the block unless `settle` made it an original.

    Raises
    ------
    CannotRead
        The source cannot be read.
    """
    try:
        file = source.open("rb")
    except OSError as error:
        raise _unreadable(source, error) from error
    with file:
        temporary, kept = _copy(folder, file, source)
    try:
        yield temporary, kept
    finally:
        temporary.unlink(missing_ok=True)


def settle(folder: Path, temporary: Path, kept: Kept) -> None:
    """Make a received file an original; it is on the disk when this returns.

    It goes over an older copy as well, because that one may have been damaged since.
    """
    move_durably(temporary, original_path(folder, kept.hash))


def keep_file(folder: Path, source: Path) -> Kept:
    """Copy a file into the originals; it is on the disk when this returns.

    Raises
    ------
    CannotRead
        The source cannot be read.
    """
    with received(folder, source) as (temporary, kept):
        settle(folder, temporary, kept)
    return kept


def keep_bytes(folder: Path, content: bytes) -> Kept:
    """Put what is at hand into the originals, such as a photo that was sent; on the disk when this returns."""
    temporary, kept = _copy(folder, io.BytesIO(content), None)
    settle(folder, temporary, kept)
    return kept


def _copy(folder: Path, file: BinaryIO, source: Path | None) -> tuple[Path, Kept]:
    digest, size = hashlib.sha256(), 0
    with temporary_file(folder / "incoming") as (temporary, target):
        while piece := _piece(file, source):
            digest.update(piece)
            size += len(piece)
            target.write(piece)
    return temporary, Kept(digest.hexdigest(), size)


def _piece(file: BinaryIO, source: Path | None) -> bytes:
    try:
        return file.read(_PIECE)
    except OSError as error:
        raise _unreadable(source or Path(), error) from error


@contextmanager
def arranged(folder: Path, main: Path, name: str, companions: dict[str, str]) -> Iterator[Path]:
    """The original under a name of its own kind, with the files beside it that it needs (name to hash).

    Most logs need none and are read where they lie.
    """
    if not companions:
        yield main
        return
    with tempfile.TemporaryDirectory(prefix="new-", dir=folder / "incoming") as place:
        target = Path(place) / name
        _link(main, target)
        for companion, digest in companions.items():
            _link(original_path(folder, digest), Path(place) / companion)
        yield target


def _link(source: Path, target: Path) -> None:
    try:
        target.hardlink_to(source)
    except OSError:  # a file system without links
        target.write_bytes(source.read_bytes())


def clear_incoming(folder: Path) -> None:
    """Remove what interrupted imports left behind, once it is so old that nobody can still be writing it."""
    for left in (folder / "incoming").iterdir():
        if time.time() - left.stat().st_mtime < _LEFT_OVER_S:
            continue
        if left.is_dir():
            shutil.rmtree(left, ignore_errors=True)
        else:
            left.unlink(missing_ok=True)


def _unreadable(path: Path, error: OSError) -> CannotRead:
    return CannotRead(
        f"the file cannot be read ({error.strerror or error})", where=str(path), advice="Check path and permissions."
    )
