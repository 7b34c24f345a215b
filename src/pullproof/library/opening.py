"""Open a library: its folder, its catalogue, and the migrations that bring the catalogue up to date.

A library is a folder:

    library.json        what this is: format, identity, and where the catalogue is
    catalogue.sqlite    the catalogue, unless it lives in PostgreSQL
    originals/          every file as it came, byte for byte, named by SHA-256
    samples/            what was read from the logs, as Parquet; can always be made again
    incoming/           files on their way in, whole only when they have left it
"""

import importlib.util
import json
import uuid
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path
from typing import Self

import platformdirs
from sqlalchemy import URL, Connection, Engine, inspect, make_url, select, text
from sqlalchemy.exc import ArgumentError, DatabaseError, OperationalError
from sqlalchemy.orm import Session

from pullproof.errors import CannotAnswer, CannotRead, WrongUse
from pullproof.library.durable import make_folder, write_durably
from pullproof.library.engine import make_engine
from pullproof.library.memory import Memory
from pullproof.library.schema import REVISION, LibraryRow

__all__ = ["CATALOGUE", "FOLDERS", "MARKER", "Library", "default_folder", "open_library"]

MARKER, CATALOGUE = "library.json", "catalogue.sqlite"
FOLDERS = ("originals", "samples", "incoming")
FORMAT = 1
_MIGRATION_LOCK = 7_236_831_420
"""Any number, as long as it is always the same: PostgreSQL's key for "somebody is migrating a pullproof catalogue"."""


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
        with self._session(self.engine) as session:
            yield session

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
    identity, remembered = _enter(place)
    address = _address(place, url or remembered)
    engine = make_engine(address)
    try:
        found = _upgrade(engine, address, identity, place)
    except (OperationalError, DatabaseError) as error:
        engine.dispose()
        raise CannotRead(
            f"the catalogue cannot be opened ({str(error.orig).strip().splitlines()[0]})",
            where=address.render_as_string(hide_password=True),
            advice="Check the address and that the server runs; `pullproof library restore` brings back a backup.",
        ) from error
    except BaseException:
        engine.dispose()
        raise
    if found != identity:
        engine.dispose()
        raise WrongUse(
            "this catalogue belongs to another library",
            where=f"{place} and {address.render_as_string(hide_password=True)}",
            advice="Give the folder its own database.",
        )
    if url is not None and remembered != _without_password(address):
        _write_marker(place, identity, _without_password(address))
    return Library(place, engine, identity)


def _enter(place: Path) -> tuple[str, str | None]:
    """Identity of the library, and the remembered address of its catalogue; the folder is made when need be."""
    marker = place / MARKER
    try:
        make_folder(place.absolute())
        if not marker.exists():
            strangers = [entry.name for entry in place.iterdir() if not entry.name.startswith("new-")]
            if strangers:
                raise CannotRead(
                    f"the folder is no library: it holds {sorted(strangers)[0]} and no {MARKER}",
                    where=str(place),
                    advice="Name a library, or an empty folder for a new one.",
                )
            _write_marker(place, str(uuid.uuid4()), None)
        said = json.loads(marker.read_text(encoding="utf-8"))
        for name in FOLDERS:
            make_folder((place / name).absolute())
    except OSError as error:
        raise CannotRead(
            f"the library cannot be opened ({error.strerror})", where=str(place), advice="Check path and permissions."
        ) from error
    except ValueError:
        said = None
    if not isinstance(said, dict) or not isinstance(said.get("id"), str) or not isinstance(said.get("format"), int):
        raise CannotRead(f"{MARKER} is damaged", where=str(marker), advice="Restore the library from a backup.")
    if said["format"] > FORMAT:
        raise _too_new(place)
    return said["id"], said.get("catalogue")


def _write_marker(place: Path, identity: str, catalogue: str | None) -> None:
    said = {"what": "pullproof library", "format": FORMAT, "id": identity, "catalogue": catalogue}
    write_durably(place / MARKER, (json.dumps(said, indent=2) + "\n").encode())


def _address(place: Path, url: str | None) -> URL:
    if url is None:
        return URL.create("sqlite", database=str(place.absolute() / CATALOGUE))
    try:
        address = make_url(url)
    except ArgumentError:
        address = URL.create("unknown")
    if address.get_backend_name() not in ("postgresql", "postgres"):
        raise WrongUse(
            "the address of the catalogue is none of PostgreSQL",
            where=address.render_as_string(hide_password=True),
            advice="Write postgresql://USER@HOST/DATABASE, or leave it out for SQLite in the folder.",
        )
    if importlib.util.find_spec("psycopg") is None:
        raise WrongUse(
            "PostgreSQL needs the package psycopg", advice='Install it with: pip install "pullproof[postgresql]".'
        )
    return address.set(drivername="postgresql+psycopg")


def _without_password(address: URL) -> str:
    # `set` takes None for "leave it as it is".
    return URL.create(
        "postgresql", address.username, None, address.host, address.port, address.database, address.query
    ).render_as_string()


def _upgrade(engine: Engine, address: URL, identity: str, place: Path) -> str:
    """Bring the tables up to date, one process at a time, and give the identity that the catalogue carries."""
    with engine.connect() as connection:
        known = _revision(connection)
        if known == REVISION:
            return _identity(connection)
    # A table that other tables point to cannot be copied and dropped while SQLite watches over the references.
    unguarded = make_engine(address, references=False)
    try:
        with unguarded.execution_options(writes=True).begin() as connection:
            if connection.dialect.name == "postgresql":
                connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _MIGRATION_LOCK})
            _migrate(connection, place)
            if connection.scalar(select(LibraryRow.id)) is None:
                connection.execute(LibraryRow.__table__.insert().values(id=identity))  # type: ignore[attr-defined]
            return _identity(connection)
    finally:
        unguarded.dispose()


def _revision(connection: Connection) -> str | None:
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found


def _identity(connection: Connection) -> str:
    return str(connection.scalar(select(LibraryRow.id)))


def _migrate(connection: Connection, place: Path) -> None:
    """Run the migrations that are missing."""
    from alembic import command  # slow to load, and needed only where something is to be done
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    found = _revision(connection)
    if found is None and inspect(connection).get_table_names():
        raise CannotRead(
            "the database holds other tables", where=str(place), advice="Give the library a database of its own."
        )
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    if found is not None and found not in {
        entry.revision for entry in ScriptDirectory.from_config(config).walk_revisions()
    }:
        raise _too_new(place)
    command.upgrade(config, "head")


def _too_new(place: Path) -> CannotRead:
    return CannotRead(
        "the library was written by a newer version of pullproof",
        where=str(place),
        advice="Update pullproof; this version leaves it alone.",
    )
