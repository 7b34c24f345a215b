"""What the page of a log draws: the channel's own samples, thinned out, packed for the browser."""

import struct

import numpy as np
import pytest
from tests.library.small_logs import SHEET, log_text

from pullproof.library import catalogue
from pullproof.library.importing import import_logs
from pullproof.web.traces import Shown, packed


def unpack(block):
    """Read the blocks as their description says, without the code that wrote them."""
    found, at = [], 0
    while at < len(block):
        count, thinned = struct.unpack_from("<II", block, at)
        numbers = np.frombuffer(block, "<f4", 2 * count, at + 8)
        found.append((thinned, numbers[:count], numbers[count:]))
        at += 8 + 8 * count
    return found


def test_blocks_hold_times_after_the_start_and_values():
    """Every channel is one block: count, whether it was thinned out, times, values."""
    time = np.arange(0.0, 10.0, 0.5)
    one = Shown(time, time * 2, np.empty((0, 2)))
    ((thinned, at, values),) = unpack(packed([one], 4.0, 6.0, 100))
    assert thinned == 0
    assert at.tolist() == [-0.5, 0.0, 0.5, 1.0, 1.5, 2.0, 2.5]
    assert values.tolist() == [7.0, 8.0, 9.0, 10.0, 11.0, 12.0, 13.0]


def test_many_samples_are_thinned_out_and_say_so():
    """A window of more samples than the picture has columns comes as its lowest and highest values."""
    time = np.arange(100_000) / 100
    one = Shown(time, np.sin(time), np.array([[500.0, 501.0]]))
    ((thinned, at, values),) = unpack(packed([one], 0.0, 1000.0, 500))
    assert thinned == 1
    assert at.size < 1100
    assert np.nanmax(values) == pytest.approx(1.0, abs=1e-6)
    assert np.isnan(values).sum() == 1


@pytest.fixture
def logged(client, library, tmp_path):
    """A client, and a library with one car and one log."""
    (tmp_path / "run.csv").write_text(log_text(1), encoding="utf-8")
    with library.transaction() as session:
        catalogue.add_car(session, SHEET)
    for outcome in import_logs(library, 1, [tmp_path / "run.csv"], workers=0):
        assert outcome.outcome == "imported"
    return client


@pytest.mark.parametrize(
    "query",
    ["", "?channel=no-such", "?channel=engine_speed&from=nan&to=inf&columns=-4", "?from=9&to=1&columns=999999999"],
)
def test_samples_answer_whatever_the_address_says(logged, query):
    """An address that makes no sense gets no samples or all of them, never an error."""
    answer = logged.get(f"/logs/1/samples{query}")
    assert answer.status_code == 200
    unpack(answer.content)


def test_log_that_is_not_there_is_a_page(logged):
    """A log that nobody has is said to be missing."""
    answer = logged.get("/logs/99")
    assert answer.status_code == 404
    assert "no such log" in answer.text


def test_original_comes_back_byte_for_byte_and_never_as_a_page(logged, tmp_path):
    """The file is given back as it came, as something to keep, whatever it holds."""
    answer = logged.get("/logs/1/original")
    assert answer.content == (tmp_path / "run.csv").read_bytes()
    assert answer.headers["content-type"] == "application/octet-stream"
    assert answer.headers["content-disposition"].startswith("attachment")
