"""The migrations lead to the tables that the code expects, on both databases, with what was in them."""

import datetime
import json
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.config import Config
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import CheckConstraint, Connection, MetaData, inspect, text

import pullproof.library
from pullproof.errors import CannotRead
from pullproof.library import Library
from pullproof.library.address import address_of
from pullproof.library.engine import make_engine
from pullproof.library.migrating import migrate, revision_of
from pullproof.library.rows import insert_rows, rows_as_json
from pullproof.library.schema import REVISION, Base

FIRST = "0001"


def scripts() -> ScriptDirectory:
    config = Config()
    config.set_main_option("script_location", str(Path(pullproof.library.__file__).parent / "migrations"))
    return ScriptDirectory.from_config(config)


def test_the_code_names_the_last_migration() -> None:
    """The revision by which an up-to-date catalogue is known is the last one, and one line leads to it."""
    assert scripts().get_heads() == [REVISION]
    assert scripts().get_bases() == [FIRST]


def test_migrated_tables_are_those_of_the_code(library: Library) -> None:
    """Columns, keys, indexes and types in the database are those of the classes, as Alembic compares them."""
    with library.engine.connect() as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": True})
        assert compare_metadata(context, Base.metadata) == []


def test_every_promise_of_the_tables_is_kept_by_the_database(library: Library) -> None:
    """Constraints that Alembic does not compare are there too: checks, and what is unique while it is not deleted."""
    with library.engine.connect() as connection:
        looked = inspect(connection)
        for table in Base.metadata.sorted_tables:
            wanted = {str(check.name) for check in table.constraints if isinstance(check, CheckConstraint)}
            assert {str(check["name"]) for check in looked.get_check_constraints(table.name)} == wanted
            partial = {index.name for index in table.indexes if index.dialect_options["sqlite"]["where"] is not None}
            key = f"{connection.dialect.name}_where"
            found = {
                index["name"] for index in looked.get_indexes(table.name) if key in index.get("dialect_options", {})
            }
            assert found == partial


def fill_first(connection: Connection) -> dict[str, list[str]]:
    """A row in every table of the first revision, made up from the tables as they were then."""
    tables = MetaData()
    tables.reflect(connection)
    lines: dict[str, list[str]] = {}
    for table in tables.sorted_tables:
        if table.name == "alembic_version":
            continue
        row = {}
        for column in table.columns:
            kind = column.type.python_type if column.type.__visit_name__ != "JSON" else dict
            value = {
                int: 1, float: 2.5, str: "x" * 3, bool: False, dict: [], datetime.date: "2026-05-09",
                datetime.datetime: "2026-05-09T10:00:00",
            }.get(kind, "12.50")  # fmt: skip
            row[column.name] = value
        row.pop("removed", None)
        insert_rows(connection, table, [json.dumps(row)])
        lines[table.name] = list(rows_as_json(connection, table))
    return lines


def test_what_the_first_release_wrote_is_still_there(tmp_path: Path, database: str | None) -> None:
    """A catalogue of the first revision with a row in every table comes through all migrations unharmed."""
    engine = make_engine(address_of(tmp_path, database), references=False)
    try:
        with engine.execution_options(writes=True).begin() as connection:
            migrate(connection, "here", FIRST)
            before = fill_first(connection)
        with engine.execution_options(writes=True).begin() as connection:
            migrate(connection, "here")
            assert revision_of(connection) == REVISION
            tables = MetaData()
            tables.reflect(connection)
            for name, lines in before.items():
                for old, new in zip(lines, rows_as_json(connection, tables.tables[name]), strict=True):
                    assert json.loads(old).items() <= json.loads(new).items()
    finally:
        engine.dispose()


def test_a_migration_that_fails_leaves_no_trace(
    tmp_path: Path, database: str | None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Half a migration is none: tables that it made are gone again, and the next attempt works."""
    engine = make_engine(address_of(tmp_path, database), references=False)

    def fail() -> None:
        with engine.execution_options(writes=True).begin() as connection:
            migrate(connection, "here")
            raise ZeroDivisionError

    try:
        with pytest.raises(ZeroDivisionError):
            fail()
        with engine.connect() as connection:
            assert inspect(connection).get_table_names() == []
        with engine.execution_options(writes=True).begin() as connection:
            migrate(connection, "here")
    finally:
        engine.dispose()


def test_an_unknown_revision_is_a_newer_one(library: Library) -> None:
    """Tables of a revision that this version has never heard of are left alone."""
    with library.engine.execution_options(writes=True).begin() as connection:
        connection.execute(text("UPDATE alembic_version SET version_num = 'ffff'"))
        with pytest.raises(CannotRead, match="newer version"):
            migrate(connection, "here")
