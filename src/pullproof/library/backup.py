"""A whole library in one file, and back: a zip archive that any tool opens.

    backup.json                 what this is, of which library, when, and which tables
    catalogue/TABLE.jsonl       the rows of each table, one JSON object a line, whatever database they came from
    originals/, samples/        the files that the rows name, as they lie in the library
    manifest.json               size and SHA-256 of every member, written last

The rows are those of one instant, while others go on writing; the files that they name never change. So a backup of
a catalogue in PostgreSQL restores into SQLite and the reverse.
"""

import datetime
import hashlib
import json
import zipfile
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any, Final

from sqlalchemy import Connection, select

from pullproof.errors import WrongUse
from pullproof.library.durable import make_folder, move_durably, temporary_file
from pullproof.library.files import original_path, samples_path
from pullproof.library.opening import Library
from pullproof.library.rows import rows_as_json
from pullproof.library.schema import REVISION, Base, LogRow, PhotoRow

__all__ = ["SCHEMA", "Backup", "Progress", "back_up"]

SCHEMA: Final = "pullproof.backup/1"
_PIECE = 1 << 20

Progress = Callable[[int, int], None]


@dataclass(frozen=True, slots=True)
class Backup:
    """What a backup holds; `missing` are files that rows name and that were not there to be backed up."""

    path: Path
    library_id: str
    made_at: str
    rows: int
    files: int
    size: int
    missing: tuple[str, ...] = ()


def back_up(library: Library, target: str | Path, progress: Progress | None = None) -> Backup:
    """Write a backup; others may go on writing to the library. It appears under its name only when it is whole.

    Parameters
    ----------
    library : Library
    target : str or Path
        The file to write. It must not exist.
    progress : callable, optional
        Hears of files done and in all.

    Raises
    ------
    WrongUse
        The file exists already, or cannot be written.
    """
    path = Path(target).absolute()
    if path.exists():
        raise WrongUse(
            "there is such a file already", where=str(path), advice="Name another; a backup is never overwritten."
        )
    try:
        make_folder(path.parent)
        with temporary_file(path.parent, ".zip") as (temporary, file):
            made = _write(library, file, path, progress)
        move_durably(temporary, path)
    except OSError as error:
        raise WrongUse(
            f"the backup cannot be written ({error.strerror or error})", where=str(path), advice="Check space and path."
        ) from error
    return made


def _write(library: Library, file: IO[bytes], path: Path, progress: Progress | None) -> Backup:
    made_at = datetime.datetime.now(datetime.UTC).isoformat(timespec="seconds")
    rows, missing = 0, []
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED) as archive:
        manifest = _Manifest(archive)
        with library.snapshot() as connection:
            for table in Base.metadata.sorted_tables:
                lines = rows_as_json(connection, table)
                rows += manifest.add_lines(f"catalogue/{table.name}.jsonl", lines)
            names = sorted(_files(connection, library.folder))
        for done, name in enumerate(names, 1):
            try:
                manifest.add_file(name, library.folder / name)
            except FileNotFoundError:
                missing.append(name)
            if progress is not None:
                progress(done, len(names))
        about = {"schema": SCHEMA, "library": library.id, "made_at": made_at, "revision": REVISION, "rows": rows}
        manifest.add_lines("backup.json", iter([json.dumps(about)]))
        archive.writestr("manifest.json", json.dumps(manifest.members))
    files = len(names) - len(missing)
    return Backup(path, library.id, made_at, rows, files, file.tell(), tuple(missing))


def _files(connection: Connection, folder: Path) -> set[str]:
    """Names within the library of all files that rows name."""
    paths = set()
    for digest, key, companions in connection.execute(select(LogRow.hash, LogRow.reading_key, LogRow.companions)):
        paths |= {original_path(folder, digest), samples_path(folder, digest, key)}
        paths |= {original_path(folder, entry["hash"]) for entry in companions}
    paths |= {original_path(folder, digest) for digest in connection.scalars(select(PhotoRow.hash))}
    return {path.relative_to(folder).as_posix() for path in paths}


class _Manifest:
    """Members of the archive as they are written."""

    def __init__(self, archive: zipfile.ZipFile) -> None:
        self._archive = archive
        self.members: dict[str, dict[str, Any]] = {}

    def add_lines(self, name: str, lines: Iterator[str]) -> int:
        """Write lines of text; gives their number."""
        count = 0

        def pieces() -> Iterator[bytes]:
            nonlocal count
            for line in lines:
                count += 1
                yield line.encode() + b"\n"

        self._add(zipfile.ZipInfo(name), pieces(), zipfile.ZIP_DEFLATED)
        return count

    def add_file(self, name: str, path: Path) -> None:
        """Copy a file; Parquet is packed already."""
        packed = zipfile.ZIP_STORED if path.suffix == ".parquet" else zipfile.ZIP_DEFLATED
        with path.open("rb") as file:
            self._add(zipfile.ZipInfo(name), iter(lambda: file.read(_PIECE), b""), packed)

    def _add(self, info: zipfile.ZipInfo, pieces: Iterator[bytes], packed: int) -> None:
        info.compress_type = packed
        digest, size = hashlib.sha256(), 0
        with self._archive.open(info, "w", force_zip64=True) as member:
            for piece in pieces:
                digest.update(piece)
                size += len(piece)
                member.write(piece)
        self.members[info.filename] = {"sha256": digest.hexdigest(), "size": size}
