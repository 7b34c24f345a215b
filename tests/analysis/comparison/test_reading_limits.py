"""What limits a reading must widen its scatter, and nothing else must."""

import math
from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.comparison.adjustments import AirState, effects
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.reading_limits import Sharpness, with_sharpness
from pullproof.measures import Reading

STATE = AirState(99.0, 120.0, start_rpm=2400.0)
EVEN = np.full(6, 2400.0)


def limited(measure, sharpness, starts=EVEN, foot=3900.0):
    prior = load_priors().measures[measure]
    return prior, with_sharpness(prior, effects(measure, prior, STATE, 3300.0), sharpness, STATE, foot, starts)


@pytest.mark.parametrize("measure", ["wastegate_duty.peak", "wastegate.opens_at", "boost.mean"])
def test_a_sharp_reading_changes_nothing(measure):
    """Where sampling is fine and the window lies above the spool, the table and physics stand as they are."""
    prior, (scattered, found) = limited(measure, Sharpness())
    assert scattered.run.median == pytest.approx(prior.run.median)
    assert scattered.day.median == pytest.approx(prior.day.median)
    assert found == effects(measure, prior, STATE, 3300.0)


def test_coarse_sampling_adds_to_the_scatter_of_a_run_as_variances_do():
    """Evenly spread over a gap of 240 rpm is a standard deviation of 240 / sqrt(12) (uniform distribution)."""
    prior, (scattered, _) = limited("wastegate.opens_at", Sharpness(step=240.0 / math.sqrt(12.0)))
    assert scattered.run.median**2 - prior.run.median**2 == pytest.approx(240.0**2 / 12.0)
    assert scattered.day.median == prior.day.median


def test_what_moves_with_the_spool_takes_its_scatter_and_its_weather():
    """A peak that falls by 0.1 points per rpm takes a tenth of the spool, and of its weather."""
    arrival = load_priors().measures["boost.reaches"]
    prior, (scattered, found) = limited("wastegate_duty.peak", Sharpness(per_spool_rpm=0.1))
    assert scattered.run.median == pytest.approx(math.hypot(prior.run.median, 0.1 * arrival.run.median))
    plain = effects("wastegate_duty.peak", prior, STATE, 3300.0)["air_temperature"]
    later = effects("boost.reaches", arrival, STATE, 3900.0)["air_temperature"]
    assert found["air_temperature"].mean == pytest.approx(plain.mean + 0.1 * later.mean)
    assert found["air_temperature"].doubt > plain.doubt


def test_uneven_starts_scatter_the_arrival_of_boost_only():
    """Starts that are far apart leave scatter in when boost comes, and none in how much of it there is."""
    uneven = EVEN + np.array([-600.0, 600.0, -300.0, 300.0, -900.0, 900.0])
    for measure, more in (("boost.reaches", True), ("wastegate.opens_at", True), ("boost.mean", False)):
        prior, (scattered, _) = limited(measure, Sharpness(), uneven)
        assert (scattered.run.median > prior.run.median) is more


def test_sharpness_is_the_mean_of_its_readings():
    """Steps are averaged as variances, what the spool does plainly."""
    readings = [Reading(90.0, step=3.0, per_spool_rpm=0.02), Reading(91.0, step=4.0)]
    assert Sharpness.of(readings) == Sharpness(pytest.approx(math.sqrt(12.5)), pytest.approx(0.01))
    assert Sharpness.of([]) == Sharpness()


def test_a_later_start_matters_less_the_longer_the_climb():
    """A long climb forgets where it began: the slope over the start falls, and the weather's effect grows."""
    arrival = load_priors().measures["boost.reaches"]
    short, long = (
        effects("boost.reaches", arrival, replace(STATE, start_rpm=start), 3300.0) for start in (2900.0, 2100.0)
    )
    assert long["start_speed"].mean < short["start_speed"].mean
    assert long["air_temperature"].mean > short["air_temperature"].mean
