"""Rolling resistance and drag area from coast-downs, and the way into the data sheet."""

import tempfile
from pathlib import Path

import numpy as np
from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.coastdown import CoastDown, Estimate, coast_down, write_into_car_sheet
from pullproof.errors import CannotAnswer
from pullproof.library import Library, catalogue
from pullproof.library.readings import conditions_of, log_of
from pullproof.library.schema import CarRow
from pullproof.report.drawables import CurveDrawing, Line, Panel, padded
from pullproof.report.model import Cell, Column, Plate, Points, Row, Section, Table
from pullproof.report.rounding import Rounding
from pullproof.report.wording import typographic
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in, found
from pullproof.web.picking import Picked, pick
from pullproof.web.rendering import render
from pullproof.web.routing import Form, action, go_to, page

__all__ = ["ROUTES"]

STATUS = {"pass": "✓ met", "fail": "✗ not met", "not known": "? not known"}


def show(request: Request) -> Response:
    """What the coast-downs of the picked logs say."""
    library, car = desk_of(request).library, car_in(request)
    picked = pick(request, library, car)
    result, refusal = None, None
    try:
        result = _found(library, car, picked)
    except CannotAnswer as error:
        refusal = error
    return render(
        request,
        "coastdown.html",
        car=car,
        picked=picked,
        refusal=refusal,
        result=result,
        rolling="" if result is None else estimate_text(result.rolling_resistance, ""),
        area="" if result is None else estimate_text(result.drag_area_m2, "m²"),
        sections=[] if result is None else _sections(result),
    )


def _found(library: Library, car: CarRow, picked: Picked) -> CoastDown:
    if not picked.chosen:
        raise CannotAnswer("there is no log to look at", advice="Drop the logs of your coast-downs first.")
    logs = [log_of(library, log) for log in picked.chosen]
    return coast_down(logs, catalogue.car_of(car), conditions_of(library, car.id))


def estimate_text(estimate: Estimate, unit: str) -> str:
    """`0.0118 (0.0105 to 0.0131)`."""
    interval = (estimate.lower, estimate.upper)
    rounding = Rounding.of(interval, estimate.value, unit)
    return f"{rounding.plain(estimate.value)} ({rounding.bare(interval[0])} to {rounding.plain(interval[1])})"


def _sections(result: CoastDown) -> list[Section]:
    runs = Table(
        "Every stretch in which the car slowed down by itself",
        (Column("Run", 34), Column("Direction", 14), Column("Speed", 24), Column("Used", 28)),
        tuple(
            Row(
                (
                    Cell(f"{run.log}, {run.start_s:.0f} s"),
                    Cell(run.direction or "not said"),
                    Cell(f"{3.6 * run.speed[0]:.0f} to {3.6 * run.speed[-1]:.0f} km/h"),
                    Cell("✓ used" if run.used else "✗ refused", typographic(run.reason or "")),
                )
            )
            for run in result.runs
        ),
    )
    checks = Table(
        "Conditions that the standards set",
        (Column("Condition", 22), Column("", 16), Column("Found", 40), Column("Source", 22)),
        tuple(
            Row((Cell(check.id), Cell(STATUS[check.status]), Cell(typographic(check.detail)), Cell(check.source)))
            for check in result.checks
        ),
    )
    sections = [
        Section("Road load", "In still air of the day.", (_load(result),)),
        Section("Runs", "", (runs,)),
        Section("Conditions", "A standard run needs all of them.", (checks,)),
    ]
    if result.doubts:
        sections.append(Section("Doubts", "", (Points(tuple(typographic(doubt) for doubt in result.doubts)),)))
    return sections


def _load(result: CoastDown) -> Plate:
    low, high = result.speed_range_kmh
    speed = np.linspace(low, high, 60)
    force = result.force(speed)
    drawing = CurveDrawing(
        title="Force that slows the car over road speed",
        description="Rolling resistance and drag together, in still air of the day.",
        x_label="road speed, km/h",
        x_range=(float(low), float(high)),
        panels=(Panel("road load, N", padded([force, np.zeros(1)]), (Line("mean", "road load", speed, force),)),),
    )
    constant, quadratic = result.constant_force_n, result.quadratic_force_n
    return Plate(
        "Road load",
        drawing,
        (f"{constant:.0f} N that does not change with speed, and {quadratic:.0f} N of drag at 100 km/h.",),
    )


def write(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """Put both values with their doubts into the data sheet; all else in it stays."""
    library, car = desk_of(request).library, car_in(request)
    result = _found(library, car, pick(request, library, car))
    with tempfile.TemporaryDirectory(prefix="pullproof-sheet-") as folder:
        file = Path(folder) / "car.toml"
        file.write_text(car.sheet, encoding="utf-8")
        write_into_car_sheet(file, result)
        sheet = file.read_text("utf-8")
    with library.transaction() as session:
        catalogue.edit_car(session, found(session, CarRow, car.id), sheet)
    return go_to(request, f"/cars/{car.id}/sheet", saved="yes")


ROUTES = [page("/cars/{car:int}/coastdown", show), action("/cars/{car:int}/coastdown", write)]
