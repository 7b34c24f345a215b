"""A mixture of normals must answer as its parts do, and its quantiles must undo its probabilities."""

import numpy as np
import pytest
from scipy.stats import norm
from scipy.stats import t as student

from pullproof.stats.mixture import NormalMixture


def random_mixture(seed, nodes=40, responses=7):
    rng = np.random.default_rng(seed)
    weights = rng.dirichlet(np.full(nodes, 0.3), responses).T
    return NormalMixture(weights, rng.normal(0, 3, (nodes, responses)), rng.lognormal(0, 1.5, (nodes, responses)))


def test_one_part_is_a_normal_distribution():
    """A mixture of one part has that part's quantiles (scipy's normal distribution)."""
    mixture = NormalMixture(np.ones((1, 2)), np.array([[3.0, -1.0]]), np.array([[2.0, 0.5]]))
    lower, upper = mixture.interval(0.9)
    np.testing.assert_allclose(lower, norm.ppf(0.05, [3, -1], [2, 0.5]), rtol=1e-10)
    np.testing.assert_allclose(upper, norm.ppf(0.95, [3, -1], [2, 0.5]), rtol=1e-10)


@pytest.mark.parametrize("probability", [1e-4, 0.025, 0.5, 0.9, 0.9999])
def test_quantile_undoes_probability(probability):
    """The probability below a quantile is the one that was asked for, many-peaked mixtures included."""
    for seed in range(5):
        mixture = random_mixture(seed)
        np.testing.assert_allclose(mixture.below(mixture.quantile(probability)), probability, rtol=1e-6)


def test_scale_mixture_is_students():
    """Normals whose variance is an inverse chi-squared variable make Student's distribution (textbook identity)."""
    log_s = np.linspace(-4, 6, 4000)
    weights = np.exp(-5.0 * log_s - 2.5 * np.exp(-2 * log_s))
    mixture = NormalMixture((weights / weights.sum())[:, None], np.zeros((4000, 1)), np.exp(log_s)[:, None])
    for probability in (0.6, 0.975, 0.999):
        assert mixture.quantile(probability)[0] == pytest.approx(student.ppf(probability, 5), rel=1e-4)


def test_mean_and_deviation_are_those_of_draws():
    """Mean and standard deviation agree with a large sample from the parts."""
    mixture, rng = random_mixture(3, responses=1), np.random.default_rng(0)
    part = rng.choice(40, 400_000, p=mixture.weights[:, 0])
    draws = rng.normal(mixture.means[part, 0], mixture.deviations[part, 0])
    assert mixture.mean()[0] == pytest.approx(draws.mean(), abs=5 * draws.std() / 632)
    assert mixture.deviation()[0] == pytest.approx(draws.std(), rel=0.03)
