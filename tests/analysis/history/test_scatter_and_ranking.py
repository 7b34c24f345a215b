import numpy as np

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.history.analysing import measure_history

SEASON = [[("", 5)], [("A", 5)], [("", 5)], [("A", 5)], [("AB", 5)], [("AB", 5)], [("B", 5)], [("B", 5)]]


def test_scatter_of_the_car_is_learnt_and_shown_beside_what_is_usual(tools) -> None:
    """A car that repeats three times as well as usual is seen to, between pulls and between days."""
    prior = load_priors().measures["wastegate_duty.peak"]
    own = prior.run.median / 3.0, prior.day.median / 3.0
    drawn = tools.draw(np.random.default_rng(0), tools.Plan(SEASON), scatter=own)
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert found.run_to_run.interval[0] < own[0] < found.run_to_run.interval[1]
    assert found.run_to_run.interval[1] < found.run_to_run.usual == prior.run.median
    assert found.day_to_day.value < found.day_to_day.usual
    low, high = found.run_to_run.usual_interval
    assert low < prior.run.median < high


def test_intervals_of_scatter_hold_what_was_drawn(tools) -> None:
    """Drawn from the priors, the scatters lie inside their intervals in about 95 % of seasons."""
    rng = np.random.default_rng(3)
    held = []
    for _ in range(40):
        drawn = tools.draw(rng, tools.Plan(SEASON))
        found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
        held.append(found.run_to_run.interval[0] <= drawn.run <= found.run_to_run.interval[1])
        held.append(found.day_to_day.interval[0] <= drawn.day <= found.day_to_day.interval[1])
    assert np.mean(held) > 0.85


def test_rank_is_effect_for_money_the_better_way_first(tools) -> None:
    """Lower duty is better; per hundred is effect over cost, and what made it worse stands last."""
    plan = tools.Plan(SEASON, costs={"A": 200.0, "B": 50.0})
    drawn = tools.draw(np.random.default_rng(1), plan, {"A": -4.0, "B": 3.0}, scatter=(0.2, 0.2))
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert [entry.changes for entry in found.ranking] == [("A",), ("B",)]
    assert np.isclose(found.ranking[0].per_hundred.value, found.effect_of("A").effect.value / 2.0)
    assert found.ranking[0].known


def test_where_better_is_a_matter_of_taste_size_alone_counts(tools) -> None:
    """Air flow is wanted high or low: the larger effect for the money stands first whatever its sign."""
    plan = tools.Plan(SEASON, costs={"A": 100.0, "B": 100.0})
    drawn = tools.draw(
        np.random.default_rng(2), plan, {"A": -9.0, "B": 3.0}, measure="air_mass_flow.mean", scatter=(0.2, 0.2)
    )
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert found.better is None
    assert [entry.changes for entry in found.ranking] == [("A",), ("B",)]


def test_what_cost_nobody_knows_is_not_ranked(tools) -> None:
    """A change without a cost, or one given away, has no place in the order."""
    drawn = tools.draw(np.random.default_rng(2), tools.Plan(SEASON, costs={"B": 0.0}))
    assert measure_history(drawn.readings, drawn.pulls, 0.95, None).ranking == ()
