"""What every page works with: the library, who may use it, and what was computed of late."""

from dataclasses import dataclass

from starlette.requests import Request

from pullproof.library import Library
from pullproof.web.imports import Imports
from pullproof.web.security import Access

__all__ = ["Desk", "desk_of"]


@dataclass(frozen=True, slots=True, eq=False)
class Desk:
    """One for the whole application, shared by the threads that serve pages."""

    library: Library
    access: Access
    imports: Imports


def desk_of(request: Request) -> Desk:
    """The desk of the application that serves this request."""
    desk: Desk = request.app.state.desk
    return desk
