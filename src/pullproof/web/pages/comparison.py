"""Two sets of pulls against each other: chosen, compared, windowed, kept, exported."""

from dataclasses import dataclass

import numpy as np
from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.air_system import AirComparison
from pullproof.analysis.comparison.result import Comparison
from pullproof.computed_channels import PullRecord
from pullproof.curves import curve
from pullproof.errors import CannotAnswer, PullproofError
from pullproof.library import Library, catalogue
from pullproof.library.readings import Recorded, compare_selections, records_of
from pullproof.library.schema import CarRow, ComparisonRow, DayRow, LogRow
from pullproof.measures import MEASURES
from pullproof.pulls import Pull
from pullproof.report.air_section import air_section
from pullproof.report.drawables import CurveDrawing, Line, Panel, axis_label, padded
from pullproof.report.evidence import cautions_section, doubts_section, method_section, next_section
from pullproof.report.findings import checks_section, curves_section, headline, main_measure, measures_section
from pullproof.report.wording import channel_name, unit_text
from pullproof.web.air_system import air_of
from pullproof.web.asked import LEVELS, Asked, Side
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in, whole_number
from pullproof.web.pages.log import address as log_address
from pullproof.web.pairs import pairs
from pullproof.web.remembered import remembered
from pullproof.web.rendering import is_partial, render
from pullproof.web.routing import page

__all__ = ["ROUTES", "ComparedPull", "Ground", "air_compared", "compared", "ground_of"]

OVERVIEW = ("wastegate_duty", "boost", "charge_pressure", "manifold_pressure", "wheel_power", "engine_load")
"""What the pulls are shown by where the main measure's own channel is not logged."""

STEP_RPM = 50.0


@dataclass(frozen=True, slots=True)
class Ground:
    """What a car's comparisons can be made of."""

    car: CarRow
    logs: tuple[LogRow, ...]
    days: tuple[DayRow, ...]


@dataclass(frozen=True, slots=True)
class ComparedPull:
    """One pull of a side, in or out, with where to see it and the address that turns it."""

    pull: Pull
    log: LogRow
    number: str
    used: bool
    clicked_out: bool
    seen_at: str
    turned: str


def ground_of(library: Library, car: CarRow) -> Ground:
    """Days and logs of a car."""
    with library.reading() as session:
        return Ground(car, tuple(catalogue.logs(session, car.id)), tuple(catalogue.days(session, car.id)))


def compared(library: Library, ground: Ground, asked: Asked) -> Comparison:
    """The comparison that an address asks for."""
    before, after = asked.selection("before", ground.logs), asked.selection("after", ground.logs)

    def make() -> Comparison:
        return compare_selections(
            library, ground.car.id, before, after, window=asked.window, level=asked.level, main=asked.main
        )

    return remembered(library, ground.car, (before, after, asked.window, asked.level, asked.main), make)


def air_compared(library: Library, ground: Ground, asked: Asked) -> AirComparison:
    """The air system of the pulls that the comparison of an address used."""
    before, after = asked.selection("before", ground.logs), asked.selection("after", ground.logs)
    return air_of(library, ground.car, compared(library, ground, asked), before, after)


def show(request: Request) -> Response:
    """Choose two sides; once both are there, the verdict and all that belongs to it."""
    library, car = desk_of(request).library, car_in(request)
    ground = ground_of(library, car)
    asked = Asked.in_address(request.query_params)
    path = request.url.path
    clean = asked.address(path)
    headers = {"HX-Push-Url": clean} if is_partial(request) else {}
    with library.reading() as session:
        kept, offered = catalogue.comparisons(session, car.id), pairs(session, car.id)
    result = _result(library, ground, asked, path) if asked.is_whole else {}
    return render(
        request,
        "parts/comparison.html" if is_partial(request) else "comparison.html",
        headers=headers,
        car=car,
        ground=ground,
        asked=asked,
        clean=clean,
        pairs=offered,
        kept=kept,
        measures=MEASURES,
        levels=LEVELS,
        keeping=_keeping(request, kept),
        result=result,
    )


def show_air(request: Request) -> Response:
    """The air system of both sides, fetched once the verdict is there."""
    library, car = desk_of(request).library, car_in(request)
    ground, asked = ground_of(library, car), Asked.in_address(request.query_params)
    try:
        air = air_compared(library, ground, asked)
    except CannotAnswer as error:
        return render(request, "parts/air.html", refusal=error)
    return render(request, "parts/air.html", refusal=None, air=air_section(air))


