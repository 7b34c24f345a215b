"""Sign in and out, and accounts: for an application that others on the network can reach."""

from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import Response

from pullproof.errors import WrongUse
from pullproof.web.accounts import Accounts
from pullproof.web.desk import desk_of
from pullproof.web.rendering import render
from pullproof.web.routing import Form, action, go_to, open_action, page

__all__ = ["ROUTES"]


def _accounts(request: Request) -> Accounts:
    accounts = desk_of(request).access.accounts
    if accounts is None:
        raise HTTPException(404)
    return accounts


def show_sign_in(request: Request) -> Response:
    """Name and password."""
    _accounts(request)
    return render(request, "sign_in.html", wrong=False, name="")


def sign_in(request: Request, form: Form) -> Response:
    """Begin a session."""
    accounts, name = _accounts(request), form.text("name")
    place = request.client.host if request.client else ""
    secret = accounts.sign_in(name, form.raw("password"), place)
    if secret is None:
        return render(request, "sign_in.html", 401, wrong=True, name=name)
    return _with_session(request, secret)


def show_first(request: Request) -> Response:
    """The form for the first account, to whom the terminal gave the key."""
    accounts = _accounts(request)
    if accounts.people():
        return go_to(request, "/sign-in")
    return render(request, "first_account.html", key=request.query_params.get("key", ""))


def make_first(request: Request, form: Form) -> Response:
    """Make the first account and sign in."""
    accounts = _accounts(request)
    accounts.add_first(form.text("key"), form.text("name"), form.raw("password"))
    place = request.client.host if request.client else ""
    secret = accounts.sign_in(form.text("name"), form.raw("password"), place)
    if secret is None:
        raise WrongUse("the account was made, but signing in failed", advice="Sign in with name and password.")
    return _with_session(request, secret)


def _with_session(request: Request, secret: str) -> Response:
    answer = go_to(request, "/")
    desk_of(request).access.give_cookie(answer, secret, request)
    return answer


def sign_out(request: Request, form: Form) -> Response:  # noqa: ARG001  (an action's signature)
    """End the session."""
    _accounts(request).sign_out(request.scope["pullproof.secret"])
    answer = go_to(request, "/sign-in")
    answer.delete_cookie(desk_of(request).access.cookie)
    return answer


def show_accounts(request: Request) -> Response:
    """Who has an account."""
    return render(request, "accounts.html", people=_accounts(request).people())


def add_account(request: Request, form: Form) -> Response:
    """Make another account."""
    _accounts(request).add(form.text("name"), form.raw("password"))
    return go_to(request, "/accounts")


def remove_account(request: Request, form: Form) -> Response:
    """Take an account away; nobody locks themselves out."""
    person = int(form.text("person", "0") or 0)
    if person == request.scope["pullproof.person"].id:
        raise WrongUse("this is your own account", advice="Somebody else who has one can take it away.")
    _accounts(request).remove(person)
    return go_to(request, "/accounts")


ROUTES = [
    page("/sign-in", show_sign_in),
    open_action("/sign-in", sign_in),
    page("/first-account", show_first),
    open_action("/first-account", make_first),
    action("/sign-out", sign_out),
    page("/accounts", show_accounts),
    action("/accounts", add_account),
    action("/accounts/remove", remove_account),
]
