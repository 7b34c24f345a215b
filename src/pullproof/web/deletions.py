"""What was deleted and can be brought back, as the lists of pages show it."""

from sqlalchemy.orm import Session

from pullproof.library import catalogue
from pullproof.library.schema import CarRow, ChangeRow, ComparisonRow, DayRow, LogRow, PhotoRow

__all__ = ["KINDS", "gone_rows"]

KINDS: dict[str, type[CarRow | ChangeRow | DayRow | LogRow | ComparisonRow | PhotoRow]] = {
    "car": CarRow,
    "change": ChangeRow,
    "comparison": ComparisonRow,
    "day": DayRow,
    "log": LogRow,
    "photo": PhotoRow,
}

SHOWN = 12
"""The latest deletions that a page lists."""


def gone_rows(session: Session, car_id: int | None, *kinds: str) -> list[tuple[str, int, str]]:
    """Kind, number and name of what was deleted of these kinds, last deleted first."""
    found = []
    for row in catalogue.deleted(session, car_id):
        kind = next(name for name, table in KINDS.items() if isinstance(row, table))
        if kind in kinds:
            found.append((kind, row.id, _name(row)))
    return found[:SHOWN]


def _name(row: catalogue.Deletable) -> str:
    match row:
        case ChangeRow():
            return row.what
        case DayRow():
            return row.label
        case PhotoRow():
            return row.file
        case CarRow() | LogRow() | ComparisonRow():
            return row.name
        case _:
            return ""
