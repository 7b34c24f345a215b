"""The window that pulls are compared in, and what is done with pulls that do not cover it."""

import pytest

from pullproof.analysis.comparison.window import choose_window
from pullproof.car import Car
from pullproof.errors import CannotAnswer, WrongUse


def test_from_sixty_per_cent_of_the_redline_to_the_lowest_end(pull, car):
    """Without a wish it is 60 % of the redline, 4080 of 6800 rpm, to the lowest end of all pulls."""
    chosen = choose_window([pull(rpm=(1800.0, 6600.0))], [pull("after-1.csv", rpm=(1800.0, 6420.0))], car, None)
    assert chosen.window == (4080.0, 6420.0)
    assert chosen.doubts == ()


def test_without_a_redline_the_highest_end_stands_in(pull):
    """A car sheet without a redline costs a doubt that says what was assumed."""
    chosen = choose_window([pull(rpm=(1800.0, 6500.0))], [pull("after-1.csv", rpm=(1800.0, 6000.0))], Car("x"), None)
    assert chosen.window == (3900.0, 6000.0)
    assert "6500 rpm" in chosen.doubts[0]


def test_a_late_start_moves_the_lower_end(pull, car):
    """Where a pull starts above 60 % of the redline the window begins there, and a doubt says so."""
    chosen = choose_window([pull(rpm=(4600.0, 6600.0))], [pull("after-1.csv")], car, None)
    assert chosen.window == (4600.0, 6600.0)
    assert "4600 rpm" in chosen.doubts[0]


def test_pulls_that_do_not_cover_a_wish_are_refused_with_the_reason(pull, car):
    """A pull that ends below the upper end asked for is not used, and says what it covers."""
    short = pull("before-2.csv", rpm=(1800.0, 5900.0))
    chosen = choose_window([pull(), short], [pull("after-1.csv")], car, (4000.0, 6500.0))
    assert [record.pull.log for record in chosen.before] == ["before-1.csv"]
    assert [refused.log for refused in chosen.refused_before] == ["before-2.csv"]
    assert not chosen.refused_before[0].used
    assert "1800 to 5900 rpm" in chosen.refused_before[0].reason


@pytest.mark.parametrize("window", [(6500.0, 4000.0), (0.0, 5000.0), (5000.0, 5000.0)])
def test_a_window_that_makes_no_sense_is_refused(pull, car, window):
    """Falling, empty or zero engine speeds are wrong use."""
    with pytest.raises(WrongUse, match="window"):
        choose_window([pull()], [pull("after-1.csv")], car, window)


def test_a_window_too_narrow_to_be_read_is_refused(pull, car):
    """Ten revolutions a minute hold one sample or none: the sentence says how wide a window has to be."""
    with pytest.raises(WrongUse, match=r"too narrow.*300 rpm or more"):
        choose_window([pull()], [pull("after-1.csv")], car, (4000.0, 4010.0))


def test_a_window_that_nobody_covers_cannot_be_answered(pull, car):
    """The sentence says what the pulls cover instead."""
    with pytest.raises(CannotAnswer, match="1800 to 6600"):
        choose_window([pull()], [pull("after-1.csv")], car, (4000.0, 7500.0))


def test_one_pull_broken_off_early_does_not_take_the_window_from_the_others(pull, car):
    """A pull that ends a few hundred rpm above the foot of the window is set aside, with the reason."""
    short = pull("before-2.csv", rpm=(1800.0, 4700.0))
    chosen = choose_window([pull(rpm=(1800.0, 6500.0)), short], [pull("after-1.csv")], car, None)
    assert chosen.window == (4080.0, 6500.0)
    assert [refused.log for refused in chosen.refused_before] == ["before-2.csv"]
    assert "1800 to 4700 rpm" in chosen.refused_before[0].reason


def test_one_pull_begun_late_does_not_take_the_window_from_the_others(pull, car):
    """A pull that starts well above 60 % of the redline is set aside where its side has another."""
    late = pull("after-2.csv", rpm=(5200.0, 6600.0))
    chosen = choose_window([pull(rpm=(1800.0, 6500.0))], [pull("after-1.csv"), late], car, None)
    assert chosen.window == (4080.0, 6500.0)
    assert [refused.log for refused in chosen.refused_after] == ["after-2.csv"]
    assert chosen.doubts == ()


def test_a_short_pull_that_is_all_its_side_has_sets_the_window(pull, car):
    """Where a side has nothing better, the window gives way."""
    chosen = choose_window([pull(rpm=(1800.0, 4900.0))], [pull("after-1.csv")], car, None)
    assert chosen.window == (4080.0, 4900.0)
    assert chosen.refused_before == chosen.refused_after == ()


def test_pulls_that_share_no_range_cannot_be_answered(pull, car):
    """A pull that ends where the window should begin is named."""
    with pytest.raises(CannotAnswer, match=r"short\.csv"):
        choose_window([pull()], [pull("short.csv", rpm=(1800.0, 4200.0))], car, None)


def test_a_side_without_pulls_cannot_be_answered(pull, car):
    """No pull after the change: nothing to compare."""
    with pytest.raises(CannotAnswer, match="after"):
        choose_window([pull()], [], car, None)
