import numpy as np
import pytest

from pullproof.analysis.comparison import compare_records
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.plan.belief import believe_table, learn
from pullproof.errors import CannotAnswer

DUTY = "wastegate_duty.peak"


def learned(before, after, car):
    return learn(DUTY, before, after, car=car, window=None, moments={})


def test_without_a_log_the_middle_is_the_tables(car) -> None:
    """The median of each scatter is the typical one; 90 % limits hold it. A relative one goes with the level."""
    for measure, level in ((DUTY, 95.0), ("wheel_power.mean", 150.0)):
        prior = load_priors().measures[measure]
        scatter = believe_table(prior, level, car).summary("", 0, 0, "")
        scale = level / 100.0 if prior.relative else 1.0
        assert scatter.run == pytest.approx(scale * prior.run.median, rel=0.05)
        assert scatter.day == pytest.approx(scale * prior.day.median, rel=0.05)
        assert scatter.run_limits[0] < scatter.run < scatter.run_limits[1]


def test_weights_are_probabilities(car) -> None:
    """They are positive and sum to one."""
    weights = believe_table(load_priors().measures[DUTY], 95.0, car).weights
    assert weights.sum() == pytest.approx(1.0)
    assert (weights >= 0.0).all()


def test_quiet_pulls_teach_a_quiet_car_and_wild_ones_a_wild_one(pulls, car) -> None:
    """Ten repeats pull the scatter between pulls to their own, from either side of what is usual."""
    rng = np.random.default_rng(2)
    for own in (0.2, 3.0):
        # Readings end below the stop, so that none of them is censored.
        found = learned(pulls("before", "saturday", 90.0 + own * rng.normal(size=10)), (), car)
        scatter = found.belief.summary("%", found.pulls, 1, "")
        assert own / 2.0 < scatter.run < 2.0 * own
        assert found.model is None


def test_several_days_teach_the_scatter_between_them(pulls, car) -> None:
    """Days that lie far apart make the scatter between days large, while that between pulls stays small."""
    before = [
        record
        for day, level in (("a", 88.0), ("b", 93.0), ("c", 84.0), ("d", 91.0))
        for record in pulls("before", day, level + np.array([0.0, 0.1, -0.1]))
    ]
    scatter = learned(before, (), car).belief.summary("%", 12, 4, "")
    assert scatter.day > 2.0
    assert scatter.run < 0.5


def test_a_change_between_the_sides_is_no_scatter(pulls, car) -> None:
    """With both sides given the change is in the model; taken for one state it would blow the scatter up."""
    before, after = pulls("before", "saturday", [95.0, 95.2, 94.9]), pulls("after", "saturday", [88.0, 88.3, 87.9])
    two_sided = learned(before, after, car).belief.summary("%", 6, 1, "").run
    one_sided = learned([*before, *after], (), car).belief.summary("%", 6, 1, "").run
    assert two_sided < 0.6
    assert one_sided > 2.0


def test_the_open_question_is_the_comparisons_own(pulls, car) -> None:
    """The interval of the earlier pulls is the one that a comparison of them gives."""
    before, after = pulls("before", "saturday", [95.0, 95.6]), pulls("after", "sunday", [93.0, 93.9])
    found = learned(before, after, car)
    lower, upper = found.posterior.contrast(found.model.change).interval(0.95)
    comparison = compare_records(before, after, car=car)
    measure = next(entry for entry in comparison.measures if entry.id == DUTY)
    assert (float(lower[0]), float(upper[0])) == pytest.approx(measure.interval)


def test_pulls_at_the_stop_teach_nothing(pulls, car) -> None:
    """A pinned duty is left out, and the doubt says why more pulls would not help."""
    before = pulls("before", "saturday", [90.0, 90.5, 100.0, 100.0])
    found = learned(before, (), car)
    assert found.pulls == 2
    assert any("cannot move in 2 of 4" in doubt for doubt in found.doubts)


def test_one_pull_is_too_few(pull, car) -> None:
    """Nothing can be learned from a single pull."""
    with pytest.raises(CannotAnswer, match="too few to learn from"):
        learned([pull()], (), car)
