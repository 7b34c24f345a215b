"""Samples come back from Parquet exactly as they went in."""

import dataclasses
from pathlib import Path
from types import MappingProxyType

import numpy as np
import polars as pl
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as stnp

from pullproof.channels import Trace
from pullproof.library import Library
from pullproof.library.samples import UNREADABLE_SAMPLES, read_samples, write_samples
from pullproof.reading import read_log
from pullproof.reading.log import Column, Log

SHARED = Path(__file__).parents[3] / "shared" / "logs"
DATA = Path(__file__).parents[1] / "data" / "logs"
TEXT = st.text(max_size=12)
NUMBER = st.floats(allow_nan=False, allow_infinity=False)


def assert_same(one: Log, other: Log) -> None:
    """Every field alike, every sample bit for bit (a blank stays a blank)."""
    for field in dataclasses.fields(Log):
        if field.name != "traces":
            assert getattr(one, field.name) == getattr(other, field.name), field.name
    assert list(one.traces) == list(other.traces)
    for name, trace in one.traces.items():
        back = other.traces[name]
        assert (back.channel, back.unit) == (trace.channel, trace.unit)
        for ours, theirs in ((trace.time, back.time), (trace.values, back.values)):
            assert theirs.dtype == np.float64
            np.testing.assert_array_equal(np.isnan(ours), np.isnan(theirs))
            known = ~np.isnan(ours)
            assert ours[known].tobytes() == theirs[known].tobytes()


@st.composite
def logs(draw: st.DrawFn) -> Log:
    """Logs of any channels, some of which share a clock, with blanks, infinities and empty channels."""
    clocks = draw(
        st.lists(stnp.arrays(np.float64, st.integers(0, 40), elements=NUMBER).map(np.sort), min_size=1, max_size=3)
    )
    names = draw(st.lists(TEXT, unique=True, max_size=6))
    traces = {}
    for name in names:
        time = draw(st.sampled_from(clocks))
        values = draw(stnp.arrays(np.float64, time.size, elements=st.floats(width=64)))
        traces[name] = Trace(draw(TEXT), draw(TEXT), time, values)
    column = st.builds(
        Column, TEXT, st.none() | TEXT, st.none() | TEXT, NUMBER, st.none() | NUMBER, st.none() | TEXT,
        st.lists(TEXT, max_size=3).map(tuple), st.integers(0, 10**9),
    )  # fmt: skip
    return Log(
        file=draw(TEXT),
        rows=draw(st.integers(0, 10**9)),
        duration_s=draw(NUMBER),
        encoding=draw(TEXT),
        delimiter=draw(TEXT),
        decimal=draw(TEXT),
        columns=tuple(draw(st.lists(column, max_size=4))),
        traces=MappingProxyType(traces),
        restarts=tuple(draw(st.lists(NUMBER, max_size=3))),
        notes=tuple(draw(st.lists(TEXT, max_size=3))),
        gauge_reference_kpa=MappingProxyType(draw(st.dictionaries(TEXT, NUMBER, max_size=3))),
    )


@settings(max_examples=150, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(log=logs())
def test_any_log_comes_back_exactly(plain_library: Library, log: Log) -> None:
    """Whatever a log holds, its samples come back bit for bit, and all that is said of it with them."""
    path = plain_library.folder / "samples" / "log.parquet"
    write_samples(plain_library.folder, log, path)
    assert_same(log, read_samples(path))


def real_logs() -> list[Path]:
    return [
        path
        for folder in (DATA, SHARED)
        if folder.is_dir()
        for path in sorted(folder.rglob("*"))
        if path.suffix in (".csv", ".txt", ".MF4")
    ]


@pytest.mark.parametrize("path", real_logs(), ids=lambda path: f"{path.parent.name}/{path.name}")
def test_real_logs_come_back_exactly(plain_library: Library, path: Path) -> None:
    """Logs of every layout that real loggers wrote come back as they were read."""
    try:
        log = read_log(path)
    except Exception as error:  # noqa: BLE001
        pytest.skip(f"not a log that can be read: {error}")
    kept = write_samples(plain_library.folder, log, plain_library.folder / "samples" / "log.parquet")
    assert_same(log, read_samples(plain_library.folder / "samples" / "log.parquet"))
    assert kept.size < 0.6 * path.stat().st_size + 20_000


def test_channels_of_one_clock_share_it(plain_library: Library) -> None:
    """A clock that many channels have is kept once, on the disk and in memory."""
    time = np.arange(1000.0)
    traces = {f"c{place}": Trace("x", "1", time.copy(), time * place) for place in range(5)}
    log = Log("a", 1, 1.0, "", "", "", (), traces)
    path = plain_library.folder / "samples" / "log.parquet"
    write_samples(plain_library.folder, log, path)
    assert sum(name.startswith("time") for name in pl.read_parquet_schema(path)) == 1
    back = read_samples(path)
    assert len({id(trace.time) for trace in back.traces.values()}) == 1


@pytest.mark.parametrize("harm", ["gone", "empty", "cut", "changed", "other"])
def test_damaged_samples_are_known_for_it(plain_library: Library, harm: str) -> None:
    """A file that is missing, cut off, overwritten or somebody else's is never taken for samples."""
    path = plain_library.folder / "samples" / "log.parquet"
    time = np.arange(3000.0)
    write_samples(
        plain_library.folder, Log("a", 1, 1.0, "", "", "", (), {"c": Trace("x", "1", time, np.sin(time))}), path
    )
    whole = path.read_bytes()
    if harm == "gone":
        path.unlink()
    elif harm == "other":
        pl.DataFrame({"a": [1]}).write_parquet(path)
    else:
        content = {"empty": b"", "cut": whole[: len(whole) // 2], "changed": b"x" * len(whole)}
        path.write_bytes(content[harm])
    with pytest.raises(UNREADABLE_SAMPLES):
        read_samples(path)


def test_other_tools_can_read_them(plain_library: Library) -> None:
    """Samples are ordinary Parquet: a column for the clock and one a channel, under names that say what they are."""
    time = np.arange(4.0)
    log = Log("a", 1, 1.0, "", "", "", (), {"engine_speed": Trace("engine_speed", "rpm", time, time * 1000)})
    path = plain_library.folder / "samples" / "log.parquet"
    write_samples(plain_library.folder, log, path)
    assert pl.read_parquet(path).to_dict(as_series=False) == {
        "time 0": [0.0, 1.0, 2.0, 3.0],
        "0 engine_speed": [0.0, 1000.0, 2000.0, 3000.0],
    }
