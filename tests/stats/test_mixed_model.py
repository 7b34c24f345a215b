"""The grid must agree with plain matrix algebra, and what cannot be told apart must be named."""

import numpy as np
import pytest
from scipy.special import gammaln
from scipy.stats import multivariate_normal, norm

from pullproof.stats.mixed_model import Design, fit, log_marginal_likelihood
from pullproof.stats.scatter import EvenLogScatter, KnownScatter, TypicalScatter

GROUP = np.array([0, 0, 0, 1, 1, 2, 2, 2])
S_GROUP, S_UNIT = 1.1, 0.7


def example(prior_deviation):
    rng = np.random.default_rng(1)
    columns = np.column_stack([np.ones(8), np.repeat([-0.5, 0.5], 4), rng.normal(10, 5, 8)])
    values = rng.normal(size=8) + 0.1 * columns[:, 2]
    return values, Design(columns, GROUP, np.array([0.0, 0.0, 0.3]), np.asarray(prior_deviation, dtype=float))


def covariance():
    return S_UNIT**2 * np.eye(8) + S_GROUP**2 * (GROUP[:, None] == GROUP)


def test_known_scatter_is_generalised_least_squares_with_a_prior():
    """Coefficients and their covariance are those of the normal equations, solved by numpy."""
    values, design = example([np.inf, np.inf, 0.15])
    weighted = np.linalg.solve(covariance(), design.columns)
    prior = np.diag([0.0, 0.0, 1 / 0.15**2])
    spread = np.linalg.inv(design.columns.T @ weighted + prior)
    means = spread @ (weighted.T @ values + prior @ design.prior_mean)
    posterior = fit(values, design, KnownScatter(S_GROUP), KnownScatter(S_UNIT))
    np.testing.assert_allclose(posterior.coefficient_means()[:, 0], means, rtol=1e-9)
    for number, contrast in enumerate(np.eye(3)):
        assert posterior.contrast(contrast).deviation()[0] == pytest.approx(np.sqrt(spread[number, number]))


def test_marginal_likelihood_is_the_density_of_the_data():
    """With proper priors throughout it is scipy's multivariate normal density."""
    values, design = example([3.0, 2.0, 0.15])
    whole = covariance() + design.columns @ np.diag(design.prior_deviation**2) @ design.columns.T
    expected = multivariate_normal(design.columns @ design.prior_mean, whole).logpdf(values)
    assert log_marginal_likelihood(values, design, S_GROUP, S_UNIT)[0] == pytest.approx(expected, rel=1e-10)


def test_surprise_is_that_of_leaving_each_unit_out():
    """The deletion formula gives what conditioning a joint normal distribution on all the others gives."""
    values, design = example([3.0, 2.0, 0.15])
    whole = covariance() + design.columns @ np.diag(design.prior_deviation**2) @ design.columns.T
    error = values - design.columns @ design.prior_mean
    surprise = fit(values, design, KnownScatter(S_GROUP), KnownScatter(S_UNIT)).surprise()[:, 0]
    for unit in range(8):
        others = np.arange(8) != unit
        gain = np.linalg.solve(whole[np.ix_(others, others)], whole[others, unit])
        deviation = np.sqrt(whole[unit, unit] - gain @ whole[others, unit])
        expected = 2 * norm.sf(abs(error[unit] - gain @ error[others]) / deviation)
        assert surprise[unit] == pytest.approx(expected, rel=1e-7)


def test_an_outlier_is_surprising_and_the_others_are_not():
    """One of twelve values far off stands out, although it inflates the scatter that it is judged by."""
    values = np.random.default_rng(2).normal(0.0, 0.6, 12)
    values[4] += 6.0
    design = Design(np.ones((12, 1)), np.zeros(12, dtype=np.intp), np.zeros(1), np.full(1, np.inf))
    surprise = fit(values, design, KnownScatter(0.0), TypicalScatter(0.6, 0.5)).surprise()[:, 0]
    assert surprise[4] < 1e-3
    assert np.delete(surprise, 4).min() > 0.02


def test_nobody_judges_a_unit_that_stands_alone():
    """With one unit before and one after, neither can be predicted from the other."""
    design = Design(np.array([[1.0, -0.5], [1.0, 0.5]]), np.arange(2), np.zeros(2), np.full(2, np.inf))
    surprise = fit(np.array([1.0, 2.0]), design, TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5)).surprise()
    assert np.isnan(surprise).all()


def test_columns_always_set_together_cannot_be_told_apart():
    """Two changes made at once are named as inseparable; their sum is known, neither alone is."""
    change = np.repeat([0.0, 1.0], 4)
    columns = np.column_stack([np.ones(8), change, change, np.tile([0.0, 1.0], 4)])
    design = Design(columns, GROUP, np.zeros(4), np.full(4, np.inf))
    values = 3.0 + 2.0 * change
    posterior = fit(values, design, TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5))
    assert posterior.inseparable() == ((1, 2),)
    assert posterior.contrast(np.array([0.0, 1.0, 1.0, 0.0])).mean()[0] == pytest.approx(2.0)
    with pytest.raises(ValueError, match="told apart"):
        posterior.contrast(np.array([0.0, 1.0, 0.0, 0.0]))


