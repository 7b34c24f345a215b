"""Rows of any table as JSON, and back into any database."""

import datetime
import json
from collections.abc import Iterable, Iterator
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, Boolean, Connection, Date, DateTime, Numeric, Table, func, insert, select, text

__all__ = ["insert_rows", "rows_as_json"]

_AT_A_TIME = 500


def rows_as_json(connection: Connection, table: Table) -> Iterator[str]:
    """Every row of a table as one line of JSON."""
    order = list(table.primary_key)
    for row in connection.execute(select(table).order_by(*order)).mappings():
        yield json.dumps({column: _plain(value) for column, value in row.items()})


def insert_rows(connection: Connection, table: Table, lines: Iterable[str]) -> int:
    """Insert rows that `rows_as_json` gave, into this table of any database; gives their number."""
    rows = [_typed(table, json.loads(line)) for line in lines]
    for start in range(0, len(rows), _AT_A_TIME):
        connection.execute(insert(table), rows[start : start + _AT_A_TIME])
    if connection.dialect.name == "postgresql" and "id" in table.c and table.c.id.autoincrement:
        _count_on(connection, table)
    return len(rows)


def _plain(value: Any) -> Any:  # noqa: ANN401
    if isinstance(value, datetime.datetime | datetime.date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value


def _typed(table: Table, row: dict[str, Any]) -> dict[str, Any]:
    return {name: _value(table.c[name].type, value) for name, value in row.items()}


def _value(kind: Any, value: Any) -> Any:  # noqa: ANN401
    """A value as this column's type takes it. Tables are those of the database, not of `schema`."""
    if value is None or isinstance(kind, JSON | Boolean):
        return value
    if isinstance(kind, DateTime):
        moment = datetime.datetime.fromisoformat(value)
        if moment.tzinfo is not None and not kind.timezone:  # SQLite keeps no zone
            moment = moment.astimezone(datetime.UTC).replace(tzinfo=None)
        return moment
    if isinstance(kind, Date):
        return datetime.date.fromisoformat(value)
    return Decimal(value) if isinstance(kind, Numeric) and isinstance(value, str) else value


def _count_on(connection: Connection, table: Table) -> None:
    """Let PostgreSQL give numbers beyond those that were inserted."""
    highest = connection.scalar(select(func.max(table.c.id)))
    if isinstance(highest, int):
        sequence = text("SELECT setval(pg_get_serial_sequence(:table, 'id'), :highest)")
        connection.execute(sequence, {"table": table.name, "highest": highest})
