"""A library from its backup: into an empty place only, every byte checked on the way."""

import hashlib
import json
import re
import shutil
import zipfile
import zlib
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, MetaData, Table, inspect, text

from pullproof.errors import CannotRead, WrongUse
from pullproof.library.address import address_of, one_sentence, shown, without_password
from pullproof.library.backup import SCHEMA, Backup, Progress
from pullproof.library.durable import make_folder, move_durably, temporary_file
from pullproof.library.engine import make_engine
from pullproof.library.marker import FOLDERS, write_marker
from pullproof.library.migrating import migrate
from pullproof.library.rows import insert_rows

__all__ = ["restore"]

FILE_NAME = re.compile(r"(?:originals/[0-9a-f]{2}/[0-9a-f]{62}|samples/[0-9a-f]{2}/[0-9a-f]{62}-[0-9a-f]{16}\.parquet)")
TABLE_NAME = re.compile(r"catalogue/([a-z_]{1,40})\.jsonl")
_PIECE = 1 << 20
_LARGEST_NOTE = 256 << 20
"""Largest backup.json or manifest.json that is read into memory. [bytes]"""


def restore(backup: str | Path, folder: str | Path, url: str | None = None, progress: Progress | None = None) -> Backup:
    """Make a library from a backup, in a folder that is empty or not there, and in a database that is empty.

    Raises
    ------
    CannotRead
        The file is no backup, was damaged, or comes from a newer version.
    WrongUse
        The folder or the database holds something already, or cannot be written. Nothing is ever overwritten.
    """
    source, place = Path(backup), Path(folder)
    if place.exists() and (not place.is_dir() or any(place.iterdir())):
        raise WrongUse("the folder is not empty", where=str(place), advice="Restore into an empty or a new folder.")
    existed = place.exists()
    try:
        with _archive(source) as archive:
            about, members = _about(archive, source)
            make_folder(place.absolute())
            for name in FOLDERS:
                make_folder((place / name).absolute())
            _unpack_files(archive, members, place, source, progress)
            rows = _restore_rows(archive, members, about, place, url, source)
    except OSError as error:
        _clear(place, existed)
        raise WrongUse(
            f"the backup cannot be restored ({error.strerror or error})",
            where=str(error.filename or place),
            advice="Check paths and space.",
        ) from error
    except BaseException:
        _clear(place, existed)
        raise
    files = [name for name in members if FILE_NAME.fullmatch(name)]
    return Backup(
        source, about["library"], about["made_at"], rows, len(files), sum(members[name]["size"] for name in files)
    )


@contextmanager
def _archive(source: Path) -> Iterator[zipfile.ZipFile]:
    """The archive, and one sentence on whatever in it turns out to be no archive of ours."""
    try:
        file = source.open("rb")
    except OSError as error:
        raise CannotRead(
            f"the backup cannot be opened ({error.strerror})", where=str(source), advice="Check the path."
        ) from error
    try:
        with file, zipfile.ZipFile(file) as archive:
            yield archive
    except (
        zipfile.BadZipFile,
        zlib.error,
        EOFError,
        LookupError,
        ValueError,
        TypeError,
        AttributeError,
        NotImplementedError,
        RuntimeError,
    ) as error:
        raise _damaged(source, "it is no backup of a library, or it is damaged") from error


def _about(archive: zipfile.ZipFile, source: Path) -> tuple[dict[str, Any], dict[str, Any]]:
    """What the backup says of itself, and its members; every name is one that we would have written."""
    try:
        members = json.loads(_note(archive, "manifest.json"))
        content = _note(archive, "backup.json")
        about = json.loads(content)
        sound = (
            about["schema"] == SCHEMA
            and hashlib.sha256(content).hexdigest() == members["backup.json"]["sha256"]
            and all(isinstance(about[key], str) for key in ("library", "made_at", "revision"))
            and all(isinstance(entry["size"], int) and isinstance(entry["sha256"], str) for entry in members.values())
        )
    except (ValueError, TypeError, KeyError) as error:
        raise _damaged(source, "it is no backup of a library") from error
    names = [entry.filename for entry in archive.infolist() if entry.filename != "manifest.json"]
    strange = [
        name for name in names if not (FILE_NAME.fullmatch(name) or TABLE_NAME.fullmatch(name) or name == "backup.json")
    ]
    if not sound or strange or sorted(names) != sorted(members):
        raise _damaged(
            source, f"it holds {strange[0]!r}" if strange else "its list of files does not fit what it holds"
        )
    return about, members


