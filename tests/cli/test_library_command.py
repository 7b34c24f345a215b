"""`pullproof library`: what it prints, what it returns, and what a script can rely on."""

import json
import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator
from tests.library.small_logs import SHEET, log_text

from pullproof.cli.main import run
from pullproof.library import catalogue, open_library
from pullproof.report.documents import schema

Call = Callable[..., tuple[int, str, str]]


@pytest.fixture
def call(capsys: pytest.CaptureFixture[str]) -> Call:
    """Run the command; gives exit status, standard output and standard error."""

    def calling(*arguments: object) -> tuple[int, str, str]:
        with pytest.raises(SystemExit) as left:
            run(["library", *map(str, arguments)])
        said = capsys.readouterr()
        return int(left.value.code or 0), said.out, said.err

    return calling


@pytest.fixture
def place(tmp_path: Path) -> Path:
    """A car sheet and a folder with three logs, one of which is none."""
    (tmp_path / "logs").mkdir()
    for number in range(2):
        (tmp_path / "logs" / f"{number}.csv").write_text(log_text(number))
    (tmp_path / "logs" / "bad.csv").write_bytes(b"%PDF-1.4")
    (tmp_path / "car.toml").write_text(SHEET)
    return tmp_path


def documented(said: str) -> dict[str, Any]:
    """The document that was printed, after its schema accepted it."""
    document: dict[str, Any] = json.loads(said)
    Draft202012Validator(schema(document["schema"].removeprefix("pullproof.").partition("/")[0])).validate(document)
    return document


def take(call: Call, place: Path, *more: object) -> tuple[int, str, str]:
    return call(
        "import", place / "logs", "--car", place / "car.toml", "--library", place / "library", "--workers", 0, *more
    )  # fmt: skip


def test_import_tells_of_every_file(call: Call, place: Path) -> None:
    """A line for each file with what became of it; a file that failed gives exit status 3 and its sentence."""
    status, said, error = take(call, place)
    assert (status, error) == (3, "")
    assert f"1/3 imported {place}/logs/0.csv (1 pulls, 1 used)" in said
    assert "3/3 failed" in said
    assert "2 imported, 0 there already, 1 failed." in said
    assert "PDF" in said
    (place / "logs" / "bad.csv").unlink()
    status, said, _ = take(call, place)
    assert status == 0
    assert "0 imported, 2 there already, 0 failed." in said


def test_json_says_the_same(call: Call, place: Path, tmp_path: Path) -> None:
    """`--json -` prints the document and nothing else; files carry hash, outcome and sentence."""
    status, said, _ = take(call, place, "--json", "-")
    document = documented(said)
    assert (status, document["schema"], document["stopped"]) == (3, "pullproof.library-import/1", False)
    assert [file["outcome"] for file in document["files"]] == ["imported", "imported", "failed"]
    assert (document["imported"], document["there"], document["failed"]) == (2, 0, 1)
    status, said, _ = call("list", "--library", place / "library", "--json", "-")
    (car,) = documented(said)["cars"]
    assert (status, car["name"], car["logs"], car["pulls"], car["used"]) == (0, "blue hatch", 2, 2, 2)
    assert [(day["label"], day["date"], day["logs"]) for day in car["days"]] == [("no day", None, 2)]
    status, said, _ = call("check", "--library", place / "library", "--json", "-")
    assert (status, documented(said)["sound"], documented(said)["logs"]) == (0, True, 2)
    status, said, _ = call("backup", tmp_path / "backup.zip", "--library", place / "library", "--json", "-")
    assert (status, documented(said)["files"]) == (0, 4)
    status, said, _ = call("restore", tmp_path / "backup.zip", "--library", tmp_path / "back", "--json", "-")
    assert (status, documented(said)["files"]) == (0, 4)


def test_check_speaks_of_damage(call: Call, place: Path) -> None:
    """Damage gives exit status 1 and a line that names the log; samples are put right by --repair."""
    take(call, place)
    samples = next((place / "library" / "samples").rglob("*.parquet"))
    samples.unlink()
    status, said, _ = call("check", "--library", place / "library", "--json", place / "said.json")
    assert documented((place / "said.json").read_text())["findings"][0]["kind"] == "samples missing"
    assert status == 0
    assert "samples missing" in said
    assert "--repair" in said
    status, said, _ = call("check", "--library", place / "library", "--repair")
    assert status == 0
    assert "samples missing" not in said
    assert samples.exists()
    original = next(path for path in (place / "library" / "originals").rglob("*") if path.is_file())
    original.write_bytes(b"x")
    status, said, _ = call("check", "--library", place / "library", "--repair")
    assert status == 1
    assert "NOT WHOLE" in said
    assert "original changed" in said
    original.unlink()
    status, said, _ = call("backup", place / "backup.zip", "--library", place / "library")
    assert status == 1
    assert "Missing from the library" in said


def test_list_shows_days_and_builds(call: Call, place: Path) -> None:
    """A library at a glance: cars, days with their logs and pulls, and what was on the car then."""
    (place / "conditions.toml").write_text(
        '[[log]]\nfile = "0.csv"\nwhen = 2026-05-09T10:00:00\nday = "saturday"\n'
        '[[log]]\nfile = "1.csv"\nwhen = 2026-05-10T15:00:00\nday = "sunday"\n'
        '[[change]]\nwhat = "charge pipe"\nwhen = 2026-05-10T12:00:00\n[[change]]\nwhat = "sometime"\n'
    )
    _, said, _ = take(call, place, "--conditions", place / "conditions.toml")
    assert 'the change "sometime" has no date' in said
    _, said, _ = call("list", "--library", place / "library")
    assert "1 changes, 2 test days, 2 logs, 2 pulls of which 2 are used" in said
    assert [line.split() for line in said.splitlines() if line.startswith("2026")] == [
        ["2026-05-09", "saturday", "1", "1", "1", "as", "it", "came"],
        ["2026-05-10", "sunday", "1", "1", "1", "charge", "pipe"],
    ]


