import pytest

from pullproof.analysis.plan.orders import CEILING_PULLS, ORDERS, schedule
from pullproof.analysis.plan.result import Costs

ROUND = Costs(pull_min=5.0, warm_up_min=10.0, change_min=30.0, day_min=120.0, day_pulls=8)
EVERY = [(order.id, pulls) for order in ORDERS.values() for pulls in (*order.sides, CEILING_PULLS)]


@pytest.mark.parametrize(("name", "pulls"), EVERY)
def test_both_sides_get_the_pulls_that_were_asked_for(name: str, pulls: int) -> None:
    """Each order drives as many pulls before as after, on days that are counted from 1 without a gap."""
    runs = schedule(ORDERS[name].sequence(pulls), ROUND).runs
    assert [run.state for run in runs].count("before") == [run.state for run in runs].count("after") == pulls
    days = [run.day for run in runs]
    assert days == sorted(days)
    assert set(days) == set(range(1, max(days) + 1))
    assert (max(days) == 1) == ORDERS[name].one_day


def test_before_after_before_is_the_same_backwards() -> None:
    """With an even number a side the order is a mirror image of itself, so that an even drift cancels."""
    states = [run.state for run in schedule(ORDERS["before_after_before"].sequence(4), ROUND).runs]
    assert states == states[::-1] == ["before"] * 2 + ["after"] * 4 + ["before"] * 2


def test_cost_of_a_day_by_hand() -> None:
    """Ten minutes to warm up, four pulls of five, one change of thirty: an hour."""
    driven = schedule(ORDERS["before_after"].sequence(2), ROUND)
    assert (driven.minutes, driven.longest_day, driven.part_changes, driven.most_on_a_day) == (60.0, 60.0, 1, 4)
    assert [run.at_min for run in driven.runs] == [10.0, 15.0, 50.0, 55.0]


def test_a_change_between_two_days_costs_but_is_on_neither() -> None:
    """Two days of twenty-five minutes, and half an hour in the garage between them."""
    driven = schedule(ORDERS["two_days"].sequence(3), ROUND)
    assert (driven.minutes, driven.longest_day, driven.part_changes) == (80.0, 25.0, 1)


def test_by_turns_changes_the_part_between_all_pulls() -> None:
    """Three and three by turns are five changes."""
    assert schedule(ORDERS["alternating"].sequence(3), ROUND).part_changes == 5


def test_what_a_day_does_not_hold_does_not_fit() -> None:
    """Too long, or too many pulls."""
    assert schedule(ORDERS["before_after"].sequence(4), ROUND).fits(ROUND)
    assert not schedule(ORDERS["before_after"].sequence(5), ROUND).fits(ROUND)
    assert not schedule(ORDERS["alternating"].sequence(4), ROUND).fits(ROUND)
