"""Put the demo car into the library: an invented car, its season of logs, and what was changed on it."""

from starlette.requests import Request
from starlette.responses import Response

from pullproof.demo.library import fill_library
from pullproof.web.desk import desk_of
from pullproof.web.routing import Form, action, go_to

__all__ = ["ROUTES"]


def add(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """The demo car with its season; then lead to what its changes can be compared by."""
    car = fill_library(desk_of(request).library)
    return go_to(request, f"/cars/{car}/compare")


ROUTES = [action("/demo", add)]
