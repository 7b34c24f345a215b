"""Chances of a clear answer, held against a simulation that is written differently and against what must be true."""

import numpy as np
import pytest

from pullproof.analysis.comparison.adjustments import effects
from pullproof.analysis.comparison.design import gather, model
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.plan.belief import Belief, believe_table
from pullproof.analysis.plan.chances import Setting, drift_share, new_columns, odds_of
from pullproof.analysis.plan.orders import ORDERS, schedule
from pullproof.analysis.plan.result import Costs, Run
from pullproof.car import Car, Engine
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.sample_size import chance_of_clear, effect_for_chance
from pullproof.stats.scatter import TypicalScatter

CAR = Car("blue hatch", engine=Engine(redline_rpm=6800.0, fuel="petrol", aspiration="turbo"))
COSTS = Costs()


def setting(measure="boost.mean", typical=100.0, belief=None) -> Setting:
    prior = load_priors().measures[measure]
    belief = belief or believe_table(prior, typical, CAR)
    return Setting(prior, effects(measure, prior, belief.state, typical), belief, typical, 0.95, COSTS)


def odds(order, pulls, asked):
    return odds_of(schedule(ORDERS[order].sequence(pulls), COSTS), asked)


@pytest.mark.parametrize(("order", "pulls"), [("before_after", 3), ("before_after_before", 4), ("two_days", 2)])
def test_the_chance_is_that_of_a_pull_by_pull_simulation(order: str, pulls: int) -> None:
    """Cars drawn one by one, each with its own weather, and judged one by one, give the same share of clear answers."""
    asked = setting("wastegate_duty.peak", 95.0)
    effect, draws = 2.0, 300
    found = odds(order, pulls, asked)
    chance = chance_of_clear(found.lower, found.upper, effect)
    rng = np.random.default_rng(77)
    runs = schedule(ORDERS[order].sequence(pulls), COSTS).runs
    known, table = asked.effects, load_priors()
    prior, covariates = table.measures["wastegate_duty.peak"], table.covariates
    clear = 0
    for _ in range(draws):
        day_s, run_s = (s.median * np.exp(s.doubt * rng.normal()) for s in (prior.day, prior.run))
        days = {run.day: day_s * rng.normal() for run in runs}
        per_unit = {name: rng.normal(known[name].mean, known[name].doubt) for name in known}
        weather = {(name, run.day): covariates[name].day / 2**0.5 * rng.normal() for name in known for run in runs}
        rows, values = [], []
        seen: dict[int, int] = {}
        for run in runs:
            row = {}
            for name in known:
                if name in ("order", "direction"):
                    continue
                row[name] = weather[name, run.day] + covariates[name].pull * rng.normal()
            row["air_temperature"] += COSTS.warming_k_per_hour * run.at_min / 60.0
            row["order"] = 1.0 - np.exp(-seen.get(run.day, 0) / 3.0)
            seen[run.day] = seen.get(run.day, 0) + 1
            value = (effect if run.state == "after" else 0.0) + days[run.day] + run_s * rng.normal()
            values.append(value + sum(per_unit[name] * row[name] for name in row))
            rows.append(row)
        names = sorted(rows[0])
        columns = np.array([[row[name] for name in names] for row in rows])
        change = np.array([run.state == "after" for run in runs]) - 0.5
        design = Design(
            np.column_stack([np.ones(len(runs)), change, columns - columns.mean(axis=0)]),
            np.array([run.day - 1 for run in runs], dtype=np.intp),
            np.array([0.0, 0.0, *(known[name].mean for name in names)]),
            np.array([np.inf, np.inf, *(known[name].doubt for name in names)]),
        )
        posterior = fit(np.array(values), design, prior.day, prior.run)
        contrast = np.zeros(design.columns.shape[1])
        contrast[1] = 1.0
        clear += float(posterior.contrast(contrast).interval(0.95)[0][0]) > 0.0
    # Both are drawn: 300 and 512 times, which leaves 3.6 points of standard deviation between them at the most.
    assert chance == pytest.approx(clear / draws, abs=0.10)


@pytest.mark.parametrize("measure", ["boost.mean", "wastegate_duty.peak", "wheel_power.mean", "boost.reaches"])
@pytest.mark.parametrize("order", ["before_after", "two_days", "both_on_two_days"])
def test_with_nothing_changed_a_change_is_seldom_claimed(measure: str, order: str) -> None:
    """The chance of a clear answer about nothing is what the level leaves: 5 %, within what the draws may be off."""
    found = odds(order, 4, setting(measure))
    assert 2.0 * chance_of_clear(found.lower, found.upper, 0.0) == pytest.approx(0.05, abs=0.035)


