"""New samples and held ones: each channel has its own rate, and a repeated value is no sample."""

import numpy as np
import pytest

from pullproof.reading.updates import common_period, new_sample_mask, update_period

NOISE = np.random.default_rng(3)
TIME = np.arange(0, 100, 0.05)


def held(values, rows):
    """Values that a logger refreshes at every m-th row only."""
    return np.repeat(values[::rows], rows)[: values.size]


@pytest.mark.parametrize("rows", [1, 2, 3, 4, 7, 10, 20])
def test_a_busy_channel_tells_its_own_period(rows):
    """A value that is refreshed at every m-th row has m times the period of the rows."""
    values = held(NOISE.normal(0, 1, TIME.size).cumsum(), rows)
    assert update_period(TIME, values) == pytest.approx(0.05 * rows, rel=0.02)


def test_a_period_that_is_no_whole_number_of_rows():
    """An interval of 2.5 rows shows as two and three rows in turn."""
    asked = np.floor(TIME / 0.125).astype(int)
    values = NOISE.normal(0, 1, asked.max() + 1).cumsum()[asked]
    assert update_period(TIME, values) == pytest.approx(0.125, rel=0.25)


def test_coarse_values_do_not_look_held():
    """A slow quantity in whole steps changes at odd intervals: that is no pace of asking."""
    values = np.floor(20 + 4 * np.sin(TIME / 9) + NOISE.normal(0, 0.02, TIME.size))
    period = update_period(TIME, values)
    assert period is None or period == pytest.approx(0.05)


@pytest.mark.parametrize("values", [np.zeros(500), np.full(500, np.nan), np.array([1.0]), np.array([])])
def test_nothing_to_tell(values):
    """Constant, blank, single and no values have no period."""
    assert update_period(np.arange(values.size) / 10, values) is None


def test_blanks_between_the_samples():
    """Rows without a value do not count: the period is that of the rows that have one."""
    values = np.full(TIME.size, np.nan)
    values[::4] = NOISE.normal(0, 1, values[::4].size)
    assert update_period(TIME, values) == pytest.approx(0.2, rel=0.01)


def test_held_values_are_not_new():
    """Of a value refreshed at every fifth row, every fifth row is new."""
    values = held(NOISE.normal(0, 1, TIME.size), 5)
    mask = new_sample_mask(TIME, values, update_period(TIME, values))
    np.testing.assert_array_equal(np.flatnonzero(mask), np.arange(0, TIME.size, 5))


def test_a_pinned_value_goes_on_being_sampled():
    """A pedal held at 100 % is asked for as often as before: repetitions count once a period, and never too early."""
    values = held(NOISE.normal(50, 5, TIME.size), 5)
    values[500:1000] = 100.0
    mask = new_sample_mask(TIME, values, 0.25)
    inside = np.flatnonzero(mask[500:1000])
    assert inside.size == pytest.approx(100, abs=2)
    assert np.all(np.diff(inside) >= 5)


def test_every_row_is_new_where_the_logger_refreshes_every_row():
    """With the period of the rows, a repeated value is a sample like any other; blanks are none."""
    values = np.array([1.0, 1.0, 1.0, np.nan, 2.0, 2.0])
    mask = new_sample_mask(np.arange(6) / 10, values, 0.1)
    np.testing.assert_array_equal(mask, [True, True, True, False, True, True])


def test_only_changes_count_without_a_period():
    """Where nothing is known of the pace, only a change is certain to be new."""
    values = np.array([np.nan, 1.0, 1.0, 2.0, 2.0, 1.0])
    np.testing.assert_array_equal(
        new_sample_mask(np.arange(6.0), values, None), [False, True, False, True, False, True]
    )
    assert not new_sample_mask(np.arange(3.0), np.full(3, np.nan), None).any()


def test_channels_that_cannot_tell_follow_the_others():
    """Where most channels are held over ten rows, one that never changes is asked as seldom; else with each row."""
    assert common_period([1.0, 1.0, 0.1], 0.1) == 1.0
    assert common_period([0.1, 0.1, 1.0], 0.1) == 0.1
    assert common_period([], 0.1) is None
