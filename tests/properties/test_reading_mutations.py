"""Logs that something went wrong with: whatever is done to the bytes, a sound log or one sentence comes of it."""

from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from tests.reading.drive import drive, log_of

from pullproof.errors import CannotRead
from pullproof.reading import Log, read_log

FOLDER = Path(__file__).parents[1] / "data" / "logs"
DRIVE = drive(12, 10)
NAMES = {"engine_speed": "RPM", "manifold_pressure": "MAP (kPa)", "wastegate_duty": "WGDC (%)", "lambda": "AFR"}
MOST = 12_000
SOURCES = {
    **{path.name: path.read_bytes()[:MOST] for path in sorted(FOLDER.glob("*.csv"))},
    "wide": log_of(DRIVE, NAMES).encode(),
    "comma": log_of(DRIVE, NAMES, delimiter=";", decimal=",").encode(),
    "quoted": (
        "\n".join(",".join(f'"{c}"' for c in row.split(",")) for row in log_of(DRIVE, NAMES).splitlines())
    ).encode(),
    "utf-16": log_of(DRIVE, NAMES).encode("utf-16"),
    "restart": 2 * log_of(DRIVE, NAMES).encode(),
}
JUNK = st.sampled_from(
    [
        *(
            b"\0",
            b"\xff",
            b'"',
            b"\n",
            b"\r",
            b",",
            b";",
            b"\t",
            b"1e999",
            b"-",
            b"NaN",
            b"Off",
            b"\xc3",
            b"\xef\xbb\xbf",
        ),
        *(
            b"Time",
            b"12:34:56",
            b"1,5",
            b"9" * 400,
            b"\n\n\n",
            b'"\n"',
            b"#",
            b"RPM;RPM\n",
            b"2007-05-31 07:29:19",
            b"\x1a",
        ),
    ]
)


@st.composite
def damaged(draw):
    """Bytes of a log after one to four accidents."""
    content = draw(st.sampled_from(sorted(SOURCES)).map(SOURCES.__getitem__))
    for _ in range(draw(st.integers(1, 4))):
        place = draw(st.integers(0, max(0, len(content) - 1)))
        length = draw(st.integers(0, 300))
        kind = draw(st.sampled_from(["insert", "delete", "cut", "head", "repeat", "flip", "blank", "swap"]))
        piece = content[place : place + length]
        if kind == "insert":
            content = content[:place] + draw(JUNK) * draw(st.integers(1, 3)) + content[place:]
        elif kind == "delete":
            content = content[:place] + content[place + length :]
        elif kind == "cut":
            content = content[:place]
        elif kind == "head":
            content = content[place:]
        elif kind == "repeat":
            content = content[: place + length] + piece + content[place + length :]
        elif kind == "flip" and content:
            content = content[:place] + bytes([draw(st.integers(0, 255))]) + content[place + 1 :]
        elif kind == "blank":
            content = content[:place] + b" " * len(piece) + content[place + length :]
        else:
            old, new = draw(st.tuples(st.sampled_from(b",;.\t\n 01"), st.sampled_from(b",;.\t\n 01")))
            content = content.replace(bytes([old]), bytes([new]))
    return content


def sound(log: Log) -> None:
    """What every log promises, however it came about."""
    assert log.rows >= 0
    assert log.duration_s >= 0
    assert len({column.header for column in log.columns}) == len(log.columns)
    channels = [column.channel for column in log.columns if column.channel not in (None, "time")]
    assert len(set(channels)) == len(channels)
    for column in log.columns:
        assert 0 <= column.confidence <= 1
        assert column.rate_hz is None or (column.rate_hz > 0 and np.isfinite(column.rate_hz))
        if column.channel not in (None, "time"):
            assert column.channel in log.traces
            assert column.confidence >= 0.5
    for trace in log.traces.values():
        assert trace.time.shape == trace.values.shape
        assert trace.values.dtype == trace.time.dtype == np.float64
        assert np.all(np.isfinite(trace.time))
        assert np.all(np.diff(trace.time) >= 0)
        assert not np.any(np.isinf(trace.values))
    assert set(log.gauge_reference_kpa) <= set(log.traces)


def read_or_refuse(path: Path) -> bool:
    """A sound log, or a refusal of one line that names the file."""
    try:
        log = read_log(path)
    except CannotRead as refused:
        return "\n" not in str(refused) and str(path) in str(refused)
    sound(log)
    return True


@pytest.mark.parametrize("name", SOURCES)
def test_the_sources_themselves(tmp_path, name):
    """Before any accident each source is a sound log, but for the one that never had a time."""
    path = tmp_path / "log.csv"
    path.write_bytes(SOURCES[name])
    if name == "no-time.csv":
        with pytest.raises(CannotRead, match="no time column"):
            read_log(path)
    else:
        sound(read_log(path))


@settings(max_examples=250, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(damaged())
def test_accidents(tmp_path, content):
    """A damaged log is read soundly, or refused in one sentence that names it."""
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    assert read_or_refuse(path)


@settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.binary(max_size=3000) | st.text(max_size=3000).map(lambda text: text.encode()))
def test_anything_at_all(tmp_path, content):
    """Arbitrary bytes are read soundly or refused."""
    path = tmp_path / "log.csv"
    path.write_bytes(content)
    assert read_or_refuse(path)
