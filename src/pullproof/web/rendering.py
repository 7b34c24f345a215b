"""From a template and values to an answer; the words and numbers that every page shares."""

import dataclasses
import datetime
import math
import re
from collections.abc import Mapping
from typing import Any, Final
from urllib.parse import urlencode

from jinja2 import Environment, PackageLoader, StrictUndefined
from starlette.requests import Request
from starlette.responses import HTMLResponse

from pullproof.analysis.cautions import CAUTIONS
from pullproof.report.wording import capitalised, channel_name, count, measure_name, typographic, unit_text
from pullproof.web.charts import GLOBALS
from pullproof.web.security import csrf_token

__all__ = ["is_partial", "link", "render", "text_number"]


CAR_TABS: Final = (
    ("timeline", "Timeline"),
    ("days", "Test days"),
    ("compare", "Compare"),
    ("plan", "Plan"),
    ("watch", "Watch"),
    ("power", "Power"),
    ("coastdown", "Coast-down"),
    ("airpath", "Air path"),
)
"""Sections of a car: address below that of the car, and name."""


def text_number(value: float | None, digits: int = 3, missing: str = "–") -> str:
    """A number for people: `digits` significant ones, never an exponent; `missing` where there is none."""
    if value is None or not math.isfinite(value):
        return missing
    if value == 0:
        return "0"
    places = max(0, digits - 1 - math.floor(math.log10(abs(value))))
    return f"{value:.{places}f}".replace("-", "−")


def text_date(value: datetime.date | datetime.datetime | None, missing: str = "no date") -> str:
    """`3 Oct 2026`, with the time of day where there is one."""
    if value is None:
        return missing
    day = f"{value.day} {value:%b %Y}"
    if isinstance(value, datetime.datetime) and (value.hour or value.minute):
        return f"{day}, {value:%H:%M}"
    return day


def text_seconds(value: float) -> str:
    """`48 s`, `12 min 5 s`."""
    minutes, seconds = divmod(round(value), 60)
    return f"{minutes} min {seconds} s" if minutes else f"{seconds} s"


def link(path: str, **parameters: Any) -> str:  # noqa: ANN401  (whatever an address can hold)
    """An address of ours with its parameters; None and empty ones are left out."""
    kept = {name: value for name, value in parameters.items() if value not in (None, "", (), [])}
    return f"{path}?{urlencode(kept, doseq=True)}" if kept else path


def _environment() -> Environment:
    made = Environment(
        loader=PackageLoader("pullproof.web", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.globals |= {"cautions": CAUTIONS, "link": link, "count": count, **GLOBALS}
    made.filters |= {
        "asdict": dataclasses.asdict,
        "capitalised": capitalised,
        "channel": channel_name,
        "date": text_date,
        "measure": measure_name,
        "number": text_number,
        "seconds": text_seconds,
        "typographic": typographic,
        "unit": unit_text,
    }
    return made


_ENVIRONMENT: Final = _environment()


def _tabs(path: str, car: int | None) -> list[tuple[str, str, bool]]:
    """The sections of the library, and of the car that the page is about: name, address, whether we are in it."""
    tabs = [("Cars", "/cars")]
    if car is not None:
        tabs += [(name, f"/cars/{car}/{where}") for where, name in CAR_TABS]
    within = [address for _, address in tabs if path == address or path.startswith(f"{address}/")]
    here = max(within, key=len, default="")
    return [(name, address, address == here) for name, address in tabs]


def _gone(request: Request) -> str:
    """What the last page deleted, so that this one can offer to undo it."""
    said = request.query_params.get("gone", "")
    return said if re.fullmatch(r"(car|change|comparison|day|log|photo)-\d{1,9}", said) else ""


def is_partial(request: Request) -> bool:
    """Whether a page of ours asks for a part of itself; going back in history asks for the whole."""
    return request.headers.get("hx-request") == "true" and request.headers.get("hx-history-restore-request") != "true"


def render(
    request: Request,
    template: str,
    status: int = 200,
    headers: Mapping[str, str] | None = None,
    **values: Any,  # noqa: ANN401  (whatever the template wants)
) -> HTMLResponse:
    """A page, or a part of one, from a template of ours."""
    car = values.get("car")
    text = _ENVIRONMENT.get_template(template).render(
        request=request,
        tabs=_tabs(request.url.path, car.id if car is not None else None),
        path=request.url.path,
        csrf=csrf_token(request.scope.get("pullproof.secret", "")),
        gone=_gone(request),
        person=request.scope.get("pullproof.person"),
        **values,
    )
    # The same address gives a part or the whole, depending on who asks.
    return HTMLResponse(text, status, {"vary": "HX-Request", **(headers or {})})
