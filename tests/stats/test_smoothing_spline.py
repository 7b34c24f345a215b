"""The spline must be the curve that its definition asks for, and its stated noise, bias and width must be true."""

import numpy as np
import pytest
from scipy.integrate import quad

from pullproof.stats import smoothing_spline as module
from pullproof.stats.smoothing_spline import block_means, smoothing_spline


def test_a_parabola_comes_back_with_its_slope() -> None:
    """A parabola bends by no third derivative, so it is reproduced however unevenly it is sampled."""
    x = np.sort(np.random.default_rng(1).uniform(2.0, 12.0, 40))
    truth = np.polynomial.Polynomial([3.0, -2.0, 0.7])
    at = np.linspace(x[0], x[-1], 30)
    fit = smoothing_spline(x, truth(x), at, shortest=0.1)
    np.testing.assert_allclose(fit.value, truth(at), rtol=1e-7)
    np.testing.assert_allclose(fit.slope, truth.deriv()(at), rtol=1e-6, atol=1e-6)


@pytest.mark.parametrize("derivative", [0, 1])
def test_covariance_is_the_integral_of_the_process(derivative: int) -> None:
    """The covariance of a twice integrated random walk, and of its slope, agrees with quadrature (scipy)."""
    for a, b in [(0.3, 0.7), (0.7, 0.3), (0.5, 0.5), (1.0, 0.05)]:
        response = (lambda u, a=a: (a - u) ** 2 / 2) if derivative == 0 else (lambda u, a=a: a - u)
        expected, _ = quad(lambda u, b=b, response=response: response(u) * (b - u) ** 2 / 2, 0.0, min(a, b))
        found = module._covariance(np.array([a]), np.array([b]), derivative)[0, 0]
        assert found == pytest.approx(expected, rel=1e-9)


def test_it_is_the_penalised_least_squares_curve() -> None:
    """On a fine even grid it agrees with the discrete smoother that penalises squared third differences.

    [Whittaker 1923], On a new method of graduation: minimise the squared misfit plus a multiple of the squared third
    differences; solved here directly as linear equations.
    """
    x = np.linspace(0.0, 1.0, 201)
    y = np.sin(5.0 * x) + 0.05 * np.random.default_rng(2).normal(size=x.size)
    system = module._System.of(x, y, np.ones_like(x))
    ratio = 1e5
    curve = system.answers(x, 0, np.array([ratio]))[0][:, 0]
    step = x[1] - x[0]
    differences = np.diff(np.eye(x.size), n=3, axis=0) / step**3
    discrete = np.linalg.solve(np.eye(x.size) + step / ratio * differences.T @ differences, y)
    np.testing.assert_allclose(curve, discrete, atol=1e-3)


def test_the_width_passes_waves_as_stated() -> None:
    """Away from the ends a wave of angular frequency w is passed with 1 / (1 + (w T)^6)."""
    x = np.linspace(0.0, 1.0, 401)
    time_constant = 0.03
    ratio = 1.0 / (x.size * time_constant**6)
    middle = np.linspace(0.4, 0.6, 21)
    for reduced in (0.5, 1.0, 1.5):
        wave = np.sin(reduced / time_constant * x)
        system = module._System.of(x, wave, np.ones_like(x))
        passed = system.answers(middle, 0, np.array([ratio]))[0][:, 0]
        np.testing.assert_allclose(passed, np.sin(reduced / time_constant * middle) / (1 + reduced**6), atol=0.01)


def test_stated_noise_is_the_noise() -> None:
    """Over repeats of one curve, the slope scatters by the stated noise of the slope."""
    rng = np.random.default_rng(3)
    x = np.linspace(0.0, 8.0, 80)
    at = np.linspace(0.5, 7.5, 15)
    weights = []
    slopes = []
    for _ in range(120):
        fit = smoothing_spline(x, 500.0 * x + 3.0 * rng.normal(size=x.size), at, shortest=2.0)
        slopes.append(fit.slope)
        weights.append(fit.slope_noise**2)
    np.testing.assert_allclose(np.std(slopes, axis=0), np.sqrt(np.mean(weights, axis=0)), rtol=0.3)


def test_expected_bias_and_noise_cover_the_process_itself() -> None:
    """For curves drawn from the process, noise and the whole expected bias give standardised errors of unit scatter."""
    rng = np.random.default_rng(4)
    grid = np.linspace(0.0, 1.0, 2001)
    step = grid[1] - grid[0]
    at = grid[200:1801:100]
    scores = []
    for _ in range(200):
        jerk = np.cumsum(rng.normal(size=grid.size)) * np.sqrt(step)
        slope = np.cumsum(jerk) * step
        value = np.cumsum(slope) * step
        x, y = grid[::40], value[::40] + 1e-3 * rng.normal(size=grid[::40].size)
        fit = smoothing_spline(x, y, at, shortest=0.02)
        spread = np.sqrt(fit.slope_noise**2 + fit.slope_bias**2 / module.BIAS_SHARE)
        scores.append((fit.slope - slope[200:1801:100]) / spread)
    assert np.sqrt(np.mean(np.square(scores))) == pytest.approx(1.0, abs=0.15)


def test_shape_of_a_torque_curve_is_covered_by_the_share_of_bias() -> None:
    """For a smooth hump, 95 % intervals of the slope hold it 93 to 97.5 % of the time, at any rate and noise."""
    rng = np.random.default_rng(5)
    held = []
    for rate in (5, 10, 20):
        for noise in (1.0, 5.0):
            for _ in range(25):
                x = np.arange(rng.uniform(0, 1 / rate), 8.0, 1 / rate)
                at = np.linspace(x[0], x[-1], 60)
                hump = 2000 + 400 * x + 500 * np.tanh((x - 3.0) / 1.6)
                slope = 400 + 500 / 1.6 / np.cosh((at - 3.0) / 1.6) ** 2
                fit = smoothing_spline(x, hump + noise * rng.normal(size=x.size), at, shortest=0.1)
                held.append(np.abs(fit.slope - slope) < 1.96 * fit.slope_doubt)
    assert 0.93 <= np.mean(held) <= 0.975


def test_blocks_change_the_slope_by_little() -> None:
    """Means over blocks much shorter than the width give nearly the same slope, with the samples counted."""
    rng = np.random.default_rng(6)
    x = np.arange(0.0, 6.0, 0.01)
    y = 300 * x + 60 * np.sin(1.2 * x) + rng.normal(size=x.size)
    places, means, count = block_means(x, y, 0.05)
    assert count.sum() == x.size
    at = np.linspace(0.5, 5.5, 20)
    whole = smoothing_spline(x, y, at, shortest=0.1)
    short = smoothing_spline(places, means, at, shortest=0.1, samples=count)
    assert np.max(np.abs(whole.slope - short.slope) / whole.slope_doubt) < 0.6
    assert short.noise == pytest.approx(whole.noise, rel=0.25)


@pytest.mark.parametrize(
    ("x", "shortest", "at", "words"),
    [
        (np.arange(5.0), 1.0, 2.0, "at least 6 samples"),
        (np.array([0.0, 1, 2, 2, 3, 4, 5]), 1.0, 2.0, "rising x"),
        (np.arange(8.0), 0.0, 2.0, "positive"),
        (np.arange(8.0), 1.0, 9.0, "within the samples"),
    ],
)
def test_what_cannot_be_fitted_is_refused(x: np.ndarray, shortest: float, at: float, words: str) -> None:
    """Too few samples, x that stands still, no width, or a place outside are refused in words."""
    with pytest.raises(ValueError, match=words):
        smoothing_spline(x, x, np.array([at]), shortest=shortest)
