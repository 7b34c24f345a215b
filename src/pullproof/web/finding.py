"""What the address of a page is about: the car, day, log or change whose number stands in it."""

from typing import TypeVar

from sqlalchemy.orm import Session
from starlette.exceptions import HTTPException
from starlette.requests import Request

from pullproof.library.schema import CarRow, ChangeRow, ComparisonRow, DayRow, LogRow, PhotoRow
from pullproof.web.desk import desk_of

__all__ = ["car_in", "found", "whole_number"]

Row = TypeVar("Row", CarRow, ChangeRow, ComparisonRow, DayRow, LogRow, PhotoRow)


def found(session: Session, kind: type[Row], number: int | str) -> Row:
    """The row of that number; a page that says so where there is none, or where it was deleted."""
    row = session.get(kind, int(number)) if 0 < int(number) < 2**31 else None
    if row is None or row.deleted_at is not None:
        raise HTTPException(404, f"There is no such {_WORDS[kind]}, or it was deleted.")
    return row


_WORDS: dict[type, str] = {
    CarRow: "car",
    ChangeRow: "change",
    ComparisonRow: "comparison",
    DayRow: "test day",
    LogRow: "log",
    PhotoRow: "photo",
}


def car_in(request: Request) -> CarRow:
    """The car of an address `/cars/{car}/...`."""
    with desk_of(request).library.reading() as session:
        return found(session, CarRow, request.path_params["car"])


def whole_number(text: str) -> int | None:
    """A number from an address or a form; None where it is none."""
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None
