"""The real application on a free port, and what every journey asks of a page."""

import contextlib
import os
import re
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field
from pathlib import Path

import uvicorn
from axe_playwright_python.sync_playwright import Axe
from playwright.sync_api import BrowserContext, Page

from pullproof.library import Library
from pullproof.web.app import create_app
from pullproof.web.security import Access
from pullproof.web.serving import listen

TOKEN = "a-token-for-tests-only-0123456789abcdef"


@dataclass(frozen=True)
class Served:
    """An application that runs: its library and its address without the token."""

    library: Library
    address: str
    port: int
    visitors: list[BrowserContext] = field(default_factory=list)
    """They leave before the application stops, or what they still ask for would look like a fault."""

    def url(self, path: str = "/") -> str:
        """An address of the application."""
        return self.address + path


@contextlib.contextmanager
def serving(library: Library) -> Iterator[Served]:
    """Run the application in a thread."""
    listener = listen("127.0.0.1", None)
    port = listener.getsockname()[1]
    app = create_app(library, Access(port, token=TOKEN))
    server = uvicorn.Server(uvicorn.Config(app, log_level="warning", lifespan="off", timeout_graceful_shutdown=1))
    thread = threading.Thread(target=server.run, kwargs={"sockets": [listener]}, daemon=True)
    thread.start()
    served = Served(library, f"http://127.0.0.1:{port}", port)
    try:
        yield served
    finally:
        for visitor in served.visitors:
            visitor.close()
        app.state.desk.imports.stop()
        server.should_exit = True
        thread.join(10)
        listener.close()


@contextlib.contextmanager
def command(folder: Path) -> Iterator[tuple[subprocess.Popen[str], str]]:
    """`pullproof open` as a user starts it, in a process of its own; gives it and the address that it prints."""
    run = [sys.executable, "-m", "pullproof", "open", "--library", str(folder), "--no-browser"]
    process = subprocess.Popen(run, stdout=subprocess.PIPE, text=True)
    try:
        yield process, process.stdout.readline().strip()
    finally:
        if process.poll() is None:
            process.send_signal(signal.SIGINT)
        process.wait(20)
        process.stdout.close()


def settled(page: Page) -> None:
    """Wait until nothing more is on its way: parts that are fetched later, and charts that are not drawn yet."""
    page.wait_for_function("""() => {
        const charts = document.querySelectorAll('[data-module="curves"], [data-module="traces"]');
        const drawn = [...charts].every((one) => one.dataset.ready);
        return document.readyState === "complete" && drawn && !document.querySelector(".htmx-request");
    }""")


def check_accessible(page: Page) -> None:
    """No serious or critical finding of axe on the page as it stands."""
    found = Axe().run(page, options={"preload": False, "resultTypes": ["violations"]}).response["violations"]
    bad = [
        f"{one['id']}: {one['help']}: {[node['html'][:160] for node in one['nodes'][:4]]}"
        for one in found
        if one["impact"] in ("serious", "critical")
    ]
    assert not bad, bad


def fits(page: Page) -> None:
    """Nothing makes the page wider than its window."""
    width, room = page.evaluate("[document.documentElement.scrollWidth, document.documentElement.clientWidth]")
    assert width <= room, f"{page.url} is {width} wide in a window of {room}"


def shoot(page: Page, name: str) -> None:
    """A picture of the whole page, where somebody wants to look: PULLPROOF_SCREENSHOTS names a folder."""
    folder = os.environ.get("PULLPROOF_SCREENSHOTS")
    if folder:
        Path(folder).mkdir(parents=True, exist_ok=True)
        page.screenshot(path=str(Path(folder) / f"{re.sub(r'[^a-z0-9-]+', '-', name.lower())}.png"), full_page=True)
