import numpy as np
import pytest
import statsmodels.api as sm

from pullproof.analysis.history.analysing import measure_history
from pullproof.analysis.history.effects import BoostEffects
from pullproof.analysis.history.model import design_of, fit_season

# A day as it came, one with A at noon, one with A, B in the week, A taken off again, C and D on one day.
SEASON = [
    [("", 4)],
    [("", 3), ("A", 3)],
    [("A", 4)],
    [("AB", 4)],
    [("AB", 3), ("B", 3)],
    [("B", 3), ("BCD", 3)],
    [("BCD", 4)],
]


def test_intervals_hold_the_truth_as_often_as_they_say(tools) -> None:
    """Of the effects drawn from the model itself, 95 % intervals hold the truth in about 95 %."""
    rng = np.random.default_rng(7)
    held = []
    for _ in range(60):
        drawn = tools.draw(rng, tools.Plan(SEASON))
        found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
        for effect in found.effects:
            truth = sum(w * drawn.truth[name] for name, w in zip(effect.changes, effect.weights, strict=True))
            held.append(effect.effect.interval[0] <= truth <= effect.effect.interval[1])
    # 180 intervals, which within a season hang together: three standard errors of 60 independent ones.
    assert 0.95 - 3 * np.sqrt(0.95 * 0.05 / 60) < np.mean(held) <= 1.0


def test_as_driven_is_ordinary_least_squares(tools) -> None:
    """The difference as driven is what statsmodels' ordinary least squares on the builds gives."""
    drawn = tools.draw(np.random.default_rng(1), tools.Plan(SEASON[:5]))
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    fitted = sm.OLS(drawn.readings.values, sm.add_constant(drawn.pulls.fitted.astype(float))).fit()
    for place, change in enumerate(drawn.pulls.changes):
        assert found.effect_of(change.name).explained.raw == pytest.approx(fitted.params[1 + place], abs=1e-9)


def test_a_long_season_gives_what_restricted_maximum_likelihood_gives(tools) -> None:
    """With sixty days the priors hardly count: effects and intervals are those of statsmodels' mixed model."""
    days = [[("", 3)]] * 20 + [[("A", 3)]] * 10 + [[("AB", 2), ("B", 2)]] * 10 + [[("B", 3)]] * 20
    drawn = tools.draw(np.random.default_rng(6), tools.Plan(days, every=0.05), {"A": 1.5, "B": -2.0})
    bare = tools.pulls_of(tools.Plan(days, every=0.05))
    found = measure_history(drawn.readings, bare, 0.95, None)
    columns = sm.add_constant(bare.fitted.astype(float))
    reml = sm.MixedLM(drawn.readings.values, columns, groups=bare.day).fit(reml=True)
    for place, change in enumerate(bare.changes):
        effect = found.effect_of(change.name).effect
        error = reml.bse_fe[1 + place]
        assert effect.value == pytest.approx(reml.fe_params[1 + place], abs=0.1 * error)
        assert effect.interval[1] - effect.interval[0] == pytest.approx(2 * 1.96 * error, rel=0.08)


def test_parts_of_the_difference_as_driven_add_up(tools) -> None:
    """What the weather, the trend and unequal days made, taken off the difference as driven, is the effect."""
    drawn = tools.draw(np.random.default_rng(2), tools.Plan(SEASON))
    for effect in measure_history(drawn.readings, drawn.pulls, 0.95, None).effects:
        parts = effect.explained
        left = parts.raw - parts.weather.value - parts.circumstances.value - parts.ageing - parts.unequal
        assert left == pytest.approx(effect.effect.value, abs=1e-9)
        by_name = dict(parts.by_covariate)
        assert by_name["air_temperature"] + by_name["air_pressure"] == pytest.approx(parts.weather.value, abs=1e-9)


