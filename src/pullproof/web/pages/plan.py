"""Plan the next runs: how many pulls in which order will show a difference, and the card to take along."""

import datetime

from starlette.requests import Request
from starlette.responses import Response

from pullproof.analysis.plan import Plan, plan_records
from pullproof.analysis.plan import Request as PlanRequest
from pullproof.errors import CannotAnswer, PullproofError, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.readings import conditions_of, records_of
from pullproof.measures import MEASURES
from pullproof.report.plan_sections import plan_report
from pullproof.report.run_card import card_pdf, run_card
from pullproof.web.asked import Asked
from pullproof.web.desk import desk_of
from pullproof.web.finding import car_in
from pullproof.web.pages.comparison import Ground, ground_of
from pullproof.web.pairs import stretches
from pullproof.web.remembered import remembered
from pullproof.web.rendering import render
from pullproof.web.reports import attached
from pullproof.web.routing import page

__all__ = ["ROUTES"]

USUAL = ("wastegate_duty.peak", "boost.mean", "wheel_power.mean", "pull.time")


def show(request: Request) -> Response:
    """The question, and what it takes to answer it."""
    library, car = desk_of(request).library, car_in(request)
    ground = ground_of(library, car)
    asked = _asked(request, library, ground)
    measure = _measure(request)
    found, refusal = None, None
    try:
        # It draws many ways to drive, which takes a while: only for who has asked.
        found = _planned(request, library, ground, asked, measure) if "measure" in request.query_params else None
    except PullproofError as error:
        refusal = error
    made_at = datetime.datetime.now().astimezone()
    return render(
        request,
        "plan.html",
        car=car,
        asked=asked,
        measure=measure,
        measures=MEASURES,
        effect=request.query_params.get("effect", ""),
        sides={side: asked.selection(side, ground.logs).logs for side in ("before", "after")},
        by_id={row.id: row for row in ground.logs},
        report=None if found is None else plan_report(found, car=catalogue.car_of(car), made_at=made_at),
        refusal=refusal,
    )


def _asked(request: Request, library: Library, ground: Ground) -> Asked:
    """Earlier pulls that tell how this car scatters: those of the address, else the last ones of one build."""
    asked = Asked.in_address(request.query_params)
    if asked.before or asked.after:
        return asked
    with library.reading() as session:
        found = stretches(session, ground.car.id)
    return Asked(before=tuple(f"l{row.id}" for row in found[-1].logs)) if found else asked


def _measure(request: Request) -> str:
    said = request.query_params.get("measure", USUAL[0])
    if said not in MEASURES:
        raise WrongUse(f'there is no measure "{said}"', advice="Choose one of the list.")
    return said


def _planned(request: Request, library: Library, ground: Ground, asked: Asked, measure: str) -> Plan:
    car = ground.car
    sides = [asked.selection(side, ground.logs) for side in ("before", "after")]
    before, after = (records_of(library, car.id, side).records if side.logs else () for side in sides)
    text = request.query_params.get("effect", "").strip().replace(",", ".")
    in_percent = text.endswith("%")
    try:
        effect = float(text.rstrip("% ")) if text else None
    except ValueError:
        raise WrongUse(f'the difference is "{text}"', advice="Give a number, such as 2, or 2% of the level.") from None
    if after and not before:
        raise CannotAnswer("there is no pull before the change", advice="Choose logs on both sides, or on one alone.")

    def make() -> Plan:
        sheet = conditions_of(library, car.id)
        return plan_records(
            measure,
            effect,
            car=catalogue.car_of(car),
            before=before,
            after=after,
            moments={name: entry.when for name, entry in sheet.logs.items() if entry.when is not None},
            request=PlanRequest(in_percent=in_percent),
        )

    return remembered(library, car, ("plan", measure, effect, in_percent, *sides), make)


def card(request: Request) -> Response:
    """The run card, one page to print."""
    library, car = desk_of(request).library, car_in(request)
    ground = ground_of(library, car)
    found = _planned(request, library, ground, _asked(request, library, ground), _measure(request))
    made = run_card(found, catalogue.car_of(car), datetime.datetime.now().astimezone())
    return Response(card_pdf(made), media_type="application/pdf", headers=attached(f"{car.name} run card", "pdf"))


ROUTES = [page("/cars/{car:int}/plan", show), page("/cars/{car:int}/plan/card", card)]
