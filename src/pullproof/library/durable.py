"""Files that are there after a power cut: written beside, flushed to the disk, then renamed into place.

A name that a reader can see always has the whole content. The folder is flushed too, because a rename lives there.
"""

import contextlib
import os
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

__all__ = ["flush_folder", "make_folder", "move_durably", "temporary_file", "write_durably"]


def flush_folder(folder: Path) -> None:
    """Make what was created, renamed or removed in a folder outlive a power cut."""
    if os.name == "nt":  # Windows has no handle on a folder to flush; its journal keeps renames in order
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def make_folder(folder: Path) -> None:
    """Make a folder with all above it, each flushed into the one that holds it."""
    if folder.is_dir():
        return
    make_folder(folder.parent)
    with contextlib.suppress(FileExistsError):
        folder.mkdir()
    flush_folder(folder.parent)


@contextmanager
def temporary_file(folder: Path, suffix: str = "") -> Iterator[tuple[Path, BinaryIO]]:
    """A new file to write to, flushed to the disk at the end of the block; gone when the block fails."""
    handle, name = tempfile.mkstemp(suffix=suffix, prefix="new-", dir=folder)
    path = Path(name)
    try:
        with os.fdopen(handle, "wb") as file:
            yield path, file
            file.flush()
            os.fsync(file.fileno())
    except BaseException:
        path.unlink(missing_ok=True)
        raise


def move_durably(source: Path, target: Path) -> None:
    """Rename a flushed file to its place in the same file system, over whatever is there."""
    make_folder(target.parent)
    source.replace(target)
    flush_folder(target.parent)


def write_durably(path: Path, content: bytes, *, new: bool = False) -> None:
    """Write a small file so that readers see all of it or none; with `new`, only where there is none.

    Raises
    ------
    FileExistsError
        It is to be a new one, and there is one.
    """
    with temporary_file(path.parent) as (temporary, file):
        file.write(content)
    if new:
        try:
            path.hardlink_to(temporary)  # unlike a rename, this never goes over a file that is there
        finally:
            temporary.unlink()
        flush_folder(path.parent)
        return
    move_durably(temporary, path)
