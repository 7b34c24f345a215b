"""Files that are no logs, or broken ones: one clear sentence that names the file and what to do; never a traceback."""

import io
import os
import subprocess
import sys
import zipfile

import numpy as np
import pytest
from tests.reading.drive import drive, log_of, table

from pullproof.errors import CannotRead
from pullproof.reading import read_log

DRIVE = drive(30, 10)
TEXT = log_of(DRIVE, {"engine_speed": "RPM", "vehicle_speed": "Speed (km/h)", "pedal_position": "Pedal (%)"})


def refusal(path) -> str:
    """The sentence with which a file is refused."""
    with pytest.raises(CannotRead) as refused:
        read_log(path)
    sentence = str(refused.value)
    assert "\n" not in sentence
    assert str(path) in sentence
    assert refused.value.advice
    return sentence


def zipped() -> bytes:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w") as archive:
        archive.writestr(zipfile.ZipInfo("log.csv", (2026, 10, 3, 16, 20, 0)), TEXT)
    return held.getvalue()


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "is empty"),
        (b"\n \n\t\n", "is empty"),
        (b"\0" * 4096, "is empty"),
        (b"\xef\xbb\xbf", "is empty"),
        (zipped(), "zip archive"),
        (b"\x1f\x8b\x08" + bytes(range(256)) * 4, "gzip archive"),
        (b"%PDF-1.7 and so on", "PDF document"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(500), "spreadsheet"),
        (b"SQLite format 3\0" + bytes(500), "database"),
        (np.random.default_rng(1).bytes(20_000), "binary file"),
        (np.arange(5000, dtype="<f4").tobytes(), "binary file"),
        (b"MDF     4.11    " + bytes(300), "MDF file is broken"),
        (b"just a few words\nof somebody\n", "no table of numbers"),
        (b"RPM\n1000\n1010\n1020\n1030\n", "One file per channel"),
        (b"speed,rpm,load\n" + b"7,898,44\n" * 50, "no time column"),
        (b"Time,RPM\n", "no table of numbers"),
        (b"Time (s),RPM,Speed\n" + b"x,1000,20\n" * 40, "no time"),
        (b"RPM," * 200_000 + b"\n" + b"1," * 200_000, "200001 columns"),
        (b"1" * (40 << 20), "no table of numbers|line is longer"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_what_is_no_log_is_refused(tmp_path, content, says):
    """Whatever it is, it is refused in one sentence that says what it is."""
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    assert any(part in refusal(path) for part in says.split("|"))


def test_a_directory(tmp_path):
    """A directory is called one."""
    assert "directory" in refusal(tmp_path)


def test_a_file_that_is_not_there(tmp_path):
    """A wrong name is said to be one."""
    assert "No such file" in refusal(tmp_path / "nothing.csv")


def test_unreadable_permissions(tmp_path, monkeypatch):
    """A file that may not be read is refused; the superuser may read anything, so the refusal is acted here."""
    path = tmp_path / "log.csv"
    path.write_text(TEXT)
    path.chmod(0)
    if os.access(path, os.R_OK):

        def denied(*_args, **_how):
            raise PermissionError(13, "Permission denied")

        monkeypatch.setattr(type(path), "open", denied)
    assert "Permission denied" in refusal(path)


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="the system has no named pipes")
def test_a_pipe_does_not_hang(tmp_path):
    """A named pipe would wait for ever: it is refused before it is opened."""
    path = tmp_path / "log.csv"
    os.mkfifo(path)
    assert "no regular file" in refusal(path)


def test_an_impossible_name(tmp_path):
    """A zero byte in a name is a slip of the caller, told as one."""
    with pytest.raises(CannotRead, match="no file name"):
        read_log(str(tmp_path / "log\0.csv"))


@pytest.mark.parametrize("every", [1, 2])
def test_time_running_backwards(tmp_path, every):
    """A log whose clock runs backwards is refused with the first place where it does."""
    time = DRIVE["time"][::-1] if every == 1 else np.where(np.arange(300) % 2, DRIVE["time"] - 0.15, DRIVE["time"])
    path = tmp_path / "log.csv"
    path.write_text(table(["Time (s)", "RPM"], [time, DRIVE["engine_speed"]]))
    assert 'time in column "Time (s)" runs backwards' in refusal(path)


def test_a_few_garbled_time_stamps_are_left_out(read):
    """Single stamps that jump ahead or fall behind cost their rows and nothing else."""
    time = DRIVE["time"].copy()
    time[50], time[120] = 99_999.0, 1.0
    log = read(table(["Time (s)", "RPM"], [time, DRIVE["engine_speed"]]))
    trace = log.traces["engine_speed"]
    np.testing.assert_allclose(trace.time, np.delete(DRIVE["time"], [50, 120]), atol=1e-6)
    assert log.restarts == ()
    assert any("garbled" in note for note in log.notes)


def test_no_engine_speed_is_a_note(read):
    """A log without engine speed reads, and its notes say what is missing."""
    log = read(log_of(DRIVE, {"vehicle_speed": "Speed (km/h)"}))
    assert any("No engine speed" in note for note in log.notes)


@pytest.mark.skipif(sys.platform != "linux", reason="limits of memory are set as Linux has them")
def test_a_machine_with_little_memory_says_so(tmp_path):
    """A file that is too large for the memory is refused in a sentence before anything breaks."""
    path = tmp_path / "huge.csv"
    with path.open("wb") as file:
        file.write(b"Time (s),RPM,Speed (km/h)\n" + b"".join(b"%d.5,%d,%d\n" % (i, 1000 + i, i) for i in range(2000)))
        line = b"9999.5,3000,100.5\n"
        file.write(line * ((300 << 20) // len(line)))
    code = (
        "import resource, sys\n"
        "from pullproof.reading import read_log\n"
        "from pullproof.errors import CannotRead\n"
        "import polars as pl; pl.read_csv(b'a\\n1\\n')\n"
        "used = int(open('/proc/self/statm').read().split()[0]) * resource.getpagesize()\n"
        "resource.setrlimit(resource.RLIMIT_AS, (used + (300 << 20),) * 2)\n"
        "try:\n    read_log(sys.argv[1])\nexcept CannotRead as error:\n    print(error)\n"
    )
    done = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, check=False, timeout=120)
    assert done.returncode == 0, done.stderr
    assert "GB of memory" in done.stdout
    assert not done.stderr


def test_memory_that_runs_out_all_the_same(tmp_path, monkeypatch):
    """Where the system gave no warning, running out is still a sentence."""
    path = tmp_path / "log.csv"
    path.write_text(TEXT)
    monkeypatch.setattr("pullproof.reading.memory.available_memory", lambda: None)

    def exhausted(*_args, **_how):
        raise MemoryError

    monkeypatch.setattr("pullproof.reading.text_table.np.empty", exhausted)
    assert "memory" in refusal(path)
