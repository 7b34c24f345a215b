"""Who may speak to the application, and what its answers allow a browser to do.

Every request passes, in this order: its host name must be ours (against names that are pointed at this machine from
outside); a request that changes something must come from our own pages; its body must be of a bounded size; and its
sender must be known. Known is, on the loopback, who opened the address that `pullproof open` printed: it holds a
random token, which becomes a cookie. Beyond the loopback it takes an account, see `accounts`.

Every answer carries a policy that lets a page load nothing but our own files: no script within a page, nothing from
any other place, no frame around us.
"""

import hashlib
import hmac
import secrets
from collections.abc import Mapping
from dataclasses import dataclass, field
from ipaddress import ip_address
from typing import Final
from urllib.parse import urlsplit

from starlette.datastructures import MutableHeaders
from starlette.requests import Request
from starlette.responses import PlainTextResponse, RedirectResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from pullproof.web.accounts import Accounts, Person

__all__ = ["HEADERS", "SAFE_METHODS", "Access", "Guard", "csrf_token", "csrf_valid", "is_loopback", "new_token"]

SAFE_METHODS: Final = frozenset({"GET", "HEAD", "OPTIONS"})
LOOPBACK_NAMES: Final = frozenset({"127.0.0.1", "localhost", "::1"})

HEADERS: Final[Mapping[str, str]] = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; font-src 'self'; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"
    ),
    "x-content-type-options": "nosniff",
    # Not `no-referrer`: browsers then send `Origin: null` with our own forms, and we could not tell them from others'.
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "x-frame-options": "DENY",
    "permissions-policy": "camera=(), geolocation=(), microphone=(), payment=(), usb=()",
}

FORM_LIMIT: Final = 1_000_000
UPLOAD_LIMIT: Final = 2_000_000_000
"""Bytes that a request may send: to a page, and to one that takes files."""

COOKIE_DAYS: Final = 365


def is_loopback(host: str) -> bool:
    """Whether only this machine can reach an address that we listen at."""
    if host == "localhost":
        return True
    try:
        return ip_address(host).is_loopback
    except ValueError:
        return False


def new_token() -> str:
    """A secret that nobody guesses: 32 random bytes as text."""
    return secrets.token_urlsafe(32)


@dataclass(frozen=True, slots=True)
class Access:
    """Who is let in: holders of `token` on the loopback, or those with an account where `accounts` is given."""

    port: int
    token: str | None = None
    accounts: Accounts | None = None
    names: frozenset[str] = field(default_factory=lambda: LOOPBACK_NAMES)
    """Host names under which we answer. A number is answered as well where we are open to others."""

    @property
    def cookie(self) -> str:
        """Name of our cookie: browsers do not keep the cookies of two ports apart."""
        return f"pullproof-{self.port}"

    def give_cookie(self, answer: Response, secret: str, request: Request) -> None:
        """Let the browser remember who it is: no script can read it, no other site can make use of it."""
        answer.set_cookie(
            self.cookie,
            secret,
            max_age=COOKIE_DAYS * 86_400,
            httponly=True,
            samesite="strict",
            secure=request.url.scheme == "https",
        )

    def is_ours(self, host: str) -> bool:
        """Whether a request for this `Host` was meant for us: no name that somebody else controls can be."""
        name, port = _host_and_port(host)
        if name in self.names:
            return self.accounts is not None or port == self.port
        return self.accounts is not None and _is_number(name)


def _host_and_port(host: str) -> tuple[str, int | None]:
    try:
        parts = urlsplit(f"//{host}")
        return (parts.hostname or "", parts.port)
    except ValueError:
        return "", None


def _is_number(name: str) -> bool:
    try:
        ip_address(name)
    except ValueError:
        return False
    return True


def csrf_token(secret: str) -> str:
    """What our forms carry: made from the secret of the cookie, which no other site can read."""
    return hmac.new(secret.encode(), b"pullproof form", hashlib.sha256).hexdigest()


def csrf_valid(request: Request, given: str | None) -> bool:
    """Whether a form was made by us for this very visitor."""
    secret = request.scope.get("pullproof.secret", "")
    return bool(secret) and given is not None and hmac.compare_digest(given.encode(), csrf_token(secret).encode())


