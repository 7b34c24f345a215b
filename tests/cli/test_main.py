"""The door: exit status and one sentence for every way in which an input can be bad."""

import json
import os
import subprocess
import sys
import zipfile
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

import pullproof
from pullproof.cli.main import _spelled, run
from pullproof.report.documents import schema

CAR = 'name = "x"\n[engine]\nredline_rpm = 6800\n'


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def a_drive(rows: int = 400) -> str:
    """A log without any pull: an idling engine, 20 samples a second."""
    lines = [f"{i / 20:.2f},{800 + i % 7},0,{5 + i % 2}" for i in range(rows)]
    return "\n".join(["Time (s),Engine RPM (rpm),Pedal (%),Throttle (%)", *lines]) + "\n"


def empty(path: Path) -> None:
    path.write_bytes(b"")


def binary(path: Path) -> None:
    path.write_bytes(bytes(range(256)) * 64)


def zipped(path: Path) -> None:
    with zipfile.ZipFile(path, "w") as archive:
        archive.writestr("a.csv", a_drive())


def a_folder(path: Path) -> None:
    path.mkdir()


def prose(path: Path) -> None:
    path.write_text("It was a dark and stormy night.\nThe turbo whistled.\n" * 20, encoding="utf-8")


def timeless(path: Path) -> None:
    path.write_text("speed,rpm,load\n" + "7,898,44\n1,917,32\n" * 50, encoding="utf-8")


def missing(path: Path) -> None:
    pass


@pytest.mark.parametrize("make", [empty, binary, zipped, a_folder, prose, timeless, missing], ids=lambda f: f.__name__)
@pytest.mark.parametrize("command", ["read", "pulls"])
def test_what_cannot_be_read_is_named_in_one_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], make: Callable[[Path], None], command: str
) -> None:
    """A file that is no log ends with status 3 and one sentence that names it, never a traceback."""
    path = tmp_path / "bad.csv"
    make(path)
    car = tmp_path / "car.toml"
    car.write_text(CAR, encoding="utf-8")
    assert status_of(command, path, "--car", car) == 3
    error = capsys.readouterr().err
    assert "bad.csv" in error
    assert "Traceback" not in error
    assert len(error.strip().splitlines()) == 1


@pytest.mark.skipif(os.name == "nt" or os.geteuid() == 0, reason="root may read everything")
def test_a_file_without_permission_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file that may not be read ends with status 3."""
    path = tmp_path / "locked.csv"
    path.write_text(a_drive(), encoding="utf-8")
    path.chmod(0)
    assert status_of("read", path) == 3
    assert "locked.csv" in capsys.readouterr().err


def test_one_bad_file_does_not_cost_the_others(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """`read` names the bad file, goes on, and the JSON holds the good one."""
    good, bad, out = tmp_path / "good.csv", tmp_path / "bad.csv", tmp_path / "out.json"
    good.write_text(a_drive(), encoding="utf-8")
    bad.write_bytes(b"")
    assert status_of("read", bad, good, "--json", out) == 3
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("read"))
    assert [log["file"] for log in document["logs"]] == ["good.csv"]
    assert "bad.csv" in capsys.readouterr().err


def test_no_pull_is_an_answer_that_cannot_be_given(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A drive without a pull ends with status 1, and the JSON still says what was found."""
    log, car, out = tmp_path / "idle.csv", tmp_path / "car.toml", tmp_path / "out.json"
    log.write_text(a_drive(), encoding="utf-8")
    car.write_text(CAR, encoding="utf-8")
    assert status_of("pulls", log, "--car", car, "--json", out) == 1
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("pulls"))
    assert document["logs"] == [{"file": "idle.csv", "pulls": []}]
    assert "idle.csv" in capsys.readouterr().err


@pytest.mark.parametrize("arguments", [["compair"], ["read"], ["read", "--jsn", "x", "a.csv"], ["pulls", "a.csv"]])
def test_wrong_use_ends_with_status_two(capsys: pytest.CaptureFixture[str], arguments: list[str]) -> None:
    """An unknown command or option, or a missing argument, is one line and status 2."""
    assert status_of(*arguments) == 2
    assert len(capsys.readouterr().err.strip().splitlines()) == 1


