import datetime

import numpy as np

from pullproof.analysis.history.analysing import measure_history


def history(tools, plan, seed: int = 0, truth=None, **more):
    drawn = tools.draw(np.random.default_rng(seed), plan, truth, **more)
    return measure_history(drawn.readings, drawn.pulls, 0.95, None)


def test_two_fitted_on_one_day_are_known_together_only(tools) -> None:
    """Neither has an effect of its own; their sum has, and the reason names the other and the day."""
    when = datetime.datetime.fromisoformat("2026-06-08T09:00")
    plan = tools.Plan([[("", 4)], [("AB", 4)], [("AB", 4)]], fitted={"A": when, "B": when})
    found = history(tools, plan, truth={"A": 3.0, "B": 4.0}, scatter=(0.3, 0.3))
    assert found.effect_of("A") is None
    assert found.effect_of("B") is None
    both = found.effect_of("A", "B")
    assert both.weights == (1.0, 1.0)
    assert both.effect.interval[0] < 7.0 < both.effect.interval[1]
    assert [unknown.change for unknown in found.alone_unknown] == ["A", "B"]
    assert found.alone_unknown[0].reason == "it cannot be told apart from B: both were fitted on 8 June 2026"


def test_one_pull_apart_tells_them_apart(tools) -> None:
    """A single pull with one of two and without the other gives each an effect of its own."""
    plan = tools.Plan([[("", 4)], [("A", 1), ("AB", 4)], [("AB", 4)]])
    found = history(tools, plan)
    assert found.alone_unknown == ()
    assert {effect.changes for effect in found.effects} == {("A",), ("B",)}


def test_what_was_exchanged_is_known_as_an_exchange(tools) -> None:
    """One part out and another in: the difference of the two is known, with the sign of the one that came."""
    plan = tools.Plan([[("A", 4)], [("A", 4)], [("B", 4)], [("B", 4)]])
    found = history(tools, plan, truth={"A": 1.0, "B": 6.0}, scatter=(0.3, 0.3))
    (effect,) = found.effects
    assert dict(zip(effect.changes, effect.weights, strict=True)) == {"A": -1.0, "B": 1.0}
    assert effect.effect.interval[0] < 5.0 < effect.effect.interval[1]
    assert "exchanged for" in found.alone_unknown[0].reason


def test_a_part_that_was_always_there_has_no_effect_to_show(tools) -> None:
    """What was fitted before the first test day, and what was never driven, say so."""
    late = datetime.datetime.fromisoformat("2026-12-01")
    plan = tools.Plan([[("A", 4)], [("AB", 4)], [("AB", 4)]], fitted={"Z": late})
    found = history(tools, plan)
    assert {effect.changes for effect in found.effects} == {("B",)}
    reasons = {unknown.change: unknown.reason for unknown in found.alone_unknown}
    assert "in every pull that counts" in reasons["A"]
    assert reasons["Z"] == "it was on the car in no pull that counts"


def test_a_temporary_fix_that_is_undone_at_noon_is_known_better(tools) -> None:
    """The same days and pulls tell more of a fix that was taken off again on one of them than of one that stayed."""
    stayed = tools.Plan([[("", 4)], [("A", 4)], [("A", 4)], [("A", 4)]])
    undone = tools.Plan([[("", 4)], [("A", 4)], [("A", 2), ("", 2)], [("", 4)]])
    first, second = (history(tools, plan, scatter=(0.5, 0.8)).effect_of("A").effect for plan in (stayed, undone))
    assert second.interval[1] - second.interval[0] < 0.8 * (first.interval[1] - first.interval[0])


def test_what_moves_nearly_together_is_named(tools) -> None:
    """Two changes that only one pull of one day tells apart are called hard to tell, their sum known better."""
    plan = tools.Plan([[("", 4), ("A", 1)], [("AB", 4)], [("A", 1)], [("", 4), ("AB", 4)], [("", 4), ("AB", 4)]])
    found = history(tools, plan, scatter=(0.5, 0.8))
    effect = found.effect_of("B")
    alike = [one for one in effect.nearly_alike if one.name == "A"]
    assert alike
    assert alike[0].correlation < -0.6
    alone = effect.effect.interval[1] - effect.effect.interval[0]
    assert alike[0].together.interval[1] - alike[0].together.interval[0] < alone


def test_combinations_of_three_that_overlap_are_those_that_the_builds_show(tools) -> None:
    """A and B always one or the other, C with B alone known: every effect named is one that two builds differ by."""
    plan = tools.Plan([[("A", 3)], [("B", 3)], [("BC", 3)], [("A", 3)]])
    found = history(tools, plan)
    assert found.effect_of("C").weights == (1.0,)
    assert found.effect_of("A", "B") is not None
