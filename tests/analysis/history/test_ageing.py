import numpy as np
import pytest
from scipy.stats import multivariate_normal

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.history.ageing import STEP_BEFORE, look_for_step
from pullproof.analysis.history.analysing import measure_history
from pullproof.analysis.history.model import STEP_REACH, design_of, fit_season

LONG = [[("", 3)]] * 4 + [[("A", 3)]] * 6


def test_a_step_without_a_change_is_found_and_taken_out(tools) -> None:
    """A leak that opens between two days is named with the days, and the changes are not blamed for it."""
    drawn = tools.draw(np.random.default_rng(0), tools.Plan(LONG), {"A": 1.0}, step=(7, 6.0), scatter=(0.6, 0.7))
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert (found.step.after, found.step.before) == ("day 7", "day 8")
    assert found.step.flagged
    assert found.step.size.interval[0] < 6.0 < found.step.size.interval[1]
    assert found.effect_of("A").effect.interval[0] < 1.0 < found.effect_of("A").effect.interval[1]


def test_seasons_without_a_step_are_seldom_flagged(tools) -> None:
    """With nothing but days, pulls and weather, at most one of 40 seasons is flagged."""
    rng = np.random.default_rng(11)
    flagged = 0
    for _ in range(40):
        drawn = tools.draw(rng, tools.Plan(LONG), {"A": 2.0})
        step, _ = look_for_step(fit_season(drawn.readings, design_of(drawn.readings, drawn.pulls), 0.95), drawn.pulls)
        flagged += step.flagged
    assert flagged <= 1


def test_odds_of_a_step_are_the_ratio_of_the_two_models(tools) -> None:
    """What is read off one fit is the ratio of the data's densities, integrated here by scipy."""
    drawn = tools.draw(np.random.default_rng(5), tools.Plan([[("", 3)]] * 5), {}, step=(2, 2.0), scatter=(0.5, 1.0))
    design = design_of(drawn.readings, drawn.pulls)
    step, _ = look_for_step(fit_season(drawn.readings, design, 0.95), drawn.pulls)
    prior = load_priors().measures["wastegate_duty.peak"]
    reach = STEP_REACH * prior.day.median
    number = drawn.pulls.day
    flat = 100.0  # a level so wide that it is as good as flat, and the same in both models
    informed = np.isfinite(design.prior_deviation)
    deviation = np.where(informed, design.prior_deviation, flat)
    centre = design.matrix @ np.where(informed, design.prior_mean, drawn.readings.values.mean())
    shared = (design.matrix * deviation**2) @ design.matrix.T
    same_day = (number[:, None] == number).astype(float)

    def density(extra: np.ndarray) -> float:
        total = 0.0
        for log_run in np.linspace(np.log(0.1), np.log(4.0), 40):
            for log_day in np.linspace(np.log(0.05), np.log(15.0), 40):
                weight = np.exp(
                    prior.run.log_density(np.array([log_run])) + prior.day.log_density(np.array([log_day]))
                )[0]
                covariance = shared + extra + np.exp(2 * log_run) * np.eye(15) + np.exp(2 * log_day) * same_day
                total += weight * multivariate_normal.pdf(drawn.readings.values, centre, covariance)
        return total

    without = density(np.zeros((15, 15)))
    odds = []
    for day in range(1, 5):
        late = (number >= day).astype(float)
        odds.append(density(reach**2 * np.outer(late, late)) / without)
    expected = STEP_BEFORE / (1.0 - STEP_BEFORE) / 4 * np.array(odds)
    assert step.probability == pytest.approx(max(expected / (1.0 + expected.sum())), rel=0.02)


def test_a_gap_in_which_a_change_was_made_for_good_cannot_be_tested(tools) -> None:
    """Where a change takes the step's place the gap is named as one that tells nothing."""
    drawn = tools.draw(np.random.default_rng(1), tools.Plan(LONG))
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert found.step.untested == ("day 4 to day 5",)
    assert found.step.tested == 8


def test_a_slow_trend_is_seen_in_a_long_season_and_counted_by_time(tools) -> None:
    """A car that loses a point a month, driven for two years, shows it, and the interval holds what was put in."""
    plan = tools.Plan([[("", 3)]] * 12 + [[("A", 3)]] * 12, every=30.0)
    drawn = tools.draw(np.random.default_rng(2), plan, {"A": 0.0}, drift_per_day=0.5 / 30.0, scatter=(0.3, 0.3))
    drift = measure_history(drawn.readings, drawn.pulls, 0.95, None).drift
    assert drift.per == "30 days"
    assert drift.rate.interval[0] < 0.5 < drift.rate.interval[1]
    assert drift.rate.excludes_zero


def test_one_day_has_no_trend(tools) -> None:
    """A season of one afternoon says nothing of ageing."""
    drawn = tools.draw(np.random.default_rng(3), tools.Plan([[("", 3), ("A", 3)]]))
    found = measure_history(drawn.readings, drawn.pulls, 0.95, None)
    assert found.drift is None
    assert found.step is None