def _note(archive: zipfile.ZipFile, name: str) -> bytes:
    if archive.getinfo(name).file_size > _LARGEST_NOTE:
        raise ValueError(name)
    return archive.read(name)


def _unpack_files(
    archive: zipfile.ZipFile, members: dict[str, Any], place: Path, source: Path, progress: Progress | None
) -> None:
    names = [name for name in members if FILE_NAME.fullmatch(name)]
    for done, name in enumerate(names, 1):
        with temporary_file(place / "incoming") as (temporary, target):
            for piece in _checked(archive, name, members[name], source):
                target.write(piece)
        move_durably(temporary, place / name)
        if progress is not None:
            progress(done, len(names))


def _checked(archive: zipfile.ZipFile, name: str, wanted: dict[str, Any], source: Path) -> Iterator[bytes]:
    """The content of a member in pieces; never more than it is said to hold, an error where it differs."""
    digest, left = hashlib.sha256(), wanted["size"]
    with archive.open(name) as member:
        while piece := member.read(_PIECE):
            left -= len(piece)
            if left < 0:
                break
            digest.update(piece)
            yield piece
    if left != 0 or digest.hexdigest() != wanted["sha256"]:
        raise _damaged(source, f"{name} in it is damaged")


def _restore_rows(
    archive: zipfile.ZipFile, members: dict[str, Any], about: dict[str, Any], place: Path, url: str | None, source: Path
) -> int:
    """Fill the catalogue, then say that the folder is a library: before that it is none."""
    rows = 0
    with _empty_catalogue(place, url, about["revision"]) as (connection, tables):
        for table in tables:
            name = f"catalogue/{table.name}.jsonl"
            if name in members:
                content = b"".join(_checked(archive, name, members[name], source))
                rows += insert_rows(connection, table, content.decode().splitlines())
        if connection.dialect.name == "sqlite" and connection.execute(text("PRAGMA foreign_key_check")).first():
            raise _damaged(source, "a row in it points to one that is not there")
    write_marker(place, about["library"], None if url is None else without_password(address_of(place, url)))
    return rows


def _clear(place: Path, existed: bool) -> None:
    """Leave the folder as it was: empty, or not there."""
    for entry in place.iterdir() if place.is_dir() else ():
        shutil.rmtree(entry) if entry.is_dir() else entry.unlink()
    if not existed and place.is_dir():
        place.rmdir()


def _damaged(source: Path, what: str) -> CannotRead:
    return CannotRead(what, where=str(source), advice="Take another backup.")


@contextmanager
def _empty_catalogue(folder: Path, url: str | None, revision: str) -> Iterator[tuple[Connection, list[Table]]]:
    """An empty catalogue for a folder, with the tables as they were at a migration, to be filled within the block.

    After it the tables are brought up to date; where anything fails, nothing is kept.

    Raises
    ------
    CannotRead
        The database holds something already, cannot be reached, or the migration is one of a newer version.
    """
    address = address_of(folder, url)
    engine = make_engine(address, references=False)
    try:
        with one_sentence(address), engine.execution_options(writes=True).begin() as connection:
            if inspect(connection).get_table_names():
                raise CannotRead(
                    "the database is not empty", where=shown(address), advice="Restore into an empty database."
                )
            migrate(connection, shown(address), revision)
            tables = MetaData()
            tables.reflect(connection)
            yield connection, [table for table in tables.sorted_tables if table.name != "alembic_version"]
            migrate(connection, shown(address))
    finally:
        engine.dispose()
