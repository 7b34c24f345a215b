"""Power of the two-sample t test: Cohen's tables, and the noncentral t distribution of another library.

Cohen, Statistical Power Analysis for the Behavioral Sciences, 2nd edition, 1988, tables 2.3 and 2.4 (read from a
reprint of the columns for a power of 0.80), and Cohen, A Power Primer, Psychological Bulletin 112 (1992) 155-159,
table 2: pulls a side that give a power of 0.80.

The project's model becomes the t test where it knows nothing of the scatter beforehand and all is of one day.
"""

import numpy as np
import pytest
from statsmodels.stats.power import TTestIndPower

from pullproof.stats.mixed_model import Design
from pullproof.stats.sample_size import Truths, chance_of_clear, null_errors
from pullproof.stats.scatter import EvenLogScatter, KnownScatter

DRAWS = 3000
# Effect in standard deviations, level of the two-sided interval, pulls a side for a power of 0.80.
COHEN = [
    (0.5, 0.95, 64),
    (0.6, 0.95, 45),
    (0.8, 0.95, 26),
    (1.0, 0.95, 17),
    (1.2, 0.95, 12),
    (0.8, 0.99, 38),
    (1.0, 0.99, 25),
]


def power(effect: float, level: float, before: int, after: int) -> float:
    side = np.repeat([-0.5, 0.5], [before, after])
    columns = np.column_stack([np.ones(len(side)), side])
    design = Design(columns, np.zeros(len(side), dtype=np.intp), np.zeros(2), np.full(2, np.inf))
    truths = Truths(np.zeros(DRAWS), np.ones(DRAWS))
    nothing_known = KnownScatter(0.0), EvenLogScatter(0.01, 100.0)
    rng = np.random.default_rng([before, after])
    return chance_of_clear(*null_errors(design, np.array([0.0, 1.0]), nothing_known, truths, level, rng), effect)


@pytest.mark.parametrize(("effect", "level", "pulls"), COHEN)
def test_cohens_sample_sizes_give_the_power_that_they_were_made_for(effect: float, level: float, pulls: int) -> None:
    """Cohen's number of pulls a side gives 80 %, within what 3000 draws may be off and one pull's rounding."""
    assert power(effect, level, pulls, pulls) == pytest.approx(0.80, abs=0.025)


@pytest.mark.parametrize(
    ("effect", "level", "before", "after"), [(2.0, 0.95, 3, 3), (1.5, 0.95, 6, 3), (3.0, 0.99, 4, 4), (1.0, 0.9, 5, 10)]
)
def test_few_pulls_follow_the_noncentral_t_distribution(effect: float, level: float, before: int, after: int) -> None:
    """With a handful of pulls, and with sides of unequal size, the chance is the t test's power of another library."""
    expected = TTestIndPower().power(effect, before, 1.0 - level, ratio=after / before)
    assert power(effect, level, before, after) == pytest.approx(expected, abs=0.025)
