"""The whole comparison: from logs, with what was refused, the cautions, and the doubts that hold for all of it."""

from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison import compare, compare_records
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer, WrongUse


def test_used_and_refused_pulls_are_shown(pull, car):
    """Every pull found is listed with its side, used or not."""
    refused = pull("before-2.csv", reason="lifted pedal at 5200 rpm").pull
    found = compare_records([pull()], [pull("after-1.csv")], car=car, refused_before=[refused])
    assert [(entry.log, entry.used) for entry in found.before] == [("before-1.csv", True), ("before-2.csv", False)]
    assert [entry.log for entry in found.after] == ["after-1.csv"]


def test_the_cautions_are_always_there(pull, car):
    """No comparison comes without closed course, second person, when to stop, pressure and heat, and local rules."""
    found = compare_records([pull()], [pull("after-1.csv")], car=car)
    assert found.cautions == CAUTIONS
    text = " ".join(CAUTIONS).lower()
    stop, test, rules = ("knock", "lean", "temperature"), ("pressure-test", "guard"), ("noise", "roadworthiness")
    for word in (
        "closed course",
        "dynamometer",
        "second person",
        *stop,
        *test,
        "heat",
        *rules,
        "workshop",
        "last word",
    ):
        assert word in text


def test_an_engine_is_never_called_safe():
    """The one place where the word stands denies it."""
    assert [caution for caution in CAUTIONS if "safe" in caution] == [CAUTIONS[-1]]
    assert "no figure here says that an engine is safe" in CAUTIONS[-1]


def test_how_many_looks_were_taken_is_said(pull, car):
    """With n independent measures at 95 % one false claim comes with 1 - 0.95^n (plain probability)."""
    found = compare_records([pull()], [pull("after-1.csv")], car=car)
    count = len(found.measures)
    assert any(f"{count} measures" in doubt and f"{100 * (1 - 0.95**count):.0f} %" in doubt for doubt in found.doubts)


def test_unknown_weather_is_one_doubt(pull, car):
    """What is not known of any pull stands in one sentence, not in three."""
    unknown = {"air": Air(), "without": ("intake_air_temperature",)}
    found = compare_records([pull(**unknown)], [pull("after-1.csv", **unknown)], car=car)
    doubts = [doubt for doubt in found.doubts if "not known" in doubt]
    assert len(doubts) == 1
    assert "air temperature, air pressure, humidity" in doubts[0]


def test_a_day_that_nobody_named_is_a_doubt(pull, car):
    """Logs without a date are named in one sentence, each once."""
    undated = [
        replace(pull(file), doubts={"day": "unknown"}) for file in ("before-1.csv", "before-2.csv", "before-1.csv")
    ]
    found = compare_records(undated, [pull("after-1.csv")], car=car)
    doubts = [doubt for doubt in found.doubts if "nobody says" in doubt]
    assert len(doubts) == 1
    assert doubts[0].endswith("before-1.csv, before-2.csv")


def test_the_answer_does_not_depend_on_chance(pull, car):
    """Asked twice, every number is the same to the last digit."""
    sides = [pull(wastegate_duty=96.3)], [pull("after-1.csv", wastegate_duty=95.1, boost=141.0)]
    first, second = (compare_records(*sides, car=car) for _ in range(2))
    assert [entry.interval for entry in first.measures] == [entry.interval for entry in second.measures]
    for one, other in zip(first.curves, second.curves, strict=True):
        np.testing.assert_array_equal(one.lower, other.lower)


def test_a_side_without_logs_is_wrong_use(pull, car):
    """Nothing given before: name a log."""
    with pytest.raises(WrongUse, match="before"):
        compare([], [pull().log], car=car)


def test_a_log_on_both_sides_is_wrong_use(pull, car):
    """The same log before and after would always be the same."""
    with pytest.raises(WrongUse, match=r"before-1\.csv"):
        compare([pull().log], [pull().log], car=car)


def test_a_log_without_a_pull_cannot_be_answered(pull, car):
    """A drive without full pedal is named with its file and side."""
    gentle = pull("gentle.csv", pedal_position=20.0, throttle_position=15.0).log
    with pytest.raises(CannotAnswer, match=r"gentle\.csv.*before"):
        compare([gentle], [pull("after-1.csv").log], car=car)
