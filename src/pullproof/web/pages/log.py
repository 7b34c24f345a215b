"""A log: its traces over time, its pulls with the reason of each, and the user's word on them."""

import math

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import FileResponse, Response

from pullproof.analysis.watch import Event, watch
from pullproof.errors import PullproofError, WrongUse
from pullproof.library import catalogue
from pullproof.library.files import original_path
from pullproof.library.readings import conditions_of, log_of, pulls_of
from pullproof.library.schema import CarRow, DayRow, LogRow, OverrulingRow
from pullproof.report.watch_sections import event_cells
from pullproof.web.desk import desk_of
from pullproof.web.finding import found
from pullproof.web.rendering import is_partial, link, render
from pullproof.web.routing import Form, action, go_to, page
from pullproof.web.traces import offered, packed, shown, usual_choice

__all__ = ["ROUTES"]

MOST_CHANNELS = 8


def _log_in(request: Request, session: Session) -> LogRow:
    return found(session, LogRow, request.path_params["log"])


def show(request: Request) -> Response:
    """Traces, pulls, and what the reader says of the file."""
    library = desk_of(request).library
    with library.reading() as session:
        row = _log_in(request, session)
        car = found(session, CarRow, row.car_id)
        day = session.get(DayRow, row.day_id) if row.day_id else None
        words = catalogue.overrulings(session, row.id)
    log, pulls = log_of(library, row.id), pulls_of(library, row.id)
    channels = offered(log)
    names = {channel.name for channel in channels}
    asked = [name for name in request.query_params.getlist("channel") if name in names]
    chosen = asked[:MOST_CHANNELS] or usual_choice(log)
    return render(
        request,
        "parts/pulls.html" if is_partial(request) else "log.html",
        car=car,
        row=row,
        day=day,
        log=log,
        pulls=pulls,
        words=words,
        channels=channels,
        chosen=[channel for name in chosen for channel in channels if channel.name == name],
        start=_seconds(request, "from", 0.0),
        end=_seconds(request, "to", log.duration_s),
        spans=[
            {"start": pull.start_s, "end": pull.end_s, "used": pull.used, "label": str(number)}
            for number, pull in enumerate(pulls, 1)
        ],
    )


def events(request: Request) -> Response:
    """Limits of the engine that were passed in this log. Looked for after the traces are there."""
    library = desk_of(request).library
    with library.reading() as session:
        row = _log_in(request, session)
        car = found(session, CarRow, row.car_id)
    found_events: tuple[Event, ...] = ()
    refusal = None
    try:
        log, sheet = log_of(library, row.id), conditions_of(library, car.id)
        found_events = watch([log], car=catalogue.car_of(car), conditions=sheet).events
    except PullproofError as error:
        refusal = error
    rows = [(event, event_cells(event)) for event in found_events]
    return render(request, "parts/events.html", car=car, row=row, rows=rows, refusal=refusal)


def samples(request: Request) -> Response:
    """The samples of some channels within a window of time, thinned out to a picture's width."""
    library = desk_of(request).library
    with library.reading() as session:
        row = _log_in(request, session)
    start, end = _seconds(request, "from", 0.0), _seconds(request, "to", row.duration_s)
    width = request.query_params.get("columns", "1000")
    columns = int(width) if width.isascii() and width.isdigit() and len(width) < 6 else 1000
    names = request.query_params.getlist("channel")[:MOST_CHANNELS]
    every = [one for name in names if (one := shown(library, row, name)) is not None]
    return Response(packed(every, start, max(start, end), columns), media_type="application/octet-stream")


def _seconds(request: Request, name: str, missing: float) -> float:
    try:
        value = float(request.query_params.get(name, missing))
    except ValueError:
        return missing
    return value if math.isfinite(value) else missing


def overrule(request: Request, form: Form) -> Response:
    """Use a pull that was refused, or set one aside, and keep the reason."""
    library = desk_of(request).library
    start, end = _number(form, "start"), _number(form, "end")
    with library.transaction() as session:
        row = _log_in(request, session)
        catalogue.overrule(session, row.id, start, end, use=form.text("use") == "yes", reason=form.text("reason"))
    return _back(request, form, row.id)


def take_back(request: Request, form: Form) -> Response:
    """Take the last word on a pull back: the pull is judged by itself again."""
    library = desk_of(request).library
    start, end = _number(form, "start"), _number(form, "end")
    with library.transaction() as session:
        row = _log_in(request, session)
        for word in _words_on(catalogue.overrulings(session, row.id), start, end):
            catalogue.delete(session, word)
    return _back(request, form, row.id)


def _words_on(words: list[OverrulingRow], start: float, end: float) -> list[OverrulingRow]:
    return [word for word in words if min(end, word.end_s) > max(start, word.start_s)]


def _back(request: Request, form: Form, log_id: int) -> Response:
    if is_partial(request):
        return show(request)
    kept = form.text("back")
    return go_to(request, kept if kept.startswith("/cars/") else f"/logs/{log_id}")


def _number(form: Form, name: str) -> float:
    try:
        return float(form.text(name))
    except ValueError:
        raise WrongUse(f'"{name}" is no time', advice="Load the page again.") from None


def delete(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete a log; it can be taken back."""
    with desk_of(request).library.transaction() as session:
        row = _log_in(request, session)
        catalogue.delete(session, row)
    return go_to(request, f"/cars/{row.car_id}/days", gone=f"log-{row.id}")


def original(request: Request) -> Response:
    """The file as it came, byte for byte."""
    library = desk_of(request).library
    with library.reading() as session:
        row = _log_in(request, session)
    return FileResponse(
        original_path(library.folder, row.hash),
        media_type="application/octet-stream",
        filename=row.file,
        content_disposition_type="attachment",
    )


def address(log_id: int, start: float, end: float) -> str:
    """Where the page of a log shows a span of time with some air around it."""
    air = max(1.0, 0.4 * (end - start))
    return link(f"/logs/{log_id}", **{"from": f"{max(0.0, start - air):.2f}", "to": f"{end + air:.2f}"})


ROUTES = [
    page("/logs/{log:int}", show),
    page("/logs/{log:int}/samples", samples),
    page("/logs/{log:int}/events", events),
    page("/logs/{log:int}/original", original),
    action("/logs/{log:int}/overrule", overrule),
    action("/logs/{log:int}/take-back", take_back),
    action("/logs/{log:int}/delete", delete),
]