def test_a_day_of_change_shows_both_builds(call: Call, place: Path) -> None:
    """A day on which a part was fitted between two logs is shown with what was driven first and what later."""
    (place / "conditions.toml").write_text(
        '[[log]]\nfile = "0.csv"\nwhen = 2026-05-10T10:00:00\n[[log]]\nfile = "1.csv"\nwhen = 2026-05-10T15:00:00\n'
        '[[change]]\nwhat = "pipe"\nwhen = 2026-05-10T12:00:00\n'
    )
    take(call, place, "--conditions", place / "conditions.toml")
    _, said, _ = call("list", "--library", place / "library")
    assert "as it came; pipe" in said


def test_a_car_is_named_or_given_by_its_sheet(call: Call, place: Path) -> None:
    """The second import may name the car; a sheet that differs from the library's own is not taken without a word."""
    take(call, place)
    folder = ("--library", place / "library", "--workers", 0)
    status, said, _ = call("import", place / "logs" / "0.csv", "--car", "blue hatch", *folder)
    assert status == 0
    (place / "car.toml").write_text(SHEET.replace("1510", "1600"))
    _, said, _ = call("import", place / "logs" / "0.csv", "--car", place / "car.toml", *folder)
    assert "--replace-sheet" in said
    assert mass(place / "library") == 1510
    _, said, _ = call("import", place / "logs" / "0.csv", "--car", place / "car.toml", "--replace-sheet", *folder)
    assert "--replace-sheet" not in said
    assert mass(place / "library") == 1600
    status, _, error = call("import", place / "logs" / "0.csv", "--car", "red van", *folder)
    assert status == 1
    assert "Cars are: blue hatch" in error


def mass(folder: Path) -> float | None:
    with open_library(folder) as library, library.reading() as session:
        return catalogue.car_of(catalogue.cars(session)[0]).mass_kg


@pytest.mark.parametrize("command", [["list"], ["check"], ["backup", "b.zip"]])
def test_looking_makes_no_library(call: Call, tmp_path: Path, command: list[str]) -> None:
    """A misspelt folder is refused; it does not become an empty library."""
    status, _, error = call(*command, "--library", tmp_path / "nothing")
    assert status == 2
    assert "there is no library here" in error
    assert not (tmp_path / "nothing").exists()


def test_an_empty_library_says_what_to_do(call: Call, tmp_path: Path) -> None:
    """Where there is no car yet, the list says how logs get in."""
    open_library(tmp_path / "library").close()
    status, said, _ = call("list", "--library", tmp_path / "library")
    assert status == 0
    assert "pullproof library import" in said


def test_what_cannot_be_read_is_exit_status_3(call: Call, place: Path) -> None:
    """A path that leads nowhere, and a file that is no backup, end in one sentence and status 3."""
    status, _, error = call("import", place / "nothing", "--car", place / "car.toml", "--library", place / "library")
    assert status == 3
    assert "no such file or folder" in error
    (place / "no.zip").write_bytes(b"no")
    status, _, error = call("restore", place / "no.zip", "--library", place / "back")
    assert status == 3
    assert "no backup of a library" in error


def test_control_c_stops_cleanly_and_says_how_to_go_on(place: Path) -> None:
    """The first Ctrl-C finishes what is in hand and ends with status 130; the same command then does the rest."""
    if os.name == "nt":
        pytest.skip("Windows sends Ctrl-C to a whole console")
    for number in range(2, 30):
        (place / "logs" / f"{number:02}.csv").write_text(log_text(number))
    (place / "logs" / "bad.csv").unlink()
    command = [
        sys.executable, "-m", "pullproof", "library", "import", str(place / "logs"), "--car", str(place / "car.toml"),
        "--library", str(place / "library"), "--workers", "0", "--json", str(place / "said.json"),
    ]  # fmt: skip
    process = subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
    assert process.stdout is not None
    told = [process.stdout.readline() for _ in range(3)]
    process.send_signal(signal.SIGINT)
    rest, error = process.communicate(timeout=60)
    assert process.returncode == 130, error
    assert "the same command goes on from there" in error
    assert "Traceback" not in error
    count = len([line for line in [*told, *rest.splitlines()] if " imported /" in line])
    document = documented((place / "said.json").read_text())
    assert document["stopped"]
    assert document["imported"] == count < 30
    with open_library(place / "library") as library, library.reading() as session:
        assert len(catalogue.logs(session, 1)) == count
        assert catalogue.jobs(session)[0].state == "stopped"
    again = subprocess.run(command, capture_output=True, text=True, check=False)
    assert again.returncode == 0, again.stderr
    assert f"{30 - count} imported, {count} there already, 0 failed." in again.stdout


def test_a_database_address_may_stand_in_the_environment(
    call: Call, place: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An address that is none is refused with the form that is wanted, from the option and the environment alike."""
    monkeypatch.setenv("PULLPROOF_DATABASE", "mysql://host/name")
    status, _, error = take(call, place)
    assert status == 2
    assert "postgresql://USER@HOST/DATABASE" in error
