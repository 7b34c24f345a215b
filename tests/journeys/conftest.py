"""A library of its own for each journey, the application that serves it, and one browser for all."""

import os
import shutil
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, sync_playwright
from tests.journeys.browser import FLAGS, get
from tests.journeys.running import TOKEN, Served, serving
from tests.library.conftest import new_database as new_database
from tests.library.conftest import server as server

from pullproof.demo import DemoFiles, make_demo
from pullproof.library import catalogue, open_library
from pullproof.library.importing import import_logs


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
    errors: list[str] = []

    def make(served: Served, path: str = "/", **options: object) -> Page:
        context = chromium.new_context(**{"viewport": {"width": 1280, "height": 900}, **options})
        served.visitors.append(context)
        page = context.new_page()
        page.set_default_timeout(10_000)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on("console", lambda line: errors.append(line.text) if _is_violation(line.text) else None)
        page.on("request", lambda request: _ours(request.url, served, errors))
        joint = "&" if "?" in path else "?"
        page.goto(f"{served.address}{path}{joint}token={TOKEN}")
        return page

    yield make
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


@pytest.fixture(scope="session")
def demo_files(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    """Logs of the demo car from before and after a change, as a visitor has them on the disk."""
    return make_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="session")
def _demo_library(tmp_path_factory: pytest.TempPathFactory, demo_files: DemoFiles) -> Path:
    """A library that holds the demo car, to be copied: importing takes longer."""
    folder = tmp_path_factory.mktemp("kept") / "library"
    with open_library(folder) as library:
        with library.transaction() as session:
            car = catalogue.add_car(session, demo_files.car_sheet.read_text("utf-8"))
        logs = [*demo_files.before, *demo_files.after]
        for _ in import_logs(library, car.id, logs, conditions=demo_files.conditions, workers=0):
            pass
    return folder


@pytest.fixture
def demo(tmp_path: Path, _demo_library: Path) -> Iterator[Served]:
    """An application whose library holds the demo car (number 1): logs 1 and 2 before, 3 and 4 after a change."""
    shutil.copytree(_demo_library, tmp_path / "demo")
    with open_library(tmp_path / "demo") as library, serving(library) as running:
        yield running


@pytest.fixture
def shop(tmp_path: Path, new_database: Callable[[], str]) -> Iterator[Served]:
    """An application whose catalogue lives in PostgreSQL."""
    with open_library(tmp_path / "shop", new_database()) as library, serving(library) as running:
        yield running
