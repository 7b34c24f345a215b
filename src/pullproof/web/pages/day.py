"""Test days: drop logs, say when and in what air they were recorded, see what was recognised."""

import datetime

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from pullproof.errors import WrongUse
from pullproof.library import catalogue
from pullproof.library.readings import log_of, pulls_of
from pullproof.library.schema import CarRow, DayRow, LogRow
from pullproof.web.deletions import gone_rows
from pullproof.web.desk import desk_of
from pullproof.web.fields import date_in, moment_in, number_in
from pullproof.web.finding import car_in, found, whole_number
from pullproof.web.recognised import open_questions
from pullproof.web.rendering import render
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES", "day_from"]

DIRECTIONS = ("out", "back")
AIR = {
    "air_temperature_c": ("Air temperature", -50.0, 60.0),
    "air_pressure_kpa": ("Air pressure", 50.0, 110.0),
    "relative_humidity_pct": ("Humidity", 0.0, 100.0),
}


def show_days(request: Request) -> Response:
    """All test days of a car, and the place to drop logs."""
    library, car = desk_of(request).library, car_in(request)
    with library.reading() as session:
        days, logs = catalogue.days(session, car.id), catalogue.logs(session, car.id)
        gone = gone_rows(session, car.id, "day", "log")
    return render(
        request,
        "days.html",
        car=car,
        days=days[::-1],
        logs=logs,
        gone_rows=gone,
        today=datetime.date.today(),  # noqa: DTZ011  clock on the wall
    )


def show_day(request: Request) -> Response:
    """One test day: its logs with what was found in them, conditions, and what was on the car."""
    library = desk_of(request).library
    with library.reading() as session:
        day = found(session, DayRow, request.path_params["day"])
        car = found(session, CarRow, day.car_id)
        logs, changes = catalogue.logs(session, car.id, day.id), catalogue.changes(session, car.id)
        build = catalogue.build_of_day(session, day)
    seen = []
    for row in logs:
        pulls = pulls_of(library, row.id)
        questions = open_questions(library, row, log_of(library, row.id))
        seen.append((row, len(pulls), sum(pull.used for pull in pulls), questions))
    return render(
        request,
        "day.html",
        car=car,
        day=day,
        seen=seen,
        changes=changes,
        fitted=build.change_ids,
        today=datetime.date.today(),  # noqa: DTZ011  clock on the wall
    )


def day_from(session: Session, car_id: int, form: Form, prefix: str = "") -> DayRow | None:
    """The day that a form names: one that is there, or a new one by its date and label; None where it names none."""
    number = whole_number(form.text(f"{prefix}day"))
    if number is not None:
        day = found(session, DayRow, number)
        if day.car_id != car_id:
            raise WrongUse("this is a test day of another car", advice="Choose one of this car.")
        return day
    date = date_in(form, f"{prefix}date", "The date")
    if date is None:
        return None
    label = form.text(f"{prefix}label") or date.isoformat()
    there = catalogue.day_labelled(session, car_id, label)
    return there or catalogue.add(session, DayRow(car_id=car_id, label=label, date=date))


def edit_day(request: Request, form: Form) -> Response:
    """Conditions, fuel, people aboard, place and notes of a day."""
    with desk_of(request).library.transaction() as session:
        day = found(session, DayRow, request.path_params["day"])
        day.label = form.text("label") or day.label
        day.date = date_in(form, "date", "The date") or day.date
        _set_air(day, form)
        people = number_in(form, "people", "People aboard", 1, 9)
        day.people = None if people is None else int(people)
        day.place, day.fuel, day.notes = form.text("place"), form.text("fuel"), form.text("notes")
        catalogue.add(session, day)
    return go_to(request, f"/days/{day.id}")


def _set_air(row: DayRow | LogRow, form: Form) -> None:
    for name, (label, low, high) in AIR.items():
        setattr(row, name, number_in(form, name, label, low, high))


def edit_log(request: Request, form: Form) -> Response:
    """When a log was recorded, in which direction, in what air, and on which day."""
    with desk_of(request).library.transaction() as session:
        row = found(session, LogRow, request.path_params["log"])
        row.when = moment_in(form, "when", "The time")
        row.direction = form.text("direction") if form.text("direction") in DIRECTIONS else None
        _set_air(row, form)
        if form.has("day") or form.has("date"):
            day = day_from(session, row.car_id, form)
            row.day_id = None if day is None else day.id
    return go_to(request, f"/days/{row.day_id}" if row.day_id else f"/cars/{row.car_id}/days")


def state_build(request: Request, form: Form) -> Response:
    """Say which changes were on the car that day, or go back to their dates."""
    numbers = [number for text in form.texts("fitted") if (number := whole_number(text)) is not None]
    with desk_of(request).library.transaction() as session:
        day = found(session, DayRow, request.path_params["day"])
        catalogue.state_build(session, day, None if form.has("by-date") else numbers)
    return go_to(request, f"/days/{day.id}")


def delete_day(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete a day; its logs stay, and it can be taken back."""
    with desk_of(request).library.transaction() as session:
        day = found(session, DayRow, request.path_params["day"])
        catalogue.delete(session, day)
    return go_to(request, f"/cars/{day.car_id}/days", gone=f"day-{day.id}")


ROUTES = [
    page("/cars/{car:int}/days", show_days),
    page("/days/{day:int}", show_day),
    action("/days/{day:int}", edit_day),
    action("/days/{day:int}/build", state_build),
    action("/days/{day:int}/delete", delete_day),
    action("/logs/{log:int}/said", edit_log),
]
