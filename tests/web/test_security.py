"""Who is let in and what answers allow: the recipe for an application on the loopback."""

import re

import pytest
from starlette.routing import Route
from tests.web.conftest import ORIGIN, PORT, TOKEN

from pullproof.web.pages import ROUTES
from pullproof.web.security import FORM_LIMIT, csrf_token


def form(**fields):
    return {"csrf": csrf_token(TOKEN), **fields}


def test_nobody_gets_in_without_the_token(stranger):
    """Without the token of the printed address there is no page."""
    assert stranger().get("/").status_code == 403


def test_wrong_token_is_refused(stranger):
    """A wrong token opens nothing and sets no cookie."""
    answer = stranger().get("/?token=guessed")
    assert answer.status_code == 403
    assert "set-cookie" not in answer.headers


def test_token_becomes_a_cookie_that_no_script_and_no_other_site_can_use(stranger):
    """The token leaves the address at once and lives on as an HttpOnly, SameSite=Strict cookie."""
    client = stranger()
    answer = client.get(f"/?token={TOKEN}&kept=1")
    assert answer.status_code == 303
    assert answer.headers["location"] == "/?kept=1"
    cookie = answer.headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert client.get("/").status_code == 200


def test_redirect_after_the_token_stays_here(stranger):
    """A path that looks like another host does not lead there."""
    answer = stranger().get(f"//elsewhere.example/?token={TOKEN}")
    assert not answer.headers.get("location", "/").startswith("//")


@pytest.mark.parametrize(
    "host", ["elsewhere.example", f"elsewhere.example:{PORT}", "127.0.0.1:1", "192.168.1.4:8517", ""]
)
def test_only_our_own_host_names_are_answered(client, host):
    """A name that somebody points at this machine from outside gets no answer (DNS rebinding)."""
    assert client.get("/", headers={"host": host}).status_code == 421


@pytest.mark.parametrize("host", [f"localhost:{PORT}", f"127.0.0.1:{PORT}", f"[::1]:{PORT}"])
def test_every_loopback_name_is_answered(client, host):
    """The loopback may be called by any of its names."""
    assert client.get("/static/style.css", headers={"host": host}).status_code == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"origin": f"http://127.0.0.1:{PORT + 1}"},
        {"sec-fetch-site": "cross-site"},
        {"sec-fetch-site": "same-site", "origin": ORIGIN},
        {},
    ],
)
def test_what_changes_something_comes_from_our_own_pages(client, headers):
    """A form on another page, or a request that does not say where it comes from, changes nothing."""
    del client.headers["origin"]
    assert client.post("/sign-out", data=form(), headers=headers).status_code == 403


def test_form_without_its_secret_is_refused(client):
    """An action needs the value that only our own forms carry."""
    assert client.post("/sign-out", data={}).status_code == 403
    assert client.post("/sign-out", data={"csrf": "0" * 64}).status_code == 403


def test_every_action_checks_its_form():
    """No route that changes something goes without the check of its form, but signing in."""
    unchecked = [
        route.path
        for route in ROUTES
        if isinstance(route, Route)
        and route.methods - {"GET", "HEAD"}
        and not getattr(route.endpoint, "pullproof_checked", False)
    ]
    assert sorted(unchecked) == ["/first-account", "/sign-in"]


def test_answers_carry_a_strict_policy(client):
    """Pages, refusals and files alike load nothing from elsewhere, run no script of a page, and stand in no frame."""
    for path in ("/", "/static/js/page.js", "/no-such-page"):
        headers = client.get(path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self'" in policy
        assert "frame-ancestors 'none'" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "same-origin"


def test_pages_hold_no_script_and_no_style_of_their_own(client):
    """Nothing on a page needs an exception from the policy."""
    text = client.get("/").text
    assert not re.search(r"<script(?![^>]*\bsrc=)|<style|\sstyle=|\son[a-z]+=", text)
    assert not re.search(r"(?:src|href)=\"(?:https?:)?//", text)


def test_body_is_bounded_whether_or_not_it_says_its_length(client):
    """A request that brings too much is cut off."""
    large = b"x" * (FORM_LIMIT + 1)
    assert client.post("/sign-out", content=large).status_code == 413

    def pieces():
        for _ in range(20):
            yield large[: FORM_LIMIT // 10]

    headers = {"content-type": "application/x-www-form-urlencoded"}
    assert client.post("/sign-out", content=pieces(), headers=headers).status_code == 413


def test_missing_page_is_a_page(client):
    """An address that leads nowhere says so and shows the way back."""
    answer = client.get("/no-such-page")
    assert answer.status_code == 404
    assert "Start page" in answer.text
