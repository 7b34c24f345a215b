"""Watch over the engine: where a limit was passed, how near the others came, and what could not be watched."""

import datetime

from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.watch import watch
from pullproof.errors import CannotAnswer, PullproofError
from pullproof.library import Library, catalogue
from pullproof.library.readings import conditions_of, log_of
from pullproof.library.schema import CarRow
from pullproof.report.model import Report
from pullproof.report.watch_sections import watch_report
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in
from pullproof.web.picking import Picked, pick
from pullproof.web.rendering import render
from pullproof.web.reports import as_file
from pullproof.web.routing import page

__all__ = ["ROUTES"]


def show(request: Request) -> Response:
    """What was watched in the logs that were picked."""
    library, car = desk_of(request).library, car_in(request)
    picked = pick(request, library, car)
    report, refusal = None, None
    try:
        report = _report(library, car, picked)
    except PullproofError as error:
        refusal = error
    return render(request, "watch.html", car=car, picked=picked, report=report, refusal=refusal)


def _report(library: Library, row: CarRow, picked: Picked) -> Report:
    if not picked.chosen:
        raise CannotAnswer("there is no log to look at", advice="Drop the logs of a test day first.")
    car = catalogue.car_of(row)
    logs = [log_of(library, log) for log in picked.chosen]
    found = watch(logs, car=car, conditions=conditions_of(library, row.id))
    return watch_report(found, car=car, made_at=datetime.datetime.now().astimezone())


def export(request: Request) -> Response:
    """The report on what was watched, to keep."""
    library, car = desk_of(request).library, car_in(request)
    report = _report(library, car, pick(request, library, car))
    return as_file(report, request.path_params["kind"], f"{car.name} margins")


ROUTES = [page("/cars/{car:int}/watch", show), page("/cars/{car:int}/watch/report/{kind}", export)]
