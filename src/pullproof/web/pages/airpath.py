"""The air path: elements with their dimensions, and what they lose over the car's own flow, redrawn as one types."""

import datetime
from dataclasses import dataclass

from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.airpath import (
    FlowCurve,
    analyse_path,
    compare_paths,
    cut_list,
    flow_from_logs,
    flow_from_sheets,
    parse_path,
)
from pullproof.car import Car
from pullproof.errors import CannotAnswer, PullproofError, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.readings import records_of
from pullproof.library.schema import CarRow, ChangeRow, DayRow
from pullproof.report.model import Report
from pullproof.report.path_sections import airpath_report
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in, found, whole_number
from pullproof.web.paths import EXAMPLE, HEAD, KINDS, Drawn, Side, drawn_in, drawn_of
from pullproof.web.rendering import is_partial, link, render
from pullproof.web.reports import as_file
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES"]


@dataclass(frozen=True, slots=True)
class Scene:
    """What the page is about: one path or two, and the flow through them."""

    car: CarRow
    paths: dict[Side, Drawn]
    days: tuple[DayRow, ...]
    flow: str
    """Number of the test day whose pulls give the flow; empty for the data sheet."""
    example: bool

    def address(self, path: str) -> str:
        """The address that shows the same."""
        fields = {name: value for side, drawn in self.paths.items() for name, value in drawn.fields(side).items()}
        return link(path, **fields, flow=self.flow)


def _scene(request: Request, library: Library, car: CarRow) -> Scene:
    said = request.query_params
    with library.reading() as session:
        days = tuple(catalogue.days(session, car.id))
        kept = [change for change in catalogue.changes(session, car.id) if change.path_sheet]
    sheets = _kept_sheets(kept, whole_number(said.get("change", "")))
    paths: dict[Side, Drawn] = {}
    for side, sheet in sheets.items():
        drawn = drawn_in(said, side, drawn_of(sheet).flow)
        paths[side] = drawn or drawn_of(sheet)
    if "after" not in paths and (second := drawn_in(said, "after", paths["before"].flow)):
        paths["after"] = second
    if any(name.startswith("before-") for name in said) and not any(name.startswith("after-") for name in said):
        paths.pop("after", None)
    do = said.get("do", "")
    for side in tuple(paths):
        if do.startswith(f"{side}-"):
            paths[side] = paths[side].done(do.removeprefix(f"{side}-"))
    if do == "compare":
        paths["after"] = paths["before"]
    if do == "alone":
        paths.pop("after", None)
    flow = said.get("flow", str(days[-1].id) if days else "")
    typed = any(name.startswith("before-") for name in said)
    return Scene(car, paths, days, flow if whole_number(flow) else "", example=not kept and not typed)


def _kept_sheets(kept: list[ChangeRow], wanted: int | None) -> dict[Side, str]:
    """Path files to begin with: that of a change, and that of the one before it."""
    if not kept:
        return {"before": EXAMPLE}
    at = next((number for number, change in enumerate(kept) if change.id == wanted), len(kept) - 1)
    if at == 0:
        return {"before": kept[0].path_sheet}
    return {"before": kept[at - 1].path_sheet, "after": kept[at].path_sheet}


def show(request: Request) -> Response:
    """The elements, and what they lose."""
    library, car = desk_of(request).library, car_in(request)
    scene = _scene(request, library, car)
    typing = is_partial(request) and not request.query_params.get("do") and "kind" not in _changed(request)
    template = "airpath.html"
    if is_partial(request):
        template = "parts/airpath_loss.html" if typing else "parts/airpath.html"
    with library.reading() as session:
        changes = catalogue.changes(session, car.id)
    report, refusal = None, None
    try:
        report = _report(library, scene)
    except PullproofError as error:
        refusal = error
    return render(
        request,
        template,
        headers={"HX-Replace-Url": scene.address(request.url.path)} if is_partial(request) else {},
        car=car,
        scene=scene,
        kinds=KINDS,
        head=HEAD,
        changes=changes,
        report=report,
        refusal=refusal,
        query=scene.address("").removeprefix("?"),
    )


def _changed(request: Request) -> str:
    """Name of the field that was changed last, as the page tells it."""
    return request.headers.get("hx-trigger-name", "")


def _report(library: Library, scene: Scene) -> Report:
    car = catalogue.car_of(scene.car)
    paths = [parse_path(drawn.toml(), f"path {side}") for side, drawn in scene.paths.items()]
    flow = _flow(library, scene, car) or flow_from_sheets(car, paths[0].flow)
    comparison = compare_paths(paths[0], paths[1], flow) if len(paths) == 2 else None
    results = (comparison.before, comparison.after) if comparison else (analyse_path(paths[0], flow),)
    made_at = datetime.datetime.now().astimezone()
    return airpath_report(results, comparison, cut_list(paths[-1]), car=car, made_at=made_at)


def _flow(library: Library, scene: Scene, car: Car) -> FlowCurve | None:
    """The car's own flow from the pulls of a day; None where the data sheet has to do."""
    number = whole_number(scene.flow)
    if number is None:
        return None
    records = records_of(library, scene.car.id, Selection(days=(number,))).records
    if not records:
        raise CannotAnswer(
            "this test day has no pull that counts", advice="Choose another day, or the data sheet, for the flow."
        )
    return flow_from_logs(records, car)


def keep(request: Request, form: Form) -> Response:
    """Keep a path as the one that is there with a change fitted."""
    library, car = desk_of(request).library, car_in(request)
    side: Side = "after" if form.text("side") == "after" else "before"
    fields = {name: form.text(name) for name in form.names()}
    drawn = drawn_in(fields, side, {})
    number = whole_number(form.text("change"))
    if drawn is None or number is None:
        raise WrongUse("there is nothing to keep", advice="Draw a path, and choose the change that it belongs to.")
    sheet = drawn.toml()
    parse_path(sheet, f"path {side}")
    with library.transaction() as session:
        change = found(session, ChangeRow, number)
        if change.car_id != car.id:
            raise WrongUse("this change was made on another car", advice="Choose one of this car.")
        change.path_sheet = sheet
        catalogue.add(session, change)
    return go_to(request, f"/cars/{car.id}/airpath", change=change.id)


def export(request: Request) -> Response:
    """The report on the path, to keep or to take to the bench."""
    library, car = desk_of(request).library, car_in(request)
    scene = _scene(request, library, car)
    return as_file(_report(library, scene), request.path_params["kind"], f"{car.name} air path")


ROUTES = [
    page("/cars/{car:int}/airpath", show),
    action("/cars/{car:int}/airpath/keep", keep),
    page("/cars/{car:int}/airpath/report/{kind}", export),
]
