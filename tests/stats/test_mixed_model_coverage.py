"""How often the intervals hold the truth, by seeded simulation of many cars at once."""

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import TypicalScatter

CARS = 4000
RUN, DAY = TypicalScatter(0.6, 0.5), TypicalScatter(1.0, 0.4)
DESIGNS = {
    "one and one, one day": ([0, 1], [0, 0]),
    "one and one, two days": ([0, 1], [0, 1]),
    "three and three, one day": ([0] * 3 + [1] * 3, [0] * 6),
    "before, after, before again": ([0, 0, 1, 1, 0, 0], [0, 0, 1, 1, 2, 2]),
    "two days a side": ([0, 0, 0, 0, 1, 1, 1, 1], [0, 0, 1, 1, 2, 2, 3, 3]),
}


def share_held(side, day, run_scatter, day_scatter, level=0.95):
    """Share of cars whose interval holds the true difference, which is nought."""
    rng, side, day = np.random.default_rng(20), np.asarray(side), np.asarray(day)
    values = run_scatter * rng.normal(size=(len(side), CARS))
    values = values + (day_scatter * rng.normal(size=(day.max() + 1, CARS)))[day]
    design = Design(np.column_stack([np.ones(len(side)), side - 0.5]), day, np.zeros(2), np.full(2, np.inf))
    lower, upper = fit(values, design, DAY, RUN).contrast(np.array([0.0, 1.0])).interval(level)
    return np.mean((lower < 0.0) & (upper > 0.0))


def as_believed(rng):
    """Spread of the logarithm of a typical scatter: Student's t above the median, normal below."""
    tail, body = np.abs(rng.standard_t(8, CARS)), -np.abs(rng.normal(size=CARS))
    # Both halves have the same density at the median, so they weigh as their areas do.
    upper_share = student.pdf(0.0, 8) ** -1 / (student.pdf(0.0, 8) ** -1 + norm.pdf(0.0) ** -1)
    return np.where(rng.random(CARS) < upper_share, tail, body)


@pytest.mark.parametrize("name", DESIGNS)
@pytest.mark.parametrize("level", [0.8, 0.95])
def test_intervals_hold_the_truth_as_often_as_they_say(name, level):
    """Over cars whose scatter is spread as the priors say, intervals hold the truth as often as asked."""
    rng = np.random.default_rng(8)
    run, day = (np.exp(doubt * as_believed(rng)) * typical for typical, doubt in ((0.6, 0.5), (1.0, 0.4)))
    assert share_held(*DESIGNS[name], run, day, level) == pytest.approx(level, abs=0.015)


def test_a_car_twice_as_scattered_is_believed_after_repeats():
    """With twice the usual scatter three pulls a side already hold the truth nine times in ten, ten nearly always."""
    assert share_held([0] * 3 + [1] * 3, [0] * 6, 1.2, 2.0) > 0.88
    assert share_held([0] * 10 + [1] * 10, [0] * 20, 1.2, 2.0) > 0.93
