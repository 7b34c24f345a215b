"""Differences of measures and curves: right at the mean conditions, wide where little is known, named where stuck."""

import numpy as np
import pytest

from pullproof.analysis.comparison import compare_records


def test_the_trade_fact_comes_out(pulls, car, measure):
    """Peak duty 97.22 % before and 95 % after is a fall of 2.2 points (common practice, no source)."""
    found = compare_records(pulls("before", "saturday", [97.22]), pulls("after", "sunday", [95.0]), car=car)
    duty = measure(found, "wastegate_duty.peak")
    assert duty.before == pytest.approx(97.22, abs=0.01)
    assert duty.after == pytest.approx(95.0, abs=0.01)
    assert duty.raw_difference == pytest.approx(-2.22, abs=0.01)
    assert duty.difference == pytest.approx(-2.22, abs=0.01)
    assert (duty.pulls_before, duty.pulls_after, duty.days_before, duty.days_after) == (1, 1, 1, 1)


def test_one_pull_a_side_on_two_days_is_wide_and_one_day_is_narrower(pulls, car, measure):
    """Two days alone differ by about 4 points either way (1.96 sqrt(2) of 1.2 and 0.85); one day knows better."""
    before = pulls("before", "saturday", [97.2])
    two, one = (
        measure(compare_records(before, pulls("after", day, [95.0]), car=car), "wastegate_duty.peak")
        for day in ("sunday", "saturday")
    )
    known = 1.96 * np.sqrt(2.0 * (1.2**2 + 0.85**2))
    assert known < (two.interval[1] - two.interval[0]) / 2 < 1.6 * known
    assert (one.interval[1] - one.interval[0]) < 0.75 * (two.interval[1] - two.interval[0])
    assert two.verdict == "unclear"


def test_difference_is_raw_plus_adjustment_and_the_shares_make_it_up(pulls, car, measure, in_air):
    """What was taken out is said for each covariate, and it adds up."""
    before = pulls("before", "saturday", [96.0, 96.4, 95.9])
    after = pulls("after", "sunday", [95.0, 95.3, 95.1], air=in_air(temperature_c=19.0, pressure_kpa=98.2), boost=142.0)
    for found in compare_records(before, after, car=car).measures:
        assert found.difference == pytest.approx(found.raw_difference + found.adjustment)
        assert sum(share for _, share in found.adjusted_for) == pytest.approx(found.adjustment, abs=1e-3)
    shares = dict(measure(compare_records(before, after, car=car), "wastegate_duty.peak").adjusted_for)
    # Warm air and more boost raise duty: the after side would have needed less on a day like the other.
    assert shares["air_temperature"] < 0.0
    assert shares["boost"] < 0.0


def test_one_pull_a_side_is_adjusted_by_the_prior_alone(pull, car, measure, in_air):
    """With nothing to learn from, air mass flow is adjusted by filling: -0.85 / 310 K of itself per kelvin."""
    before, after = (
        [pull(air_mass_flow=230.0)],
        [pull("after-1.csv", air_mass_flow=230.0, air=in_air(temperature_c=21.0))],
    )
    flow = measure(compare_records(before, after, car=car), "air_mass_flow.mean")
    assert dict(flow.adjusted_for)["air_temperature"] == pytest.approx(10.0 * 0.85 / 310.0 * flow.before, rel=1e-3)


def test_before_after_before_again_takes_a_drift_of_days_out(pulls, car, measure):
    """Days that drift by one point a day: before, after, before again finds the change between its neighbours."""
    before = pulls("before", "day 1", [95.0, 95.2]) + pulls("again", "day 3", [97.0, 97.2])
    after = pulls("after", "day 2", [93.0, 93.2])
    duty = measure(compare_records(before, after, car=car), "wastegate_duty.peak")
    assert duty.difference == pytest.approx(-3.0, abs=0.1)
    assert duty.days_before == 2


def test_repeats_teach_the_scatter(pulls, car, measure):
    """Six wild pulls a side say that the car scatters; six tame ones that it does not."""
    wild, tame = (
        measure(
            compare_records(
                pulls("before", "saturday", 96.0 + size * np.array([-1, 1, -1, 1, -0.5, 0.5])),
                pulls("after", "saturday", 94.0 + size * np.array([1, -1, 1, -1, 0.5, -0.5])),
                car=car,
            ),
            "wastegate_duty.peak",
        )
        for size in (2.0, 0.2)
    )
    assert wild.run_to_run > 1.4
    assert tame.run_to_run < 0.4
    assert wild.interval[1] - wild.interval[0] > 3.0 * (tame.interval[1] - tame.interval[0])


def test_a_duty_at_its_stop_everywhere_is_censored_and_shows_nothing(pulls, car, measure):
    """Pinned at 100 % before and after: censored, and neither same nor lower nor higher."""
    found = compare_records(
        pulls("before", "saturday", [100.0] * 3, boost=130.0),
        pulls("after", "saturday", [100.0] * 3, boost=138.0),
        car=car,
    )
    duty = measure(found, "wastegate_duty.peak")
    assert duty.censored
    assert duty.verdict == "unclear"


