"""Power at the wheels over engine speed, with what is in doubt about it."""

import datetime
from typing import cast

from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.mean_power import mean_power
from pullproof.analysis.wheel_power import PowerCurve, Standard, power_curve
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.readings import Recorded, records_of
from pullproof.library.schema import CarRow
from pullproof.report.model import Report
from pullproof.report.power_sections import STANDARD_NAMES, power_report
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in
from pullproof.web.picking import Picked, pick
from pullproof.web.rendering import render
from pullproof.web.reports import as_file
from pullproof.web.routing import page

__all__ = ["ROUTES"]


def show(request: Request) -> Response:
    """Power of the pulls that were picked."""
    library, car = desk_of(request).library, car_in(request)
    picked, standard = pick(request, library, car), _standard(request)
    report, refusal = None, None
    try:
        report = _report(library, car, picked, standard)
    except CannotAnswer as error:
        refusal = error
    return render(
        request,
        "power.html",
        car=car,
        picked=picked,
        standard=standard,
        standards=STANDARD_NAMES,
        report=report,
        refusal=refusal,
    )


def _standard(request: Request) -> Standard:
    asked = request.query_params.get("standard", "none")
    if asked not in STANDARD_NAMES:
        raise WrongUse(f'there is no standard "{asked}"', advice=f"Choose one of: {', '.join(STANDARD_NAMES)}.")
    return cast("Standard", asked)


def _report(library: Library, car_row: CarRow, picked: Picked, standard: Standard) -> Report:
    if not picked.chosen:
        raise CannotAnswer("there is no log to look at", advice="Drop the logs of a test day first.")
    car = catalogue.car_of(car_row)
    recorded = records_of(library, car_row.id, picked.selection)
    curves, reasons = _curves(recorded, car_row, standard)
    refused = [f"{pull.log} from {pull.start_s:.1f} s: {pull.reason}" for pull in recorded.refused]
    return power_report(
        curves,
        mean_power(curves),
        standard=standard,
        car=car,
        made_at=datetime.datetime.now().astimezone(),
        left_out=(*reasons, *refused),
    )


def _curves(recorded: Recorded, car_row: CarRow, standard: Standard) -> tuple[list[PowerCurve], list[str]]:
    """The curves, and a sentence on each pull that gives none."""
    curves: list[PowerCurve] = []
    reasons: list[CannotAnswer] = []
    for record in recorded.records:
        try:
            curves.append(power_curve(record, catalogue.car_of(car_row), standard=standard))
        except CannotAnswer as error:
            reasons.append(error)
    if curves:
        return curves, [str(reason) for reason in reasons]
    if reasons:
        raise reasons[0]
    raise CannotAnswer(
        "none of these logs has a pull that counts", advice="Choose another day, or look why the pulls were refused."
    )


def export(request: Request) -> Response:
    """The report on power, to keep."""
    library, car = desk_of(request).library, car_in(request)
    report = _report(library, car, pick(request, library, car), _standard(request))
    return as_file(report, request.path_params["kind"], f"{car.name} power")


ROUTES = [page("/cars/{car:int}/power", show), page("/cars/{car:int}/power/report/{kind}", export)]
