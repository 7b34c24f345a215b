"""A held value is no sample, a constant one is, and nothing is read across a hole in the record."""

import numpy as np
import pytest

from pullproof.channels import Trace
from pullproof.timebase import cut, gaps, new_samples, rate_hz, typical_interval, value_at


def trace(time: np.ndarray, values: np.ndarray, channel: str = "engine_speed") -> Trace:
    return Trace(channel, "rpm", np.asarray(time, dtype=float), np.asarray(values))


def held(rows_hz: float, own_hz: float, seconds: float = 20.0, blanks: bool = False) -> Trace:
    """A rising signal in fast rows, refreshed slowly."""
    at = np.arange(0, seconds, 1 / rows_hz)
    last = np.floor(at * own_hz + 1e-9) / own_hz
    values = 1000.0 + 100.0 * last
    if blanks:
        values = np.where(np.diff(last, prepend=-1) > 0, values, np.nan)
    return trace(at, values)


@pytest.mark.parametrize("blanks", [False, True])
def test_held_and_blank_rows_are_left_out(blanks: bool) -> None:
    """4 Hz in 20 Hz rows gives back the 4 Hz samples, each at the row where it first appeared."""
    samples = new_samples(held(20.0, 4.0, blanks=blanks))
    assert samples.time.size == 80
    np.testing.assert_allclose(samples.values, 1000.0 + 100.0 * samples.time, atol=1e-9)
    assert rate_hz(held(20.0, 4.0, blanks=blanks)) == pytest.approx(4.0, rel=0.02)


def test_a_channel_sampled_in_every_row_keeps_every_row() -> None:
    """Equal neighbours in a channel that moves from row to row are measurements."""
    values = np.round(50 + 20 * np.sin(np.arange(400) / 7.0))
    samples = new_samples(trace(np.arange(400) / 10, values))
    assert samples.time.size == 400
    assert rate_hz(trace(np.arange(400) / 10, values)) == pytest.approx(10.0)


def test_a_pinned_value_is_constant_not_held() -> None:
    """A duty that moves in every row and then sits at 100 for five seconds goes on being sampled there."""
    moving = 80 + 10 * np.sin(np.arange(200) / 3.0)
    values = np.concatenate((moving, np.full(100, 100.0), moving))
    samples = new_samples(trace(np.arange(500) / 20, values, "wastegate_duty"))
    assert np.count_nonzero(samples.values == 100.0) == 100


def test_a_held_channel_that_is_pinned_keeps_its_own_pace() -> None:
    """At 4 Hz in 20 Hz rows a value pinned for ten seconds counts about forty times, not once and not two hundred."""
    moving = np.repeat(80 + 10 * np.sin(np.arange(100) / 3.0), 5)
    values = np.concatenate((moving, np.full(200, 100.0)))
    samples = new_samples(trace(np.arange(700) / 20, values, "wastegate_duty"))
    assert np.count_nonzero(samples.values == 100.0) == pytest.approx(40, abs=2)


def test_a_pedal_that_hardly_ever_moves_stays_a_step() -> None:
    """Floored once in a log, the pedal reads full all the time it is floored, not on a ramp between two changes."""
    time = np.arange(0, 20, 0.05)
    samples = new_samples(trace(time, np.where((time > 5) & (time < 10), 100.0, 20.0), "pedal_position"))
    np.testing.assert_allclose(value_at(samples, np.array([4.0, 7.3, 9.0, 12.0])), [20, 100, 100, 20])


def test_single_precision_becomes_double() -> None:
    """What is cut and kept is double precision."""
    part = cut(Trace("x", "1", np.arange(5.0), np.arange(5, dtype=np.float32)), 1.0, 3.0)
    assert part.values.dtype == np.float64
    np.testing.assert_array_equal(part.time, [1.0, 2.0, 3.0])


@pytest.mark.parametrize(("time", "values"), [([], []), ([1.0], [5.0]), ([1.0, 2.0], [np.nan, np.nan])])
def test_hardly_any_samples(time: list[float], values: list[float]) -> None:
    """Empty, single and blank traces have no rate, no holes and no value between samples."""
    it = trace(np.array(time), np.array(values))
    assert rate_hz(it) is None
    assert gaps(it).shape == (0, 2)
    assert np.isinf(typical_interval(new_samples(it)))
    assert np.isnan(value_at(new_samples(it), np.array([1.5]))).all()


def test_holes_are_told_from_the_usual_pace() -> None:
    """A second without rows is a hole at 20 Hz; three seconds are none in a log of 2 s rows."""
    fast = np.concatenate((np.arange(0, 5, 0.05), np.arange(6, 10, 0.05)))
    np.testing.assert_allclose(gaps(trace(fast, fast)), [[4.95, 6.0]])
    slow = np.concatenate((np.arange(0, 20, 2.0), np.arange(21, 40, 2.0)))
    assert gaps(trace(slow, slow)).size == 0


def test_a_restart_is_a_hole_however_short() -> None:
    """Nothing is read across the instant at which the logger began anew."""
    time = np.arange(0, 10, 0.1)
    holes = gaps(trace(time, time), (5.05,))
    np.testing.assert_allclose(holes, [[5.0, 5.1]])
    read = value_at(trace(time, time), np.array([4.95, time[50], 5.03, time[51], 5.12]), holes)
    np.testing.assert_array_equal(np.isnan(read), [False, False, True, False, False])


def test_nothing_is_read_outside_the_record_or_in_a_hole() -> None:
    """NaN before the first sample, after the last and inside a hole; straight lines elsewhere."""
    it = trace(np.array([1.0, 2.0, 8.0, 9.0]), np.array([10.0, 20.0, 80.0, 90.0]))
    read = value_at(it, np.array([9.5, 1.5, 0.5, 5.0, 8.5]), np.array([[2.0, 8.0]]))
    np.testing.assert_array_equal(read, [np.nan, 15.0, np.nan, np.nan, 85.0])