def test_a_duty_at_its_stop_on_one_side_says_that_more_is_hidden(pulls, car, measure):
    """Pinned before and free after: the fall is real, and at least as large as shown."""
    found = compare_records(pulls("before", "saturday", [100.0] * 3), pulls("after", "saturday", [95.0] * 3), car=car)
    duty = measure(found, "wastegate_duty.peak")
    assert not duty.censored
    assert duty.verdict == "lower"
    assert any("3 of 3 pulls before and 0 of 3 after" in doubt and "larger" in doubt for doubt in duty.doubts)


def test_a_pull_that_stands_out_is_named(pulls, car, measure):
    """One pull 9 points off is named by its log; the others are not."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 96.3, 87.0, 95.9, 96.2]),
        pulls("after", "saturday", [96.1, 96.0, 96.3, 95.8]),
        car=car,
    )
    doubts = measure(found, "wastegate_duty.peak").doubts
    assert len(doubts) == 1
    assert "before-saturday-3.csv" in doubts[0]


def test_a_channel_that_nobody_logged_leaves_its_measures_out_with_the_reason(pulls, car):
    """Without lambda there is no lambda measure, and the reason is kept."""
    found = compare_records(
        pulls("before", "saturday", [96.0], without=("lambda",)),
        pulls("after", "saturday", [95.0], without=("lambda",)),
        car=car,
    )
    assert "lambda.mean" not in {difference.id for difference in found.measures}
    assert next(left.reason for left in found.left_out if left.measure == "lambda.mean")


def test_a_channel_that_one_pull_lacks_costs_that_pull_alone(pull, pulls, car, measure):
    """The others are compared, and a doubt says how many have no reading."""
    before = [*pulls("before", "saturday", [96.0, 96.2]), pull("before-3.csv", without=("lambda",))]
    found = measure(compare_records(before, pulls("after", "saturday", [95.0, 95.2]), car=car), "lambda.mean")
    assert (found.pulls_before, found.pulls_after) == (2, 2)
    assert any("1 of 5 pulls" in doubt for doubt in found.doubts)


def test_same_needs_the_whole_interval_inside(pulls, car, measure):
    """Many tame pulls without a difference are the same; few are unclear, however alike they look."""
    many = compare_records(
        pulls("before", "saturday", [96.0, 96.1] * 6), pulls("after", "saturday", [96.1, 96.0] * 6), car=car
    )
    few = compare_records(pulls("before", "saturday", [96.0]), pulls("after", "saturday", [96.0]), car=car)
    assert measure(many, "wastegate_duty.peak").verdict == "same"
    assert measure(few, "wastegate_duty.peak").verdict == "unclear"


def test_what_sat_at_its_stop_in_some_pulls_is_never_the_same(pulls, car, measure):
    """Twelve pulls a side at 99.3 %, one of each at its stop: what that one wanted is not known, so not `same`."""
    free, some = (
        measure(
            compare_records(
                pulls("before", "saturday", [99.3, 99.4] * 6 + last),
                pulls("after", "saturday", [99.4, 99.3] * 6 + last),
                car=car,
            ),
            "wastegate_duty.peak",
        )
        for last in ([], [99.6])
    )
    assert free.verdict == "same"
    assert some.verdict == "unclear"
    assert any("1 of 13 pulls before and 1 of 13 after" in doubt and "another" in doubt for doubt in some.doubts)


def test_a_curve_stands_in_a_band_that_is_wider_than_the_mean(pulls, car, measure):
    """The band holds the whole curve, so it is wider than the interval of its mean, and both sides are shown."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 96.4, 95.8]), pulls("after", "saturday", [94.0, 94.4, 93.8]), car=car
    )
    curve = next(curve for curve in found.curves if curve.channel == "wastegate_duty")
    mean = measure(found, "wastegate_duty.mean")
    inside = (curve.rpm > 4500) & (curve.rpm < 6200)
    np.testing.assert_allclose(curve.difference[inside], -2.0, atol=0.1)
    np.testing.assert_allclose(curve.before[inside] - curve.after[inside], 2.0, atol=0.1)
    assert np.all((curve.upper - curve.lower)[inside] > mean.interval[1] - mean.interval[0])
    assert curve.rpm[0] >= found.window_rpm[0]
    assert curve.rpm[-1] <= found.window_rpm[1]


def test_a_channel_that_is_not_in_every_pull_has_no_curve(pull, pulls, car):
    """A curve of some pulls only would compare different sets along its length."""
    before = [*pulls("before", "saturday", [96.0]), pull("before-2.csv", without=("air_mass_flow",))]
    found = compare_records(before, pulls("after", "saturday", [95.0]), car=car)
    assert "air_mass_flow" not in {curve.channel for curve in found.curves}


def test_a_channel_that_reads_zero_is_left_out_with_its_reason(pulls, car):
    """An air meter that is not there and reads zero gives no difference, no curve and no crash."""
    found = compare_records(
        pulls("before", "saturday", [96.0, 96.2], air_mass_flow=0.0),
        pulls("after", "saturday", [94.0, 94.2], air_mass_flow=0.0),
        car=car,
    )
    assert {left.measure: left.reason for left in found.left_out}["air_mass_flow.mean"] == "it reads zero in every pull"
    assert "air_mass_flow" not in {one.channel for one in found.curves}
