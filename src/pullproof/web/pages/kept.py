"""Keep a comparison, name it, note something beside it, and take it away as a file."""

from urllib.parse import parse_qsl

from starlette.datastructures import QueryParams
from starlette.requests import Request
from starlette.responses import JSONResponse, Response

from pullproof.errors import WrongUse
from pullproof.library import catalogue
from pullproof.library.readings import conditions_of, records_of
from pullproof.library.schema import ComparisonRow
from pullproof.report.documents import comparison_document
from pullproof.web.asked import Asked
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in, found
from pullproof.web.pages.comparison import air_compared, compared, ground_of
from pullproof.web.reports import as_file, attached, comparison_csv, comparison_report
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES"]


def keep(request: Request, form: Form) -> Response:
    """Keep what the page shows, with the numbers as they are now."""
    library, car = desk_of(request).library, car_in(request)
    asked = Asked.in_address(QueryParams(parse_qsl(form.text("asked"))))
    name = form.text("name")
    if not name:
        raise WrongUse("the comparison has no name", advice="Give it one that you will know again.")
    ground = ground_of(library, car)
    result = comparison_document(compared(library, ground, asked))
    low, high = asked.window or (None, None)
    row = ComparisonRow(
        car_id=car.id,
        name=name,
        note=form.text("note"),
        before=asked.selection("before", ground.logs).as_json(),
        after=asked.selection("after", ground.logs).as_json(),
        window_low_rpm=low,
        window_high_rpm=high,
        main=asked.main,
        level=asked.level,
        result=result,
    )
    with library.transaction() as session:
        catalogue.add(session, row)
    return go_to(request, f"/comparisons/{row.id}")


def show(request: Request) -> Response:
    """Lead to the page that shows it: what was chosen stands in the address there."""
    with desk_of(request).library.reading() as session:
        row = found(session, ComparisonRow, request.path_params["comparison"])
    address = Asked.kept(row).address(f"/cars/{row.car_id}/compare")
    return go_to(request, f"{address}&kept={row.id}")


def edit(request: Request, form: Form) -> Response:
    """Another name or note."""
    with desk_of(request).library.transaction() as session:
        row = found(session, ComparisonRow, request.path_params["comparison"])
        row.name, row.note = form.text("name") or row.name, form.text("note")
    return go_to(request, f"/comparisons/{row.id}")


def delete(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Delete it; it can be taken back."""
    with desk_of(request).library.transaction() as session:
        row = found(session, ComparisonRow, request.path_params["comparison"])
        catalogue.delete(session, row)
    return go_to(request, f"/cars/{row.car_id}/compare", gone=f"comparison-{row.id}")


def export(request: Request) -> Response:
    """The report as a file: HTML, PDF or PNG; the numbers as CSV or JSON."""
    library, car, kind = desk_of(request).library, car_in(request), request.path_params["kind"]
    ground = ground_of(library, car)
    asked = Asked.in_address(request.query_params)
    comparison = compared(library, ground, asked)
    title = request.query_params.get("name")
    if kind == "json":
        document = comparison_document(comparison, air=air_compared(library, ground, asked))
        return JSONResponse(document, headers=attached(title or car.name, kind))
    if kind == "csv":
        headers = attached(title or car.name, kind)
        return Response(comparison_csv(comparison), media_type="text/csv; charset=utf-8", headers=headers)
    before, after = (
        records_of(library, car.id, asked.selection(side, ground.logs)).records for side in ("before", "after")
    )
    conditions = conditions_of(library, car.id)
    air = air_compared(library, ground, asked)
    report = comparison_report(comparison, air, (before, after), catalogue.car_of(car), conditions, title)
    return as_file(report, kind, title or car.name)


ROUTES = [
    action("/cars/{car:int}/compare/keep", keep),
    page("/cars/{car:int}/compare/report/{kind}", export),
    page("/comparisons/{comparison:int}", show),
    action("/comparisons/{comparison:int}", edit),
    action("/comparisons/{comparison:int}/delete", delete),
]
