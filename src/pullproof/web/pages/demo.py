"""Put the demo car into the library: an invented car, its logs, and what was changed on it."""

import tempfile
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from pullproof.demo import make_demo
from pullproof.library import Library, catalogue
from pullproof.library.importing import import_logs
from pullproof.library.schema import CarRow
from pullproof.web.desk import desk_of
from pullproof.web.routing import Form, action, go_to

__all__ = ["ROUTES", "add_demo"]


def add(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """The demo car; where it is there already, lead to it."""
    car = add_demo(desk_of(request).library)
    return go_to(request, f"/cars/{car.id}/compare")


def add_demo(library: Library) -> CarRow:
    """The demo car of a library, made where it is not there."""
    with tempfile.TemporaryDirectory(prefix="pullproof-demo-") as folder:
        files = make_demo(Path(folder))
        sheet = files.car_sheet.read_text("utf-8")
        with library.transaction() as session:
            there = [car for car in catalogue.cars(session) if car.sheet == sheet]
            if there:
                return there[0]
            car = catalogue.add_car(session, sheet)
        for _ in import_logs(library, car.id, [*files.before, *files.after], conditions=files.conditions):
            pass
    return car


ROUTES = [action("/demo", add)]
