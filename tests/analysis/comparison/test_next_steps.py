"""What to do next must be concrete: how many pulls, on which day, in which order, what to write down."""

import re

from pullproof.analysis.comparison import compare_records
from pullproof.conditions import Air, Change


def test_two_days_call_for_one_day_with_both_states(pulls, car):
    """With before on one day and after on another the first step is both on one day, before, after, before."""
    found = compare_records(pulls("before", "saturday", [97.2]), pulls("after", "sunday", [95.0]), car=car)
    assert "one day, before, after, before again" in found.next_steps[0]


def test_unclear_says_how_many_pulls_would_tell(pulls, car):
    """The number of pulls a side stands beside the interval that they would give."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 97.0]), pulls("after", "saturday", [95.8, 96.4]), car=car
    )
    assert any(
        re.search(r"Drive \d+ pulls before and \d+ after on one day.*percentage points", step)
        for step in found.next_steps
    )


def test_unknown_weather_is_to_be_written_down(pulls, car):
    """What was missing is named."""
    sides = [pulls(side, "saturday", [96.0] * 3, air=Air()) for side in ("before", "after")]
    steps = " ".join(compare_records(*sides, car=car).next_steps)
    assert "air temperature, air pressure and humidity" in steps


def test_several_changes_are_to_be_undone_one_by_one(pulls, car):
    """Two changes at once: undo one."""
    sides = [pulls(side, "saturday", [96.0] * 3) for side in ("before", "after")]
    found = compare_records(*sides, car=car, changes=[Change("charge pipe"), Change("air filter")])
    assert any("Undo one of the changes" in step for step in found.next_steps)


def test_knock_comes_before_any_further_pull(pulls, car):
    """Three degrees of knock retard on one side is the first thing to look into."""
    found = compare_records(
        pulls("before", "saturday", [96.0] * 3), pulls("after", "saturday", [96.0] * 3, knock_retard=4.0), car=car
    )
    assert "knock" in found.next_steps[0].lower()


def test_more_duty_pulls_do_not_help_at_the_stop(pulls, car):
    """Pinned duty is not to be driven again for duty."""
    sides = [
        pulls(side, "saturday", [100.0] * 3, without=("boost", "charge_pressure", "wheel_power", "vehicle_speed"))
        for side in ("before", "after")
    ]
    found = compare_records(*sides, car=car)
    assert found.main == "pull.time"
    assert found.next_steps


def test_there_is_always_a_next_step(pulls, car):
    """A clear answer asks for the change to be undone once more; none is left without a word."""
    found = compare_records(
        pulls("before", "saturday", [97.2, 97.3, 97.4]), pulls("after", "saturday", [94.0, 94.1, 93.9]), car=car
    )
    assert any("comes back" in step for step in found.next_steps)