class _TooLarge(Exception):
    """The body goes on beyond what is allowed."""


class Guard:
    """The one gate of the application."""

    def __init__(self, app: ASGIApp, access: Access) -> None:
        self.app = app
        self.access = access

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Let a request through, or answer it here."""
        if scope["type"] != "http":
            if scope["type"] == "lifespan":
                await self.app(scope, receive, send)
            return
        request = Request(scope)
        started = False

        async def send_with_headers(message: Message) -> None:
            nonlocal started
            if message["type"] == "http.response.start":
                started = True
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-cache, private")
            await send(message)

        answer = self._refusal(request) or self._admit(request)
        if answer is None:
            try:
                await self.app(scope, _bounded(request, receive), send_with_headers)
                return
            except _TooLarge:
                if started:
                    raise
                answer = _said(413, "That is more than one request may bring.")
        await answer(scope, receive, send_with_headers)

    def _refusal(self, request: Request) -> Response | None:
        if not self.access.is_ours(request.headers.get("host", "")):
            return _said(421, "This application does not answer under that host name.")
        if request.method not in SAFE_METHODS and not _from_our_pages(request):
            return _said(403, "Only a page of this application may ask for that.")
        length = request.headers.get("content-length", "0")
        if not length.isdigit() or int(length) > _limit(request):
            return _said(413, "That is more than one request may bring.")
        return None

    def _admit(self, request: Request) -> Response | None:
        """None for who is known and for what is open to all, else what to answer."""
        if self.access.accounts is not None:
            return self._admit_person(self.access.accounts, request)
        token = self.access.token or ""
        given = request.query_params.get("token")
        if given is not None and request.method == "GET":
            if not _equal(given, token):
                return _said(403, _HOW_IN)
            answer = RedirectResponse(_without_token(request), 303)
            self.access.give_cookie(answer, token, request)
            return answer
        if _is_public(request):
            return None
        if not _equal(request.cookies.get(self.access.cookie, ""), token):
            return _said(403, _HOW_IN)
        request.scope["pullproof.secret"] = token
        return None

    def _admit_person(self, accounts: Accounts, request: Request) -> Response | None:
        secret = request.cookies.get(self.access.cookie, "")
        person: Person | None = accounts.who(secret) if secret else None
        if person is not None:
            request.scope["pullproof.secret"] = secret
            request.scope["pullproof.person"] = person
            return None
        if _is_public(request) or request.url.path in ("/sign-in", "/first-account"):
            return None
        return RedirectResponse("/sign-in", 303)


_HOW_IN = "Open pullproof by the whole address that `pullproof open` printed on its first line: it holds the key."


def _equal(given: str, secret: str) -> bool:
    return bool(secret) and hmac.compare_digest(given.encode(), secret.encode())


def _is_public(request: Request) -> bool:
    return request.url.path.startswith("/static/")


def _without_token(request: Request) -> str:
    kept = request.url.remove_query_params("token")
    # A path that began with two slashes would lead to another host.
    return f"/{kept.path.lstrip('/')}" + (f"?{kept.query}" if kept.query else "")


def _from_our_pages(request: Request) -> bool:
    """Browsers say where a request comes from; one that says neither is no browser of ours."""
    site = request.headers.get("sec-fetch-site")
    origin = request.headers.get("origin")
    if site is not None and site != "same-origin":
        return False
    if origin is None:
        return site == "same-origin"
    parts = urlsplit(origin)
    return parts.scheme in ("http", "https") and parts.netloc == request.headers.get("host")


def _limit(request: Request) -> int:
    return UPLOAD_LIMIT if request.url.path.endswith("/upload") else FORM_LIMIT


def _bounded(request: Request, receive: Receive) -> Receive:
    """The body as it comes in, until it exceeds what is allowed."""
    limit, seen = _limit(request), 0

    async def bounded() -> Message:
        nonlocal seen
        message = await receive()
        seen += len(message.get("body", b""))
        if seen > limit:
            raise _TooLarge
        return message

    return bounded


def _said(status: int, sentence: str) -> Response:
    return PlainTextResponse(f"{sentence}\n", status)
