"""The sentence must name measure, amount, unit, interval, level and what it rests on, and claim no more."""

import re

import pytest

from pullproof.analysis.comparison import compare_records
from pullproof.errors import CannotAnswer, WrongUse


def test_a_clear_fall_is_said_with_everything_it_rests_on(pulls, car):
    """Measure, amount, unit, level, both ends, pulls and days are in the sentence."""
    found = compare_records(
        pulls("before", "saturday", [97.2, 97.4, 97.1]), pulls("after", "saturday", [95.0, 95.2, 94.9]), car=car
    )
    assert re.fullmatch(
        r"Peak wastegate duty fell by 2\.\d+ percentage points "
        r"\(95 % interval -\d\.\d+ to -\d\.\d+ percentage points\), 3 pulls before and 3 after on one day\.",
        found.sentence,
    )


def test_one_pull_a_side_on_two_days_says_how_little_that_proves(pulls, car, measure):
    """97.22 % before and 95 % after on two days: unclear, 2.2 points, and what two days do with nothing changed."""
    found = compare_records(pulls("before", "saturday", [97.22]), pulls("after", "sunday", [95.0]), car=car)
    assert measure(found, "wastegate_duty.peak").verdict == "unclear"
    assert "-2.2 percentage points" in found.sentence
    assert "unclear" in found.sentence
    assert "One pull a side on two days proves little" in found.sentence
    assert "with nothing changed" in found.sentence


def test_one_pull_a_side_says_so_even_when_the_difference_is_clear(pulls, car, measure):
    """A fall of nine points is claimed, and the sentence still says what one pull a side is worth."""
    found = compare_records(pulls("before", "saturday", [97.0]), pulls("after", "sunday", [88.0]), car=car)
    assert measure(found, "wastegate_duty.peak").verdict == "lower"
    assert "fell by 9.0" in found.sentence
    assert "One pull a side on two days proves little" in found.sentence


def test_a_rise_is_said_as_a_rise(pulls, car):
    """Higher is said in words, not by a sign alone."""
    found = compare_records(pulls("before", "sunday", [93.0] * 3), pulls("after", "sunday", [96.0] * 3), car=car)
    assert found.sentence.startswith("Peak wastegate duty rose by 3.0")


def test_same_names_the_smallest_difference_worth_having(pulls, car):
    """Same is a claim against a size, and the size is in the sentence."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 96.1] * 6), pulls("after", "saturday", [96.1, 96.0] * 6), car=car
    )
    assert "did not change by as much as is worth having, 0.5 percentage points" in found.sentence


def test_a_failed_check_takes_sameness_back(pulls, car, measure):
    """Twelve pulls a side that agree prove no sameness across gears: a difference could hide behind the gear."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 96.1] * 6, gear=3),
        pulls("after", "saturday", [96.1, 96.0] * 6, gear=4),
        car=car,
    )
    duty = measure(found, "wastegate_duty.peak")
    assert duty.verdict == "unclear"
    assert any("could hide a difference worth having" in doubt for doubt in duty.doubts)


def test_a_failed_check_takes_the_claim_back(pulls, car, measure):
    """Four degrees less ignition could make a fall of two points: unclear, and the sentence says why."""
    found = compare_records(
        pulls("before", "saturday", [97.0] * 3, ignition_timing=8.0),
        pulls("after", "saturday", [95.0] * 3, ignition_timing=4.0),
        car=car,
    )
    duty = measure(found, "wastegate_duty.peak")
    assert duty.interval[1] < 0.0
    assert duty.verdict == "unclear"
    assert "ignition" in found.sentence.lower()
    assert "could make the whole difference" in found.sentence
    assert any("ignition" in doubt.lower() for doubt in duty.doubts)


def test_a_failed_check_that_the_model_took_out_leaves_the_claim(pulls, car, measure, in_air):
    """Twelve kelvins warmer on the after side of shared days fail the check, but the difference has lost them."""
    cool, warm = in_air(), in_air(temperature_c=23.0)
    found = compare_records(
        pulls("before", "saturday", [97.0] * 3, air=cool), pulls("after", "saturday", [90.0] * 3, air=warm), car=car
    )
    assert measure(found, "wastegate_duty.peak").verdict == "lower"


@pytest.mark.parametrize(
    ("without", "expected"),
    [
        ((), "wastegate_duty.peak"),
        (("wastegate_duty",), "boost.mean"),
        (("wastegate_duty", "boost", "charge_pressure"), "wheel_power.mean"),
        (("wastegate_duty", "boost", "charge_pressure", "wheel_power", "vehicle_speed"), "pull.time"),
    ],
)
def test_the_main_measure_is_the_first_that_is_there(pull, car, without, expected):
    """Peak duty, else mean boost, else mean wheel power, else the time through the window."""
    found = compare_records([pull(without=without)], [pull("after-1.csv", without=without)], car=car)
    assert found.main == expected


def test_a_pinned_duty_hands_over_to_boost_and_says_so(pulls, car):
    """With duty at its stop in every pull boost speaks, named or not."""
    sides = (
        pulls("before", "saturday", [100.0] * 3, boost=130.0),
        pulls("after", "saturday", [100.0] * 3, boost=138.0),
    )
    for main in (None, "wastegate_duty.peak"):
        found = compare_records(*sides, car=car, main=main)
        assert found.main == "boost.mean"
        assert found.sentence.startswith("Peak wastegate duty sat at its stop in every pull")
        assert "Mean boost rose by 8.00 kPa" in found.sentence


def test_another_level_is_said(pulls, car):
    """An interval of 80 % is narrower, and the sentence names its level."""
    sides = pulls("before", "saturday", [97.0]), pulls("after", "saturday", [95.0])
    narrow, wide = (compare_records(*sides, car=car, level=level) for level in (0.8, 0.99))
    assert "80 % interval" in narrow.sentence
    assert narrow.measures[0].interval[1] < wide.measures[0].interval[1]


def test_a_measure_that_does_not_exist_is_wrong_use(pull, car):
    """The sentence lists those that do."""
    with pytest.raises(WrongUse, match=r"boost\.mean"):
        compare_records([pull()], [pull("after-1.csv")], car=car, main="power.max")


def test_a_main_measure_that_cannot_be_read_is_an_answer_that_cannot_be_given(pull, car):
    """The measure named before looking is not swapped for another in silence."""
    without = ("lambda",)
    with pytest.raises(CannotAnswer, match=r"lambda\.mean"):
        compare_records([pull(without=without)], [pull("after-1.csv", without=without)], car=car, main="lambda.mean")


@pytest.mark.parametrize("level", [0.2, 1.0, 95.0])
def test_a_level_that_is_no_probability_is_wrong_use(pull, car, level):
    """95 for 0.95 is the likely slip."""
    with pytest.raises(WrongUse, match="level"):
        compare_records([pull()], [pull("after-1.csv")], car=car, level=level)
