import numpy as np
import pytest
import statsmodels.api as sm

from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.sample_size import Truths, chance_of_clear, contrast_deviation, effect_for_chance, null_errors
from pullproof.stats.scatter import KnownScatter, TypicalScatter

DIFFERENCE = np.array([0.0, 1.0, 0.0])


def two_days(pulls: int) -> Design:
    """Two groups of pulls on two days, with one covariate of which something is known."""
    rng = np.random.default_rng(3)
    after = np.repeat([0.0, 1.0], pulls)
    columns = np.column_stack([np.ones(2 * pulls), after - 0.5, rng.normal(size=2 * pulls)])
    day = np.tile([0, 1], pulls).astype(np.intp)
    return Design(columns, day, np.array([0.0, 0.0, 0.3]), np.array([np.inf, np.inf, 0.2]))


def test_deviation_is_that_of_generalised_least_squares() -> None:
    """With the prior as one more observation, another library's least squares gives the same standard error."""
    design, s_group, s_unit = two_days(4), 1.3, 0.7
    n = len(design.group)
    covariance = np.zeros((n + 1, n + 1))
    covariance[:n, :n] = s_unit**2 * np.eye(n) + s_group**2 * (design.group[:, None] == design.group)
    covariance[n, n] = 0.2**2
    rows = np.vstack([design.columns, [0.0, 0.0, 1.0]])
    expected = sm.GLS(np.zeros(n + 1), rows, sigma=covariance).fit().normalized_cov_params[1, 1] ** 0.5
    found = contrast_deviation(design, DIFFERENCE, np.array([s_group]), np.array([s_unit]))
    assert found == pytest.approx(expected, rel=1e-9)


def test_deviation_is_the_fitted_models_own() -> None:
    """The exact width agrees with what the model gives to data, node by node of the scatters."""
    design = two_days(3)
    values = np.random.default_rng(1).normal(size=6)
    for s_group, s_unit in ((0.5, 1.0), (3.0, 0.2)):
        given = fit(values, design, KnownScatter(s_group), KnownScatter(s_unit)).contrast(DIFFERENCE).deviation()
        found = contrast_deviation(design, DIFFERENCE, np.array([s_group]), np.array([s_unit]))
        assert found == pytest.approx(given, rel=1e-9)


def test_an_effect_moves_the_interval_and_nothing_else() -> None:
    """Draws without an effect serve for every effect: added to the data it is added to both ends."""
    design = two_days(3)
    values = np.random.default_rng(2).normal(size=6)
    priors = TypicalScatter(1.0, 0.4), TypicalScatter(0.8, 0.5)
    ends = [
        np.array(fit(values + effect * design.columns[:, 1], design, *priors).contrast(DIFFERENCE).interval(0.95))
        for effect in (0.0, 2.5)
    ]
    assert ends[1] == pytest.approx(ends[0] + 2.5, abs=1e-9)


def test_chance_and_effect_answer_each_other() -> None:
    """The effect that has a chance of 80 % is clear in 80 % of the draws."""
    truths = Truths(np.full(400, 1.0), np.full(400, 0.8))
    lower, upper = null_errors(
        two_days(4), DIFFERENCE, (TypicalScatter(1.0, 0.4), TypicalScatter(0.8, 0.5)), truths, 0.95,
        np.random.default_rng(4),
    )  # fmt: skip
    effect = effect_for_chance(lower, upper, 0.8)
    assert chance_of_clear(lower, upper, effect) == pytest.approx(0.8, abs=0.01)
    assert chance_of_clear(lower, upper, -effect) == chance_of_clear(lower, upper, effect)