def test_weather_that_moved_with_a_change_is_found_to_have_made_the_difference(tools) -> None:
    """A change that does nothing, fitted when it grew hot, is not blamed for what the heat did."""
    plan = tools.Plan([[("", 4)], [("", 4)], [("A", 4)], [("A", 4)]])
    hot = np.repeat([10.0, 12.0, 30.0, 32.0], 4)
    pulls = tools.pulls_of(plan, {"air_temperature": hot})
    rng = np.random.default_rng(3)
    values = 200.0 - 200.0 * 0.75 / 310.0 * (hot - 20.0) + rng.normal(0.0, 0.5, 16)
    found = measure_history(tools.readings_of(values, "air_mass_flow.mean"), pulls, 0.95, None)
    effect = found.effect_of("A")
    assert effect.explained.raw < -5.0
    assert effect.explained.weather.interval[0] < effect.explained.raw < effect.explained.weather.interval[1]
    assert effect.effect.interval[0] < 0.0 < effect.effect.interval[1]
    assert found.weather_days == ("day 4", "day 1")


def test_nothing_is_claimed_where_the_measure_sat_at_its_stop(tools) -> None:
    """Equal readings at the stop prove no sameness, and the effect says how many pulls sat there."""
    plan = tools.Plan([[("", 4)], [("A", 4)], [("", 4)], [("A", 4)]])
    drawn = tools.draw(np.random.default_rng(4), plan, {"A": 0.0}, scatter=(0.05, 0.05))
    stuck = np.zeros(16, dtype=bool)
    stuck[:3] = True
    readings = type(drawn.readings)(
        drawn.readings.measure, drawn.readings.rows, drawn.readings.values, stuck, drawn.readings.doubts
    )
    effect = measure_history(readings, drawn.pulls, 0.95, None).effect_of("A")
    assert effect.verdict != "same"
    assert "3 of 8 without" in effect.doubts[0]


def test_order_in_which_changes_are_listed_does_not_matter(tools) -> None:
    """Renaming the changes renames the effects and moves no number."""
    swapped = [[(build.translate(str.maketrans("AB", "BA")), n) for build, n in day] for day in SEASON]
    one = tools.draw(np.random.default_rng(5), tools.Plan(SEASON), dict.fromkeys("ABCD", 1.0))
    other = tools.pulls_of(tools.Plan(swapped), dict(one.pulls.covariates.columns))
    first = measure_history(one.readings, one.pulls, 0.95, None).effect_of("A")
    second = measure_history(one.readings, other, 0.95, None).effect_of("B")
    assert second.effect.value == pytest.approx(first.effect.value, abs=1e-6)
    assert second.effect.interval == pytest.approx(first.effect.interval, abs=1e-6)


def test_what_comes_by_way_of_boost_is_told_from_what_does_not(tools) -> None:
    """A change that adds 1 point itself and 6 kPa at 0.4 points each: 1 at equal boost, 3.4 with the boost."""
    plan = tools.Plan([[("", 4)], [("", 4)], [("", 4), ("A", 4)], [("A", 4)], [("A", 4)]])
    rng = np.random.default_rng(8)
    on = np.repeat([0, 0, 0, 1, 1, 1], 4)
    boost = 130.0 + 6.0 * on + rng.normal(0.0, 1.0, 24)
    pulls = tools.pulls_of(plan, {"boost": boost})
    duty = 90.0 + 1.0 * on + 0.4 * (boost - 130.0) + rng.normal(0.0, 0.15, 24)
    boosted = fit_season(*_parts(tools, boost, "boost.mean", pulls))
    found = measure_history(tools.readings_of(duty), pulls, 0.95, BoostEffects(boosted)).effect_of("A")
    assert found.effect.interval[0] < 1.0 < found.effect.interval[1]
    assert found.whole.interval[0] < 3.4 < found.whole.interval[1]
    assert found.whole.value - found.effect.value == pytest.approx(2.4, abs=0.9)
    assert found.as_felt == found.whole


def _parts(tools, values, measure, pulls):
    readings = tools.readings_of(values, measure)
    return readings, design_of(readings, pulls), 0.95
