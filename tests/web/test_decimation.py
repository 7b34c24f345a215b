"""Decimation for pictures: what the eye must not lose."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from pullproof.web.decimation import decimate, with_gaps


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 5000), st.integers(2, 300), st.integers(0, 10_000))
def test_no_peak_is_lost_and_no_point_invented(count, columns, seed):
    """Least and greatest value stay, every point is a sample, time stays in order, and there are few points."""
    rng = np.random.default_rng(seed)
    time = np.sort(rng.uniform(0, 100, count))
    values = rng.normal(size=count)
    values[rng.random(count) < 0.2] = np.nan
    at, kept = decimate(time, values, 0.0, 100.0, columns)
    assert at.size <= max(4 * columns + 2, 2 * columns + 4)
    assert np.all(np.diff(at) >= 0)
    pairs = set(zip(time.tolist(), np.nan_to_num(values, nan=1e9).tolist(), strict=True))
    assert set(zip(at.tolist(), np.nan_to_num(kept, nan=1e9).tolist(), strict=True)) <= pairs
    if not np.isnan(values).all():
        assert np.nanmin(kept) == np.nanmin(values)
        assert np.nanmax(kept) == np.nanmax(values)


@pytest.mark.parametrize("place", [0, 17, 499_999, 777_777, 999_999])
def test_single_peak_among_a_million_samples_stays_at_its_instant(place):
    """One sample of knock in a million is drawn where it was."""
    time = np.arange(1_000_000) / 100.0
    values = np.zeros(time.size)
    values[place] = 9.0
    at, kept = decimate(time, values, 0.0, 1e4, 1000)
    assert kept.max() == 9.0
    assert at[kept.argmax()] == time[place]


def test_window_keeps_the_sample_on_either_side():
    """A line goes on to the edges of the picture: one sample beyond each end is kept."""
    time = np.arange(100.0)
    at, _ = decimate(time, time, 10.5, 20.5, 50)
    assert at[0] == 10.0
    assert at[-1] == 21.0


def test_nothing_recorded_gives_nothing():
    """A picture of no samples is empty."""
    at, kept = decimate(np.empty(0), np.empty(0), 0.0, 1.0, 100)
    assert at.size == kept.size == 0


def test_hole_in_the_record_breaks_the_line():
    """A point without value stands in the hole and nowhere else."""
    at, kept = with_gaps(np.array([0.0, 1.0, 5.0, 6.0]), np.ones(4), np.array([[1.0, 5.0]]))
    assert at.tolist() == [0.0, 1.0, 3.0, 5.0, 6.0]
    assert np.isnan(kept).tolist() == [False, False, True, False, False]
