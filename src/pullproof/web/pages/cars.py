"""Cars: the list, a new one (with the logs of its first change, where they are at hand), and its data sheet."""

import datetime

from starlette.requests import Request
from starlette.responses import Response

from pullproof.errors import WrongUse
from pullproof.library import catalogue
from pullproof.library.schema import CarRow, ChangeRow, DayRow
from pullproof.web.deletions import gone_rows
from pullproof.web.desk import desk_of
from pullproof.web.fields import date_in
from pullproof.web.finding import car_in, found
from pullproof.web.imports import keep_upload
from pullproof.web.pages.start import card
from pullproof.web.rendering import link, render
from pullproof.web.routing import Form, action, go_to, page
from pullproof.web.sheets import FIELDS, missing_entries, sheet_from, values_of

__all__ = ["ROUTES"]


def show_all(request: Request) -> Response:
    """Every car with what is kept of it."""
    with desk_of(request).library.reading() as session:
        cards = [card(session, car) for car in catalogue.cars(session)]
        gone = gone_rows(session, None, "car")
    return render(request, "cars.html", cards=cards, gone_rows=gone)


def show_new(request: Request) -> Response:
    """The form for a car, and the logs of its first change."""
    return render(
        request,
        "car_new.html",
        today=datetime.date.today(),  # noqa: DTZ011  clock on the wall
    )


def add(request: Request, form: Form) -> Response:
    """A car; with logs of both sides, two test days, the change between them, and the way to the verdict."""
    desk = desk_of(request)
    if not form.text("name"):
        raise WrongUse("the car has no name", advice="Any name will do, such as blue hatch.")
    sides = {side: form.files(f"{side}-logs") for side in ("before", "after")}
    paths = {side: keep_upload(desk.library, files) for side, files in sides.items() if files}
    with desk.library.transaction() as session:
        car = catalogue.add_car(session, sheet_from(form))
        days: dict[str, int] = {}
        for side in paths:
            date = date_in(form, f"{side}-date", f"The date of {side}")
            if date is not None:
                label = date.isoformat()
                there = catalogue.day_labelled(session, car.id, label)
                days[side] = (there or catalogue.add(session, DayRow(car_id=car.id, label=label, date=date))).id
        what = form.text("what")
        after = date_in(form, "after-date", "The date of after")
        if what and after is not None:
            fitted = datetime.datetime.combine(after, datetime.time())
            catalogue.add(session, ChangeRow(car_id=car.id, what=what, fitted=fitted))
    jobs = [desk.imports.begin(car.id, kept, days.get(side)) for side, kept in paths.items()]
    if not jobs:
        return go_to(request, f"/cars/{car.id}/days")
    desk.imports.run(jobs)
    return go_to(request, link("/imports", job=jobs))


def show_sheet(request: Request) -> Response:
    """The data sheet, with what each missing entry prevents."""
    car = car_in(request)
    return render(
        request, "car_sheet.html", car=car, fields=FIELDS, said=values_of(car.sheet), missing=missing_entries(car.sheet)
    )


def edit_sheet(request: Request, form: Form) -> Response:
    """Another data sheet: from the fields, or as text."""
    with desk_of(request).library.transaction() as session:
        car = found(session, CarRow, request.path_params["car"])
        sheet = form.text("sheet") + "\n" if form.has("sheet") else sheet_from(form, car.sheet)
        catalogue.edit_car(session, car, sheet)
        if form.has("notes"):
            car.notes = form.text("notes")
    return go_to(request, f"/cars/{car.id}/sheet", saved="yes")


def delete(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete a car; it can be taken back, with all that belongs to it."""
    with desk_of(request).library.transaction() as session:
        car = found(session, CarRow, request.path_params["car"])
        catalogue.delete(session, car)
    return go_to(request, "/cars", gone=f"car-{car.id}")


ROUTES = [
    page("/cars", show_all),
    page("/cars/new", show_new),
    action("/cars/upload", add),
    page("/cars/{car:int}/sheet", show_sheet),
    action("/cars/{car:int}/sheet", edit_sheet),
    action("/cars/{car:int}/delete", delete),
]
