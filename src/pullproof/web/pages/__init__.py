"""The pages, one module each: `start`, `cars`, ..., with a template of the same name.

To add a page, write `pages/NAME.py` with `ROUTES`, a list of `routing.page(path, handler)` for what is looked at and
`routing.action(path, handler)` for what a form of the page changes; `templates/NAME.html` extends `base.html`; and
name the module below. A handler is a plain function `(request) -> Response`, an action's `(request, form) -> Response`;
both run in a thread of their own. What they share:

    desk_of(request).library        the library; `library.reading()` and `library.transaction()` give a session
    car_in(request)                 the car of an address /cars/{car}/...
    render(request, "NAME.html", car=car, ...)     with `car`, the tabs of that car are shown
    go_to(request, path, **parameters)     after an action: lead on to a page
    is_partial(request)             a part of the page is asked for: render "parts/..." alone
    remembered(library, car, question, make)       what takes long is reckoned once, until something it rests on changes
    pick(request, library, car)     the logs that a page looks at, chosen with `picking.html`
    raise CannotAnswer / WrongUse   becomes a page (or a message on the page) in one place, `app`

Every state that matters stands in the address, so that reload, back, a bookmark and a second tab work. Statistics and
physics are never computed here: analyses are called, and their results shown. Where a run is planned, started or
reported, `{{ caution_box(cautions) }}` of `macros.html` is on the page. Drawings: see `charts`.
"""

from starlette.routing import Route

from pullproof.web.pages import (
    airpath,
    cars,
    change,
    coastdown,
    columns,
    comparison,
    day,
    demo,
    imports,
    kept,
    log,
    plan,
    power,
    sign_in,
    start,
    timeline,
    undo,
    watch,
)

__all__ = ["ROUTES"]

_MODULES = (
    start,
    demo,
    cars,
    timeline,
    change,
    day,
    imports,
    log,
    columns,
    comparison,
    kept,
    plan,
    watch,
    power,
    coastdown,
    airpath,
    undo,
    sign_in,
)

ROUTES: list[Route] = [route for module in _MODULES for route in module.ROUTES]
"""Every page and action, by address."""