def _keeping(request: Request, kept: list[ComparisonRow]) -> ComparisonRow | None:
    """The kept comparison that the page was opened from."""
    number = whole_number(request.query_params.get("kept", ""))
    return next((row for row in kept if row.id == number), None)


def _result(library: Library, ground: Ground, asked: Asked, path: str) -> dict[str, object]:
    """Everything below the choice. What cannot be answered is said in its place, with the pulls beside it."""
    sides: dict[Side, Recorded] = {}
    listed: dict[Side, list[ComparedPull]] = {}
    for side in ("before", "after"):
        sides[side] = records_of(library, ground.car.id, asked.selection(side, ground.logs))
    try:
        comparison = compared(library, ground, asked)
    except PullproofError as error:
        if not isinstance(error, CannotAnswer):
            raise
        for side, recorded in sides.items():
            every = (*(record.pull for record in recorded.records), *recorded.refused)
            listed[side] = _pulls(every, ground, asked, path)
        return {"refusal": error, "pulls": listed, "overview": _overview(sides, None, asked)}
    listed = {
        "before": _pulls(comparison.before, ground, asked, path),
        "after": _pulls(comparison.after, ground, asked, path),
    }
    main = main_measure(comparison)
    logs = tuple({record.log.file: record.log for side in sides.values() for record in side.records}.values())
    return {
        "refusal": None,
        "comparison": comparison,
        "pulls": listed,
        "headline": headline(comparison),
        "curves": curves_section(comparison),
        "sections": [
            section
            for section in (
                measures_section(comparison),
                checks_section(comparison),
                doubts_section(comparison, logs),
                method_section(comparison, main),
                next_section(comparison),
                cautions_section(comparison.cautions),
            )
            if section is not None
        ],
        "overview": _overview(sides, comparison, asked),
    }


def _pulls(pulls: tuple[Pull, ...], ground: Ground, asked: Asked, path: str) -> list[ComparedPull]:
    by_name = {row.name: row for row in ground.logs}
    found = []
    counts: dict[str, int] = {}
    for pull in sorted(pulls, key=lambda pull: (pull.log, pull.start_s)):
        row = by_name[pull.log]
        counts[pull.log] = counts.get(pull.log, 0) + 1
        found.append(
            ComparedPull(
                pull=pull,
                log=row,
                number=f"{row.id}-{round(pull.start_s * 10)}",
                used=pull.used,
                clicked_out=asked.leaves_out(row.id, pull.start_s),
                seen_at=log_address(row.id, pull.start_s, pull.end_s),
                turned=asked.toggled(row.id, pull.start_s).address(path),
            )
        )
    return found


def _overview(sides: dict[Side, Recorded], comparison: Comparison | None, asked: Asked) -> CurveDrawing | None:
    """Every pull that counts, over its whole length: where the window can be chosen."""
    records = {side: list(recorded.records) for side, recorded in sides.items()}
    wanted = comparison.main.partition(".")[0] if comparison else (asked.main or "").partition(".")[0]
    every = [record for side in records.values() for record in side]
    for channel in dict.fromkeys([wanted, *OVERVIEW]):
        if every and all(channel in record.traces for record in every):
            break
    else:
        return None
    unit = next(record.traces[channel].unit for record in every)
    low = min(record.pull.rpm_start for record in every)
    high = max(record.pull.rpm_end for record in every)
    grid = np.arange(np.floor(low / STEP_RPM) * STEP_RPM, high + STEP_RPM, STEP_RPM)
    lines = []
    for side, named in (("before", "before"), ("after", "after")):
        for record in records[side]:  # type: ignore[index]
            values = _curve(record, channel, grid)
            if values is not None:
                lines.append(Line(f"pull-{side}", named, grid, values))  # type: ignore[arg-type]
    if not lines:
        return None
    name = channel_name(channel)
    return CurveDrawing(
        title=f"Every pull that counts: {name} over engine speed",
        description="Dashed: before. Solid: after. Shaded: the window.",
        x_label="engine speed, rpm",
        x_range=(float(grid[0]), float(grid[-1])),
        panels=(Panel(axis_label(name, unit_text(unit, channel)), padded([line.y for line in lines]), tuple(lines)),),
    )


def _curve(record: PullRecord, channel: str, grid: np.ndarray) -> np.ndarray | None:
    try:
        return curve(record, channel, grid)
    except CannotAnswer:
        return None


ROUTES = [page("/cars/{car:int}/compare", show), page("/cars/{car:int}/compare/air", show_air)]
