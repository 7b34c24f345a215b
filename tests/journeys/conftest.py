"""A library of its own for each journey, the application that serves it, and one browser for all."""

import os
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from tests.journeys.browser import FLAGS, get
from tests.journeys.running import TOKEN, Served, serving

from pullproof.library import open_library


@pytest.fixture
def served(tmp_path: Path) -> Iterator[Served]:
    """An application with an empty library."""
    with open_library(tmp_path / "library") as library, serving(library) as running:
        yield running


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    """One browser for all journeys."""
    with sync_playwright() as playwright:
        path, reason = get(playwright.chromium.executable_path)
        if path is None:
            pytest.skip(f"no Chromium here, and none to be had ({reason})")
        root = hasattr(os, "geteuid") and os.geteuid() == 0
        flags = [*FLAGS, *(["--no-sandbox"] if root else [])]
        browser = playwright.chromium.launch(executable_path=path, headless=True, args=flags)
        yield browser
        browser.close()


@pytest.fixture
def new_page(chromium: Browser) -> Iterator[Callable[..., Page]]:
    """Make pages, each of a new visitor; an error in a script of ours fails the journey."""
    contexts, errors = [], []

    def make(served: Served, path: str = "/", **options: object) -> Page:
        context = chromium.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
        contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda line: errors.append(line.text) if _is_violation(line.text) else None)
        page.on("request", lambda request: _ours(request.url, served, errors))
        joint = "&" if "?" in path else "?"
        page.goto(f"{served.address}{path}{joint}token={TOKEN}")
        return page

    yield make
    for context in contexts:
        context.close()
    assert not errors, errors


@pytest.fixture
def page(new_page: Callable[..., Page], served: Served) -> Page:
    """A visitor on the start page of an empty library."""
    return new_page(served)


def _is_violation(text: str) -> bool:
    return "Content Security Policy" in text or "Refused to" in text


def _ours(url: str, served: Served, errors: list[str]) -> None:
    """Nothing is ever asked of another place."""
    if not url.startswith((served.address, "data:", "blob:")):
        errors.append(f"asked of elsewhere: {url}")