def test_json_that_cannot_be_written_is_wrong_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A path that cannot be written to is named."""
    log = tmp_path / "a.csv"
    log.write_text(a_drive(), encoding="utf-8")
    assert status_of("read", log, "--json", tmp_path / "none" / "out.json") == 2
    assert "out.json" in capsys.readouterr().err


def test_a_fault_of_ours_is_no_traceback(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whatever breaks inside, a user reads one sentence that says how to report it."""

    def broken(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("pullproof.cli.read.read_log", broken)
    assert status_of("read", tmp_path / "a.csv") == 1
    error = capsys.readouterr().err
    assert "PULLPROOF_TRACEBACK" in error
    assert "Traceback" not in error


def test_stopping_is_no_fault(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """Ctrl-C ends with a word, not with a traceback."""

    def stopped(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("pullproof.cli.read.read_log", stopped)
    assert status_of("read", "a.csv") == 130
    assert capsys.readouterr().err.strip() == "pullproof: stopped."


def in_a_process(*arguments: object, **options: Any) -> subprocess.CompletedProcess[bytes]:
    command = [sys.executable, "-m", "pullproof", *map(str, arguments)]
    return subprocess.run(command, check=False, stderr=subprocess.PIPE, timeout=120, **options)


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no full device")
@pytest.mark.parametrize("extra", [(), ("--json", "-")])
def test_a_full_disk_is_named(tmp_path: Path, extra: tuple[str, ...]) -> None:
    """Output that cannot be written ends with status 2 and the system's own reason, not as a fault of ours."""
    path = tmp_path / "a.csv"
    path.write_text(a_drive(), encoding="utf-8")
    with Path("/dev/full").open("wb") as full:
        done = in_a_process("read", path, *extra, stdout=full)
    assert done.returncode == 2
    assert done.stderr.decode().startswith("pullproof: the system does not let us write (No space left on device).")
    assert len(done.stderr.splitlines()) == 1


@pytest.mark.skipif(os.name == "nt", reason="pipes close in another way there")
@pytest.mark.parametrize("extra", [(), ("--json", "-")])
def test_a_closed_pipe_is_no_error(tmp_path: Path, extra: tuple[str, ...]) -> None:
    """`| head` ends with status 0 and without a word."""
    path = tmp_path / "a.csv"
    path.write_text(a_drive(), encoding="utf-8")
    reader, writer = os.pipe()
    os.close(reader)
    with os.fdopen(writer, "wb") as closed:
        done = in_a_process("read", path, *extra, stdout=closed)
    assert (done.returncode, done.stderr) == (0, b"")


def test_a_console_of_few_letters_loses_no_sign(tmp_path: Path) -> None:
    """Where the console has no degree sign and no minus of its own, they are spelled out; JSON escapes them."""
    path = tmp_path / "a.csv"
    path.write_text(a_drive().replace("Throttle (%)", "Zündung (°)"), encoding="utf-8")
    few = {"env": {**os.environ, "PYTHONIOENCODING": "ascii"}, "stdout": subprocess.PIPE}
    done = in_a_process("read", path, **few)
    assert (done.returncode, done.stderr) == (0, b"")
    assert b"Z?ndung ( deg)" in done.stdout
    done = in_a_process("read", path, "--json", "-", **few)
    assert "Zündung (°)" in [column["header"] for column in json.loads(done.stdout)["logs"][0]["columns"]]
    assert _spelled(UnicodeEncodeError("ascii", "\u22122.6", 0, 1, "")) == ("-", 1)


def test_the_library_raises_what_the_command_line_says(tmp_path: Path) -> None:
    """The public calls raise the same errors, for those who use the library."""
    path = tmp_path / "bad.csv"
    path.write_bytes(b"")
    with pytest.raises(pullproof.CannotRead, match=r"bad\.csv"):
        pullproof.read_log(path)
