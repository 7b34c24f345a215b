"""Open a library: its folder, its catalogue, and the migrations that bring the catalogue up to date.

A library is a folder:

    library.json        what this is: format, identity, and where the catalogue is
    catalogue.sqlite    the catalogue, unless it lives in PostgreSQL
    originals/          every file as it came, byte for byte, named by SHA-256
    samples/            what was read from the logs, as Parquet; can always be made again
    incoming/           files on their way in, whole only when they have left it
"""

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self

import platformdirs
from sqlalchemy import URL, Connection, Engine, insert, select
from sqlalchemy.exc import OperationalError
from sqlalchemy.orm import Session

from pullproof.errors import CannotAnswer, WrongUse
from pullproof.library.address import address_of, one_sentence, shown, without_password
from pullproof.library.engine import make_engine
from pullproof.library.marker import enter, write_marker
from pullproof.library.memory import Memory
from pullproof.library.migrating import migrate, revision_of
from pullproof.library.schema import REVISION, LibraryRow

__all__ = ["Library", "default_folder", "open_library"]


@dataclass(frozen=True, slots=True)
class Library:
    """An open library. Close it when done; it may be used from several threads."""

    folder: Path
    engine: Engine
    id: str
    memory: Memory = field(default_factory=Memory, repr=False)

    @contextmanager
    def transaction(self) -> Iterator[Session]:
        """Write: all of it or nothing, and on the disk when the block has ended.

        Raises
        ------
        CannotAnswer
            The catalogue cannot be reached or written, or somebody else kept it busy for too long.
        """
        with self._session(self.engine.execution_options(writes=True)) as session:
            yield session

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """Read one consistent state, without waiting for those who write.

        Raises
        ------
        CannotAnswer
            The catalogue cannot be reached.
        """
        with self._session(self._consistent()) as session:
            yield session

    @contextmanager
    def snapshot(self) -> Iterator[Connection]:
        """One consistent state of all tables, for whoever needs them as they are."""
        with self._consistent().connect() as connection, connection.begin():
            yield connection

    def _consistent(self) -> Engine:
        if self.engine.dialect.name == "postgresql":  # SQLite shows one state a transaction as it is
            return self.engine.execution_options(isolation_level="REPEATABLE READ")
        return self.engine

    @contextmanager
    def _session(self, engine: Engine) -> Iterator[Session]:
        try:
            with Session(engine, expire_on_commit=False) as session, session.begin():
                yield session
        except OperationalError as error:
            raise CannotAnswer(
                f"the catalogue did not do it ({error.orig})",
                where=str(self.folder),
                advice="Nothing was changed. Check disk space and that no other program holds it, and try again.",
            ) from error

    def close(self) -> None:
        """Let go of the catalogue."""
        self.engine.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self.close()


def default_folder() -> Path:
    """Where a library lives whose owner named no folder: among the user's own data, where the platform keeps them."""
    return platformdirs.user_data_path("pullproof", appauthor=False) / "library"


def open_library(folder: str | Path, url: str | None = None) -> Library:
    """Open a library, and make it where there is none.

    Parameters
    ----------
    folder : str or Path
        Where the files are. Made when missing; an empty folder becomes a library.
    url : str, optional
        Where the catalogue is, such as `postgresql://user@host/shop`. Without it, where it was last time, and for
        a new library SQLite in the folder. It is remembered without its password.

    Raises
    ------
    CannotRead
        The folder holds something else, or a library of a newer version, or the catalogue cannot be reached.
    WrongUse
        The address is none, or the catalogue belongs to another library.
    """
    place = Path(folder)
    identity, remembered = enter(place)
    address = address_of(place, url or remembered)
    engine = make_engine(address)
    try:
        with one_sentence(address):
            found = _upgraded(engine, address, identity, place)
        _same_library(identity, found, f"{place} and {shown(address)}")
        if url is not None and remembered != without_password(address):
            write_marker(place, identity, without_password(address))
    except BaseException:
        engine.dispose()
        raise
    return Library(place, engine, identity)


def _same_library(identity: str, found: str, where: str) -> None:
    if found != identity:
        raise WrongUse(
            "this catalogue belongs to another library", where=where, advice="Give the folder its own database."
        )


def _upgraded(engine: Engine, address: URL, identity: str, place: Path) -> str:
    """Bring the tables up to date, and give the identity that the catalogue carries."""
    with engine.connect() as connection:
        if revision_of(connection) == REVISION:
            return str(connection.scalar(select(LibraryRow.id)))

    # A table that other tables point to cannot be copied and dropped while SQLite watches over the references.
    unguarded = make_engine(address, references=False)
    try:
        with unguarded.execution_options(writes=True).begin() as connection:
            migrate(connection, str(place))
            if connection.scalar(select(LibraryRow.id)) is None:
                connection.execute(insert(LibraryRow).values(id=identity))
            return str(connection.scalar(select(LibraryRow.id)))
    finally:
        unguarded.dispose()
