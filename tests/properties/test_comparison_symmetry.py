"""Relations that hold for any pulls: sides swapped, all shifted, all scaled, shuffled."""

import itertools
from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import TypicalScatter

DAY, RUN = TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5)
CHANGE = np.array([0.0, 1.0, 0.0, 0.0])


@st.composite
def comparisons(draw):
    """Values, and a design of level, change and two covariates, with one to five pulls a side on one to three days."""
    count = draw(st.integers(1, 5)), draw(st.integers(1, 5))
    n = sum(count)
    numbers = st.floats(-5.0, 5.0).map(lambda value: round(value, 3))
    values = np.array(draw(st.lists(numbers, min_size=n, max_size=n))) + 95.0
    covariates = np.array(draw(st.lists(numbers, min_size=2 * n, max_size=2 * n))).reshape(n, 2)
    days = draw(st.lists(st.integers(0, 2), min_size=n, max_size=n))
    columns = np.column_stack([np.ones(n), np.repeat([-0.5, 0.5], count), covariates - covariates.mean(axis=0)])
    group = np.unique(days, return_inverse=True)[1].astype(np.intp)
    prior = np.array([0.0, 0.0, 0.3, -0.1]), np.array([np.inf, np.inf, 0.2, 0.4])
    return values, Design(columns, group, *prior)


def answer(values, design, factor=1.0):
    """Difference and both ends of its interval."""
    scatter = (replace(prior, median=factor * prior.median) for prior in (DAY, RUN))
    mixture = fit(values, design, *scatter).contrast(CHANGE)
    return np.array([mixture.mean()[0], *(end[0] for end in mixture.interval(0.95))])


few = settings(max_examples=60, deadline=None)


@few
@given(comparisons())
def test_swapped_sides_turn_the_sign_and_nothing_else(comparison):
    """Before for after: the difference changes its sign, and its interval is the mirror image."""
    values, design = comparison
    swapped = replace(design, columns=design.columns * np.array([1.0, -1.0, 1.0, 1.0]))
    difference, lower, upper = answer(values, design)
    np.testing.assert_allclose(answer(values, swapped), [-difference, -upper, -lower], atol=1e-7)


@few
@given(comparisons(), st.floats(-1000.0, 1000.0))
def test_a_shift_of_all_pulls_changes_nothing(comparison, shift):
    """A sensor that reads too much by the same amount everywhere gives the same difference."""
    values, design = comparison
    np.testing.assert_allclose(answer(values + shift, design), answer(values, design), atol=1e-7)


@few
@given(comparisons(), st.sampled_from([0.01, 0.1, 6.894757, 1000.0]))
def test_another_unit_scales_the_answer(comparison, factor):
    """In another unit, with priors in that unit, the answer is the same in that unit."""
    values, design = comparison
    other = replace(design, prior_mean=factor * design.prior_mean, prior_deviation=factor * design.prior_deviation)
    np.testing.assert_allclose(
        answer(factor * values, other, factor), factor * answer(values, design), atol=1e-7 * factor
    )


@few
@given(comparisons(), st.randoms(use_true_random=False))
def test_the_order_of_the_pulls_is_no_matter(comparison, random):
    """Pulls handed over in another order give the same answer."""
    values, design = comparison
    order = list(range(len(values)))
    random.shuffle(order)
    shuffled = replace(design, columns=design.columns[order], group=design.group[order])
    np.testing.assert_allclose(answer(values[order], shuffled), answer(values, design), atol=1e-7)


@few
@given(comparisons())
def test_a_higher_level_holds_the_lower(comparison):
    """The interval of 80 % lies within that of 95 %, and that within 99 %."""
    values, design = comparison
    mixture = fit(values, design, DAY, RUN).contrast(CHANGE)
    ends = [mixture.interval(level) for level in (0.8, 0.95, 0.99)]
    for (lower, upper), (outer_lower, outer_upper) in itertools.pairwise(ends):
        assert outer_lower[0] < lower[0] < upper[0] < outer_upper[0]
