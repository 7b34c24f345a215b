"""Bring the tables of a catalogue up to date: one process at a time, all of it or nothing."""

from pathlib import Path

from sqlalchemy import Connection, inspect, text

from pullproof.errors import CannotRead
from pullproof.library.marker import too_new

__all__ = ["migrate", "revision_of"]

_LOCK = 7_236_831_420
"""Any number, as long as it is always the same: PostgreSQL's key for "somebody migrates a pullproof catalogue"."""


def revision_of(connection: Connection) -> str | None:
    """The migration that the tables are at; None where there are none of ours."""
    if not inspect(connection).has_table("alembic_version"):
        return None
    found: str | None = connection.scalar(text("SELECT version_num FROM alembic_version"))
    return found


def migrate(connection: Connection, where: str, revision: str = "head") -> None:
    """Run the migrations that are missing, within the transaction of this connection.

    Raises
    ------
    CannotRead
        The database holds other tables, or is at a migration that this version does not know.
    """
    from alembic import command  # slow to load, and seldom needed
    from alembic.config import Config
    from alembic.script import ScriptDirectory

    if connection.dialect.name == "postgresql":
        connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _LOCK})
    found = revision_of(connection)
    if found is None and inspect(connection).get_table_names():
        raise CannotRead("the database holds other tables", where=where, advice="Give the library one of its own.")
    config = Config()
    config.set_main_option("script_location", str(Path(__file__).parent / "migrations").replace("%", "%%"))
    config.attributes["connection"] = connection
    known = {entry.revision for entry in ScriptDirectory.from_config(config).walk_revisions()}
    if not {found, revision} - {None, "head"} <= known:
        raise too_new(where)
    command.upgrade(config, revision)
