"""Where the catalogue is: a file of SQLite in the library's folder, or a database of PostgreSQL."""

import importlib.util
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import URL, make_url
from sqlalchemy.exc import ArgumentError, DatabaseError

from pullproof.errors import CannotRead, WrongUse

__all__ = ["CATALOGUE", "address_of", "one_sentence", "shown", "without_password"]

CATALOGUE = "catalogue.sqlite"


def address_of(place: Path, url: str | None) -> URL:
    """The address as the engine takes it; without `url`, the file in the folder.

    Raises
    ------
    WrongUse
        It is no address of PostgreSQL, or the driver is not installed.
    """
    if url is None:
        return URL.create("sqlite", database=str(place.absolute() / CATALOGUE))
    try:
        address = make_url(url)
    except ArgumentError:
        address = URL.create("unknown")
    if address.get_backend_name() not in ("postgresql", "postgres"):
        raise WrongUse(
            "the address of the catalogue is none of PostgreSQL",
            where=address.set(query={}).render_as_string(hide_password=True),
            advice="Write postgresql://USER@HOST/DATABASE, or leave it out for SQLite in the folder.",
        )
    if importlib.util.find_spec("psycopg") is None:
        raise WrongUse(
            "PostgreSQL needs the package psycopg", advice='Install it with: pip install "pullproof[postgresql]".'
        )
    return address.set(drivername="postgresql+psycopg")


def without_password(address: URL) -> str:
    """The address as it is remembered."""
    # `set` would take None for "leave it as it is".
    query = {key: value for key, value in address.query.items() if key != "password"}
    bare = URL.create("postgresql", address.username, None, address.host, address.port, address.database, query)
    return bare.render_as_string()


def shown(address: URL) -> str:
    """The address as a sentence names it."""
    return address.database or "" if address.drivername == "sqlite" else without_password(address)


@contextmanager
def one_sentence(address: URL) -> Iterator[None]:
    """What the database or its driver says, as one of our sentences (CannotRead)."""
    try:
        yield
    except DatabaseError as error:
        raise CannotRead(
            f"the catalogue cannot be opened ({str(error.orig).strip().splitlines()[0]})",
            where=shown(address),
            advice="Check the address and that the server runs; `pullproof library restore` brings back a backup.",
        ) from error
