"""The application without a browser: requests that a browser, a script or somebody else's page could send."""

import warnings
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from pullproof.library import Library, open_library
from pullproof.web.app import create_app
from pullproof.web.security import Access

with warnings.catch_warnings():
    # Starlette would rather have httpx's successor, and works with either.
    warnings.simplefilter("ignore")
    from starlette.testclient import TestClient

PORT = 8517
ORIGIN = f"http://127.0.0.1:{PORT}"
TOKEN = "a-token-for-tests-only-0123456789abcdef"


@pytest.fixture
def library(tmp_path: Path) -> Iterator[Library]:
    """An empty library."""
    with open_library(tmp_path / "library") as opened:
        yield opened


@pytest.fixture
def stranger(library: Library) -> Callable[..., TestClient]:
    """A client that nobody knows; `access` as in `Access`."""

    def make(**access: object) -> TestClient:
        app = create_app(library, Access(PORT, **(access or {"token": TOKEN})))
        return TestClient(app, base_url=ORIGIN, follow_redirects=False, raise_server_exceptions=False)

    return make


@pytest.fixture
def client(stranger: Callable[..., TestClient]) -> TestClient:
    """A client that holds the cookie and says where its requests come from, as our pages do."""
    made = stranger()
    made.get("/", params={"token": TOKEN})
    made.headers["origin"] = ORIGIN
    return made
