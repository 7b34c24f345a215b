"""The engine of a catalogue: what each database has to be told so that what it acknowledges is on the disk."""

import sqlite3
from typing import Any

from sqlalchemy import URL, Connection, Engine, create_engine, event

__all__ = ["make_engine"]

BUSY_MS = 30_000
"""How long a writer waits for another one's transaction. [ms]"""


def make_engine(address: URL, *, references: bool = True) -> Engine:
    """An engine for the catalogue; `references` lets SQLite refuse rows that point nowhere."""
    if address.get_backend_name() != "sqlite":
        return create_engine(address, pool_pre_ping=True)
    engine = create_engine(address, connect_args={"timeout": BUSY_MS / 1000, "check_same_thread": False})

    @event.listens_for(engine, "connect")
    def _prepare(connection: sqlite3.Connection, _: Any) -> None:  # noqa: ANN401
        connection.isolation_level = None  # the driver would otherwise begin and end transactions where it sees fit
        for pragma in (
            f"busy_timeout = {BUSY_MS}",
            "journal_mode = WAL",  # others read while one writes
            "synchronous = FULL",  # a commit is on the disk before it is acknowledged
            f"foreign_keys = {'ON' if references else 'OFF'}",
        ):
            connection.execute(f"PRAGMA {pragma}")

    @event.listens_for(engine, "begin")
    def _begin(connection: Connection) -> None:
        # A transaction that reads first and writes later fails at once where another wrote in between: so whoever
        # is going to write says so at the beginning, and waits there.
        writes = connection.get_execution_options().get("writes", False)
        connection.exec_driver_sql("BEGIN IMMEDIATE" if writes else "BEGIN")

    return engine
