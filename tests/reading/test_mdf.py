"""MDF 4 through asammdf: decoded channels, raw frames with and without their database, and a missing library."""

import contextlib
import sys
import warnings

import numpy as np
import pytest
from tests.reading.drive import drive

from pullproof.errors import CannotRead
from pullproof.reading import read_log

DRIVE = drive(40, 20)


@pytest.fixture
def library():
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        return pytest.importorskip("asammdf", reason="the extra for MDF is not installed")


@pytest.fixture
def written(library, tmp_path):
    """An MDF 4 file with two groups of channels at different rates."""
    signal = library.Signal
    fast = [
        signal(DRIVE["engine_speed"], DRIVE["time"] + 3, name="Engine Speed", unit="rpm"),
        signal(DRIVE["manifold_pressure"], DRIVE["time"] + 3, name="Manifold Absolute Pressure", unit="kPa"),
    ]
    slow = [signal(DRIVE["coolant_temperature"][::20] * 1.8 + 32, DRIVE["time"][::20] + 3.2, name="CLT", unit="°F")]
    path = tmp_path / "log.mf4"
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        with library.MDF(version="4.10") as file:
            file.append(fast)
            file.append(slow)
            return file.save(path, overwrite=True)


def test_decoded_channels(written):
    """Channels come with their own instants, names and units; all count from the earliest sample."""
    log = read_log(written)
    assert log.encoding.startswith("MDF 4.")
    np.testing.assert_allclose(log.traces["engine_speed"].values, DRIVE["engine_speed"])
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-9)
    np.testing.assert_allclose(log.traces["coolant_temperature"].values, DRIVE["coolant_temperature"][::20])
    np.testing.assert_allclose(log.traces["coolant_temperature"].time, DRIVE["time"][::20] + 0.2, atol=1e-9)
    rates = {column.channel: column.rate_hz for column in log.columns}
    assert rates == pytest.approx({"engine_speed": 20, "manifold_pressure": 20, "coolant_temperature": 1}, rel=0.01)


def test_without_the_library(tmp_path, monkeypatch):
    """Where asammdf is missing, the sentence says how to install it."""
    path = tmp_path / "log.mf4"
    path.write_bytes(b"MDF     4.11    " + bytes(200))
    monkeypatch.setitem(sys.modules, "asammdf", None)
    with pytest.raises(CannotRead, match=r"pip install 'pullproof\[mdf\]'"):
        read_log(path)


@pytest.mark.parametrize("share", [0.1, 0.5, 0.9])
def test_a_broken_file(written, share):
    """A file that was cut off is refused, or read as far as it goes; it never ends in a traceback."""
    content = written.read_bytes()
    written.write_bytes(content[: int(share * len(content))])
    with contextlib.suppress(CannotRead):
        assert read_log(written).columns


def test_frames_need_a_database(library, shared_logs, tmp_path):
    """Raw frames alone are refused; with the database under the same name beside them they are read."""
    frames = shared_logs / "mdf4-raw-bus"
    path = tmp_path / "truck.mf4"
    path.write_bytes((frames / "truck_raw_can.MF4").read_bytes())
    with pytest.raises(CannotRead, match=r"without a database.*truck\.dbc"):
        read_log(path)
    for name in ("a.dbc", "b.dbc"):
        (tmp_path / name).write_bytes(b'VERSION ""\n')
    with pytest.raises(CannotRead, match=r"2 \.dbc files"):
        read_log(path)
    (tmp_path / "truck.dbc").write_bytes((frames / "j1939_demo.dbc").read_bytes())
    log = read_log(path)
    assert "engine_speed" in log.traces
    assert any("truck.dbc" in note for note in log.notes)