def test_a_prior_tells_columns_apart_that_the_data_cannot():
    """Where physics says how large one of two simultaneous effects is, the other is known as well as that."""
    change = np.repeat([0.0, 1.0], 4)
    columns = np.column_stack([np.ones(8), change, 5.0 * change])
    design = Design(columns, np.zeros(8, dtype=np.intp), np.array([0, 0, 0.2]), np.array([np.inf, np.inf, 0.1]))
    posterior = fit(2.0 * change, design, KnownScatter(0.0), KnownScatter(1e-3))
    effect = posterior.contrast(np.array([0.0, 1.0, 0.0]))
    assert posterior.inseparable() == ()
    assert effect.mean()[0] == pytest.approx(1.0, abs=1e-6)
    assert effect.deviation()[0] == pytest.approx(0.5, abs=1e-5)


def test_more_changes_than_units_are_all_named():
    """With fewer units than columns every direction that is not known is named, and nothing fails."""
    columns = np.column_stack([np.ones(2), [0.0, 1.0], [0.0, 1.0], [0.0, 0.0]])
    design = Design(columns, np.arange(2), np.zeros(4), np.full(4, np.inf))
    posterior = fit(np.array([1.0, 2.0]), design, TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5))
    assert posterior.inseparable() == ((1, 2), (3,))


def test_a_finer_grid_changes_nothing(monkeypatch):
    """Interval ends agree to a thousandth of a scatter with those of a grid nine times as fine."""
    values, design = example([np.inf, np.inf, 0.15])
    priors = TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5)
    usual = fit(values, design, *priors).contrast(np.array([0.0, 1.0, 0.0])).interval(0.95)
    monkeypatch.setattr("pullproof.stats.mixed_model.FINE", 63)
    fine = fit(values, design, *priors).contrast(np.array([0.0, 1.0, 0.0])).interval(0.95)
    np.testing.assert_allclose(np.array(usual), np.array(fine), atol=6e-4)


def test_many_units_narrow_the_grid_enough():
    """With 400 units the scatter's posterior is the textbook's scaled inverse chi, mean and spread."""
    values = np.random.default_rng(3).normal(0.0, 1.7, 400)
    design = Design(np.ones((400, 1)), np.zeros(400, dtype=np.intp), np.zeros(1), np.full(1, np.inf))
    posterior = fit(values, design, KnownScatter(0.0), EvenLogScatter(1e-3, 1e3))
    mean = values.std(ddof=1) * np.sqrt(399 / 2) * np.exp(gammaln(199) - gammaln(199.5))
    assert posterior.unit_scatter()[0] == pytest.approx(mean, rel=1e-5)
    spread = np.sqrt(posterior.weights[:, 0] @ (posterior.s_unit - posterior.unit_scatter()[0]) ** 2)
    assert spread == pytest.approx(values.std() / np.sqrt(800), rel=0.01)


def test_responses_side_by_side_are_the_responses_alone():
    """Fitting several responses at once gives each the interval that it has alone, to the grid's precision."""
    _, design = example([np.inf, np.inf, 0.15])
    values = np.random.default_rng(4).normal(size=(8, 5))
    priors, contrast = (TypicalScatter(1.0, 0.4), TypicalScatter(0.6, 0.5)), np.array([0.0, 1.0, 0.0])
    together = np.array(fit(values, design, *priors).contrast(contrast).interval(0.95))
    alone = np.hstack([np.array(fit(column, design, *priors).contrast(contrast).interval(0.95)) for column in values.T])
    np.testing.assert_allclose(together, alone, atol=1e-3)


@pytest.mark.parametrize(
    ("values", "message"), [(np.zeros(7), "7 values"), (np.full(8, np.nan), "finite")], ids=["shape", "blank"]
)
def test_data_that_do_not_fit_are_refused(values, message):
    """A wrong shape or a blank value is refused in words."""
    with pytest.raises(ValueError, match=message):
        fit(values, example([np.inf, np.inf, 0.15])[1], KnownScatter(1.0), KnownScatter(1.0))


def test_no_scatter_within_groups_is_refused():
    """A scatter of zero within groups makes every interval a point."""
    values, design = example([np.inf, np.inf, 0.15])
    with pytest.raises(ValueError, match="within groups"):
        fit(values, design, KnownScatter(1.0), KnownScatter(0.0))


def test_a_column_that_is_constant_but_for_rounding_hides_nothing():
    """A covariate of 1e-16 with a prior teaches nothing, and costs the other coefficients nothing."""
    rng = np.random.default_rng(20)
    values, after = rng.normal(size=6), np.repeat([-0.5, 0.5], 3)
    flat = np.array([np.inf, np.inf])
    plain = Design(np.column_stack([np.ones(6), after]), np.zeros(6, int), np.zeros(2), flat)
    rounding = 1e-16 * np.array([1.0, -1.0, 1.0, -1.0, 1.0, -1.0])
    beside = Design(np.column_stack([np.ones(6), after, rounding]), np.zeros(6, int), np.zeros(3), np.append(flat, 1.0))
    scatter = TypicalScatter(1.0, 0.4), TypicalScatter(1.0, 0.4)
    expected = fit(values, plain, *scatter).contrast(np.eye(2)[1])
    found = fit(values, beside, *scatter).contrast(np.eye(3)[1])
    assert found.mean() == pytest.approx(expected.mean(), rel=1e-6)
    assert found.deviation() == pytest.approx(expected.deviation(), rel=1e-6)
