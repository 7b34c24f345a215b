"""The start page: from an empty library, or the demo, to a first verdict."""

from dataclasses import dataclass

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from pullproof.library import catalogue
from pullproof.library.schema import CarRow
from pullproof.web.desk import desk_of
from pullproof.web.rendering import render
from pullproof.web.routing import page

__all__ = ["ROUTES"]


@dataclass(frozen=True, slots=True)
class CarCard:
    """A car with what is kept of it, in numbers."""

    car: CarRow
    changes: int
    days: int
    logs: int
    comparisons: int


def card(session: Session, car: CarRow) -> CarCard:
    """Count what is kept of a car."""
    return CarCard(
        car,
        len(catalogue.changes(session, car.id)),
        len(catalogue.days(session, car.id)),
        len(catalogue.logs(session, car.id)),
        len(catalogue.comparisons(session, car.id)),
    )


def show(request: Request) -> Response:
    """Cars to go on with, or the two ways to begin."""
    with desk_of(request).library.reading() as session:
        cards = [card(session, car) for car in catalogue.cars(session)]
    return render(request, "start.html", cards=cards)


ROUTES = [page("/", show)]
