"""A car's page: what was done to it and when, its test days, and what each change did over the season."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session
from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.history import season_history
from pullproof.errors import CannotAnswer
from pullproof.library import Library, catalogue
from pullproof.library.schema import CarRow, ChangeRow, DayRow, PhotoRow
from pullproof.library.seasons import season_of
from pullproof.report.history_sections import history_report
from pullproof.report.model import Report, Section
from pullproof.web.deletions import gone_rows
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in
from pullproof.web.pages.change import KINDS, PLACES
from pullproof.web.pairs import Pair, pairs
from pullproof.web.remembered import remembered
from pullproof.web.rendering import link, render
from pullproof.web.reports import as_file
from pullproof.web.routing import page
from pullproof.web.sheets import missing_entries

__all__ = ["ROUTES"]


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of the timeline: a change fitted, a change removed, or a test day."""

    when: datetime.datetime
    kind: str
    change: ChangeRow | None = None
    photos: tuple[PhotoRow, ...] = ()
    day: DayRow | None = None
    logs: int = 0
    pair: Pair | None = None


def show(request: Request) -> Response:
    """Everything that happened to the car, newest first."""
    library, car = desk_of(request).library, car_in(request)
    with library.reading() as session:
        changes = catalogue.changes(session, car.id)
        entries = _entries(session, car, changes)
        gone = gone_rows(session, car.id, "change", "photo", "comparison")
    return render(
        request,
        "timeline.html",
        car=car,
        entries=entries,
        to_undo=[change for change in changes if change.temporary and change.removed is None],
        missing=missing_entries(car.sheet),
        kinds=KINDS,
        places=PLACES,
        changes=changes,
        gone_rows=gone,
        now=datetime.datetime.now().replace(second=0, microsecond=0),  # noqa: DTZ005  clock on the wall
    )


def _entries(session: Session, car: CarRow, changes: Sequence[ChangeRow]) -> list[Entry]:
    logs = catalogue.logs(session, car.id)
    by_change = {pair.last: pair for pair in pairs(session, car.id) if pair.last is not None}
    found = []
    for change in changes:
        photos = tuple(catalogue.photos(session, change.id))
        found.append(Entry(change.fitted, "fitted", change, photos, pair=by_change.get(change.id)))
        if change.removed is not None:
            found.append(Entry(change.removed, "removed", change))
    for day in catalogue.days(session, car.id):
        mine = [log for log in logs if log.day_id == day.id]
        first = min((log.when for log in mine if log.when is not None), default=None)
        when = first or datetime.datetime.combine(day.date, datetime.time(12))
        found.append(Entry(when, "day", day=day, logs=len(mine)))
    return sorted(found, key=lambda entry: entry.when, reverse=True)


def show_season(request: Request) -> Response:
    """What each change did, by the one model of the whole season. Slow the first time, so a part of its own."""
    library, car = desk_of(request).library, car_in(request)
    try:
        report = _season(library, car)
    except CannotAnswer as error:
        return render(request, "parts/season.html", refusal=error, report=None, measures=[], chosen=None)
    asked = request.query_params.get("measure", "")
    measures = [section for section in report.sections if _is_measure(section)]
    chosen = next((section for section in measures if section.heading == asked), measures[0] if measures else None)
    headers = {"HX-Replace-Url": link(f"/cars/{car.id}/timeline", measure=chosen.heading)} if asked and chosen else {}
    return render(
        request,
        "parts/season.html",
        headers=headers,
        refusal=None,
        report=report,
        measures=measures,
        chosen=chosen,
        car=car,
    )


def export(request: Request) -> Response:
    """The season as a report to keep."""
    library, car = desk_of(request).library, car_in(request)
    return as_file(_season(library, car), request.path_params["kind"], f"{car.name} season")


def _is_measure(section: Section) -> bool:
    """Sections of measures are those with a picture."""
    return any(block.kind == "plate" for block in section.blocks)


def _season(library: Library, car: CarRow) -> Report:
    def make() -> Report:
        season = season_of(library, car.id)
        history = season_history(season)
        return history_report(history, car=season.car, made_at=datetime.datetime.now().astimezone())

    return remembered(library, car, "season", make)


ROUTES = [
    page("/cars/{car:int}/timeline", show),
    page("/cars/{car:int}/season", show_season),
    page("/cars/{car:int}/season/report/{kind}", export),
]
