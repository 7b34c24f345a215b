"""What each column of a log was taken for, with the evidence, to confirm or to correct."""

from starlette.requests import Request
from starlette.responses import Response

from pullproof.channels import CHANNELS
from pullproof.errors import WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.readings import log_of
from pullproof.library.schema import CarRow, LogRow
from pullproof.web.desk import desk_of
from pullproof.web.finding import found, whole_number
from pullproof.web.recognised import SKETCH, columns_shown, decide, units_for
from pullproof.web.rendering import is_partial, render
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES"]


def show(request: Request) -> Response:
    """Every column with its values, what speaks for and against, and the choice."""
    library = desk_of(request).library
    with library.reading() as session:
        row = found(session, LogRow, request.path_params["log"])
        car = found(session, CarRow, row.car_id)
        others = [one for one in catalogue.logs(session, car.id) if one.signature == row.signature and one.id != row.id]
    log = log_of(library, row.id)
    return render(
        request,
        "parts/columns.html" if is_partial(request) else "columns.html",
        car=car,
        row=row,
        log=log,
        columns=columns_shown(library, row, log),
        channels=CHANNELS,
        others=others,
        sketch=SKETCH,
        ruled=catalogue.car_of(car).columns,
    )


def units(request: Request) -> Response:
    """The units that a file may use for a channel, as choices."""
    channel = request.query_params.get("channel", "")
    choices = units_for(channel) if channel in CHANNELS else ()
    return render(request, "parts/units.html", choices=choices, chosen="")


def correct(request: Request, form: Form) -> Response:
    """Say what one column is."""
    library, row, header = _column(request, form)
    decide(library, row, header, form.text("channel"), form.text("unit"), _by(request))
    return show(request) if is_partial(request) else go_to(request, f"/logs/{row.id}/columns")


def confirm(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Say that all columns are what they were taken for: the next log of this logger asks nothing."""
    library = desk_of(request).library
    with library.reading() as session:
        row = found(session, LogRow, request.path_params["log"])
    for one in columns_shown(library, row, log_of(library, row.id)):
        if one.column.channel is not None and one.decided is None:
            channel = one.column.channel
            if channel in CHANNELS:
                decide(library, row, one.column.header, channel, one.column.unit or "", _by(request))
    return show(request) if is_partial(request) else go_to(request, f"/logs/{row.id}/columns")


def forget(request: Request, form: Form) -> Response:
    """Take the word on one column back: it is recognised by itself again."""
    library, row, header = _column(request, form)
    with library.transaction() as session:
        catalogue.undecide_column(session, row.signature, header)
    return show(request) if is_partial(request) else go_to(request, f"/logs/{row.id}/columns")


def _column(request: Request, form: Form) -> tuple[Library, LogRow, str]:
    library = desk_of(request).library
    with library.reading() as session:
        row = found(session, LogRow, request.path_params["log"])
    headers = [column.header for column in log_of(library, row.id).columns]
    number = whole_number(form.text("column"))
    if number is None or number >= len(headers):
        raise WrongUse("there is no such column", advice="Load the page again.")
    return library, row, headers[number]


def _by(request: Request) -> str:
    person = request.scope.get("pullproof.person")
    return person.name if person else ""


ROUTES = [
    page("/logs/{log:int}/columns", show),
    page("/units", units),
    action("/logs/{log:int}/columns", correct),
    action("/logs/{log:int}/columns/confirm", confirm),
    action("/logs/{log:int}/columns/forget", forget),
]
