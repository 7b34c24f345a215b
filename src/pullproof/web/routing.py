"""How a page module offers its pages: `page` for what is looked at, `action` for what changes something.

A handler is a plain function that runs in a thread of its own, so it may read files and compute. An action's handler
gets the form that was sent; that the form came from one of our own pages is checked here, once for all.
"""

from collections.abc import Callable
from typing import TypeAlias

from starlette.concurrency import run_in_threadpool
from starlette.datastructures import FormData, UploadFile
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import RedirectResponse, Response
from starlette.routing import Route

from pullproof.web.rendering import is_partial, link
from pullproof.web.security import csrf_valid

__all__ = ["CHECKED", "Form", "action", "go_to", "open_action", "page"]

PageHandler: TypeAlias = Callable[[Request], Response]
ActionHandler: TypeAlias = Callable[[Request, "Form"], Response]

CHECKED = "pullproof_checked"
"""Mark on a handler whose form is checked, for the test that no route goes without."""

MOST_FILES = 500
MOST_FIELDS = 2_000


class Form:
    """What a visitor sent: texts without blanks around them, and files."""

    def __init__(self, data: FormData) -> None:
        self._data = data

    def text(self, name: str, missing: str = "") -> str:
        """A field's text; `missing` where the field was not sent."""
        value = self._data.get(name, missing)
        return value.strip() if isinstance(value, str) else missing

    def raw(self, name: str) -> str:
        """A field's text as it was typed: a password may begin with a blank."""
        value = self._data.get(name, "")
        return value if isinstance(value, str) else ""

    def texts(self, name: str) -> list[str]:
        """All texts of a field that may be there several times."""
        return [value.strip() for value in self._data.getlist(name) if isinstance(value, str)]

    def has(self, name: str) -> bool:
        """Whether the field was sent: a box that was ticked, a button that was pressed."""
        return name in self._data

    def names(self) -> list[str]:
        """The fields that were sent."""
        return list(self._data.keys())

    def files(self, name: str) -> list[UploadFile]:
        """The files of a field; an empty choice is none."""
        return [value for value in self._data.getlist(name) if isinstance(value, UploadFile) and value.filename]


def page(path: str, handler: PageHandler) -> Route:
    """Something to look at."""
    return Route(path, handler, methods=["GET"])


def action(path: str, handler: ActionHandler) -> Route:
    """Something that changes what is kept, asked for by a form of ours."""
    return _action(path, handler, known=True)


def open_action(path: str, handler: ActionHandler) -> Route:
    """An action for who is not known yet, and so has no secret to prove that the form is ours: signing in."""
    return _action(path, handler, known=False)


def _action(path: str, handler: ActionHandler, *, known: bool) -> Route:
    async def checked(request: Request) -> Response:
        async with request.form(max_files=MOST_FILES, max_fields=MOST_FIELDS) as data:
            form = Form(data)
            if known and not csrf_valid(request, request.headers.get("x-csrf-token") or form.text("csrf")):
                raise HTTPException(403, "The page is out of date: load it again and repeat what you did.")
            return await run_in_threadpool(handler, request, form)

    checked.__name__ = getattr(handler, "__name__", "action")
    setattr(checked, CHECKED, known)
    return Route(path, checked, methods=["POST"])


def go_to(request: Request, path: str, **parameters: object) -> Response:
    """Lead on to another page: what the browser shows then can be loaded again without sending the form again."""
    address = link(path, **parameters)
    if is_partial(request):
        return Response(status_code=204, headers={"HX-Redirect": address})
    return RedirectResponse(address, 303)
