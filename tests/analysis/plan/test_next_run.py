import pytest

from pullproof.analysis.plan.belief import learn
from pullproof.analysis.plan.chances import Setting
from pullproof.analysis.plan.next_run import half_width_now, next_runs
from pullproof.analysis.plan.result import Costs

DUTY = "wastegate_duty.peak"


def runs_for(before, after, car):
    evidence = learn(DUTY, before, after, car=car, window=None, moments={})
    setting = Setting(evidence.prior, evidence.effects, evidence.belief, evidence.typical, 0.95, Costs())
    return half_width_now(evidence, 0.95), {run.label: run for run in next_runs(evidence, setting)}


def test_no_further_pull_widens(pulls, car) -> None:
    """What one more pull tells can only narrow the interval, and the list begins with the narrowest."""
    now, found = runs_for(pulls("before", "sat", [95.0, 95.5]), pulls("after", "sun", [93.0, 93.2, 92.8]), car)
    widths = [run.half_width for run in found.values()]
    assert widths == sorted(widths)
    assert all(run.half_width <= now * (1.0 + 1e-9) for run in found.values())
    assert all(run.narrower_pct == pytest.approx(100.0 * (1.0 - run.half_width / now)) for run in found.values())


def test_the_smaller_side_gains_more(pulls, car) -> None:
    """With one pull before and five after on one day, another one before narrows most."""
    _, found = runs_for(pulls("before", "sat", [95.0]), pulls("after", "sat", [93.0, 93.2, 92.8, 93.1, 93.0]), car)
    one_more = {state: found[f"one pull {state} on sat, were that day not over"] for state in ("before", "after")}
    assert one_more["before"].narrower_pct > 3.0 * one_more["after"].narrower_pct > 0.0


def test_two_days_are_tied_by_the_other_state(pulls, car) -> None:
    """Before on one day, after on another: the state that a day lacks tells more there than the one it has."""
    _, found = runs_for(pulls("before", "sat", [95.0, 95.3, 94.9]), pulls("after", "sun", [93.0, 93.2, 92.8]), car)

    def gain(state, day):
        return found[f"one pull {state} on {day}, were that day not over"].narrower_pct

    assert gain("after", "sat") > 5.0 * max(gain("before", "sat"), 0.1)
    assert gain("before", "sun") > 5.0 * max(gain("after", "sun"), 0.1)
    pair = found["one pull before and one after on one new day"]
    assert pair.narrower_pct > found["one pull before on a new day"].narrower_pct


def test_one_side_alone_is_no_question(pulls, car) -> None:
    """Logs of one state leave nothing to narrow."""
    now, found = runs_for(pulls("before", "sat", [95.0, 95.3, 94.9]), (), car)
    assert (now, found) == (None, {})