def test_more_pulls_of_one_day_tell_more() -> None:
    """The interval gets narrower, and the chance of an effect rises."""
    found = [odds("before_after_before", pulls, setting()) for pulls in (2, 4, 8)]
    widths = [each.half_width() for each in found]
    assert widths == sorted(widths, reverse=True)
    chances = [chance_of_clear(each.lower, each.upper, 0.8) for each in found]
    assert chances == sorted(chances)


def test_more_pulls_do_not_help_against_two_days() -> None:
    """Before on one day and after on another ends at what the two days scatter: sqrt(2) of one, however many pulls."""
    day, run = 1.5, 0.4
    known = Belief(np.array([day]), np.array([run]), np.array([1.0]), setting().belief.state)
    few, many = (odds("two_days", pulls, setting(belief=known)) for pulls in (3, 60))
    spread = float(np.std((many.lower + many.upper) / 2.0))
    # Sampling variance of a difference of two days; weather adds to it, pulls take nothing off.
    assert spread > 0.9 * 2.0**0.5 * day
    assert effect_for_chance(many.lower, many.upper, 0.8) > 0.8 * effect_for_chance(few.lower, few.upper, 0.8)


def test_a_day_of_its_own_does_not_matter_on_one_day() -> None:
    """Scatter between days cancels where both states are driven on one: ten times of it changes nothing."""
    asked = setting()
    state, one = asked.belief.state, np.array([1.0])
    quiet, wild = (Belief(np.array([s]), np.array([0.4]), one, state) for s in (0.5, 5.0))
    widths = [odds("before_after", 4, setting(belief=belief)).half_width() for belief in (quiet, wild)]
    assert widths[0] == pytest.approx(widths[1], rel=1e-6)


def test_the_same_question_gets_the_same_answer() -> None:
    """Chance is drawn from a fixed seed."""
    first, second = (odds("alternating", 3, setting()) for _ in range(2))
    assert np.array_equal(first.lower, second.lower)


@pytest.mark.parametrize(
    ("order", "pulls", "share"),
    [
        ("before_after", 1, 1.0),
        ("before_after", 2, 2.0 / 3.0),
        ("before_after_before", 4, 0.0),
        ("alternating", 2, 1.0 / 3.0),
        ("two_days", 5, 0.0),
        ("both_on_two_days", 4, 0.0),
    ],
)
def test_an_even_drift_is_let_through_as_reckoned_by_hand(order: str, pulls: int, share: float) -> None:
    """Pulls at even steps from -1/2 to +1/2: the mean of those after less the mean of those before, day by day."""
    assert abs(drift_share(schedule(ORDERS[order].sequence(pulls), COSTS))) == pytest.approx(share, abs=1e-9)


def test_columns_are_those_of_the_comparison(pull, pulls, car) -> None:
    """What is drawn for a plan has the covariates, the place in the day and the centring of the comparison's design."""
    records = pulls("before", "saturday", [95.0, 95.4, 94.8]), pulls("after", "saturday", [93.0, 93.3])
    gathered = gather(*records, car, (4080.0, 6500.0), {})
    asked = setting("wastegate_duty.peak", 95.0)
    prior = load_priors().measures["wastegate_duty.peak"]
    own = model(gathered, np.arange(5), prior, asked.effects, 95.0)
    runs = [Run(state, 1, 6.0 * n) for n, state in enumerate(["before"] * 3 + ["after"] * 2)]
    columns, mean, doubt = new_columns(runs, asked.effects, COSTS, np.random.default_rng(0))
    order = own.design.columns[:, 2 + own.names.index("order")]
    assert columns[:, -1] == pytest.approx(order)
    assert (mean[-1], doubt[-1]) == (0.0, own.design.prior_deviation[2 + own.names.index("order")])
    assert columns.mean(axis=0) == pytest.approx(0.0, abs=1e-9)
    scatters = asked.scatters()
    assert [s.median for s in scatters] == pytest.approx([own.day_scatter.median, own.run_scatter.median])
    assert all(isinstance(scatter, TypicalScatter) for scatter in scatters)
