"""The application: pages of a library behind one gate, and the one place where an error becomes a page."""

from importlib.resources import files
from pathlib import Path

from starlette.applications import Starlette
from starlette.exceptions import HTTPException
from starlette.middleware import Middleware
from starlette.requests import Request
from starlette.responses import Response
from starlette.routing import Mount
from starlette.staticfiles import StaticFiles

from pullproof.errors import PullproofError, WrongUse
from pullproof.library import Library
from pullproof.web.desk import Desk
from pullproof.web.imports import Imports
from pullproof.web.pages import ROUTES
from pullproof.web.rendering import is_partial, render
from pullproof.web.security import Access, Guard

__all__ = ["create_app"]

STATUS = {1: 422, 2: 400, 3: 422}
"""Exit status of a known error to the status of the page that shows it."""

WANTED = ("htmx.min.js", "uPlot.esm.js", "uPlot.min.css")


def create_app(library: Library, access: Access) -> Starlette:
    """Serve a library to whom `access` lets in.

    Raises
    ------
    WrongUse
        The scripts of others that the pages need were not fetched when the package was installed.
    """
    static = Path(str(files("pullproof.web") / "static"))
    if not all((static / "vendor" / name).is_file() for name in WANTED):
        raise WrongUse(
            "the browser's files were not fetched when pullproof was installed",
            where=str(static / "vendor"),
            advice="Connect to a network and install it again: python -m pip install --no-deps -e . (or the wheel).",
        )
    app = Starlette(
        routes=[Mount("/static", StaticFiles(directory=static), name="static"), *ROUTES],
        middleware=[Middleware(Guard, access=access)],
        exception_handlers={PullproofError: _known, HTTPException: _said, 404: _said, 500: _fault},
    )
    app.state.desk = Desk(library, access, Imports(library))
    return app


def _known(request: Request, error: Exception) -> Response:
    if not isinstance(error, PullproofError):
        raise error
    return _page(request, STATUS[error.exit_status], error.what, error.where, error.advice)


def _said(request: Request, error: Exception) -> Response:
    if not isinstance(error, HTTPException):
        raise error
    if error.status_code == 404 and error.detail == "Not Found":
        return _page(request, 404, "there is no such page", "", "Go back to the start page.")
    return _page(request, error.status_code, error.detail, "", "")


def _fault(request: Request, error: Exception) -> Response:
    return _page(
        request,
        500,
        f"this is a fault in pullproof, not in your files ({type(error).__name__})",
        "",
        "What is kept is unharmed. The terminal shows the details, which a report of the fault needs.",
    )


def _page(request: Request, status: int, what: str, where: str, advice: str) -> Response:
    template = "parts/refusal.html" if is_partial(request) else "refusal.html"
    return render(request, template, status, what=what, where=where, advice=advice)
