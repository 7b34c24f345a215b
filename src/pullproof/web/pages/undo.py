"""Take a deletion back."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from pullproof.library import catalogue
from pullproof.web.deletions import KINDS
from pullproof.web.desk import desk_of
from pullproof.web.finding import whole_number
from pullproof.web.routing import Form, action, go_to

__all__ = ["ROUTES"]


def take_back(request: Request, form: Form) -> Response:
    """Bring back what the address of the last page named as gone, and show it where it was missed."""
    kind, _, number = form.text("gone").partition("-")
    row_id = whole_number(number)
    if kind not in KINDS or row_id is None:
        raise HTTPException(404)
    with desk_of(request).library.transaction() as session:
        row = catalogue.get(session, KINDS[kind], row_id)
        catalogue.take_back(session, row)
    back = form.text("back")
    return go_to(request, back if back.startswith("/") and not back.startswith("//") else "/")


ROUTES = [action("/undo", take_back)]
