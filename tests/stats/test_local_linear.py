"""The smoother must reproduce polynomials, have the bias and variance it states, and not care how densely it is fed."""

import numpy as np
import pytest

from pullproof.stats.local_linear import local_polynomial, width_for_points


def uneven(seed: int, n: int, low: float = 0.0, high: float = 10.0) -> np.ndarray:
    return np.sort(np.random.default_rng(seed).uniform(low, high, n))


@pytest.mark.parametrize("degree", [1, 2])
def test_a_polynomial_of_the_fitted_degree_comes_back_exactly(degree: int) -> None:
    """A line (a parabola) is reproduced, with its slope, inside and at the edges, however the samples lie."""
    x = uneven(1, 60)
    truth = np.polynomial.Polynomial([3.0, -2.0, 0.7][: degree + 1])
    at = np.linspace(0.2, 9.8, 40)
    fit = local_polynomial(x, truth(x), at, 1.5, degree)
    np.testing.assert_allclose(fit.value, truth(at), rtol=1e-9, atol=1e-9)
    np.testing.assert_allclose(fit.slope, truth.deriv()(at), rtol=1e-7, atol=1e-7)


@pytest.mark.parametrize(
    ("degree", "power", "value_bias", "slope_bias"),
    [(1, 2, 1 / 5, 0.0), (1, 3, 0.0, 6 / 14), (2, 4, -24 / 504, 0.0), (2, 3, 0.0, 6 / 14)],
)
def test_the_stated_bias_is_the_bias(degree: int, power: int, value_bias: float, slope_bias: float) -> None:
    """For x to a power one above the degree, the error is the one that the module states (h = 1).

    Source of the expected values: moments of the Epanechnikov kernel 1, 1/5, 3/35, 1/21 in the bias formulas of
    Fan & Gijbels 1996, section 3.2.
    """
    x = np.linspace(-2, 2, 40_001)
    fit = local_polynomial(x, x**power, np.array([0.0]), 1.0, degree)
    np.testing.assert_allclose(fit.value, value_bias, atol=2e-4)
    np.testing.assert_allclose(fit.slope, slope_bias, atol=2e-4)


@pytest.mark.parametrize("degree", [1, 2])
def test_the_stated_variance_is_the_scatter_of_repeats(degree: int) -> None:
    """Over many repeats of independent noise the scatter of value and slope is the stated one."""
    rng = np.random.default_rng(5)
    x, at = uneven(2, 50), np.array([0.0, 3.3, 9.0])
    fits = [local_polynomial(x, 0.3 * rng.standard_normal(x.size), at, 2.0, degree) for _ in range(3000)]
    for scatter, stated in [
        (np.var([fit.value for fit in fits], axis=0), fits[0].value_variance),
        (np.var([fit.slope for fit in fits], axis=0), fits[0].slope_variance),
    ]:
        np.testing.assert_allclose(scatter, 0.09 * stated, rtol=0.12)


@pytest.mark.parametrize("degree", [1, 2])
def test_agrees_with_a_general_purpose_solver(degree: int) -> None:
    """Value and slope are those of numpy's weighted polynomial fit at the same place.

    Source: numpy `polynomial.polyfit`, weighted least squares.
    """
    x = uneven(6, 70)
    y = np.cos(x) * x
    for place in (0.5, 4.0, 9.6):
        fit = local_polynomial(x, y, np.array([place]), 1.3, degree)
        weight = np.clip(1 - ((x - place) / 1.3) ** 2, 0, None)
        # polyfit weights the residual, not its square
        wanted = np.polynomial.Polynomial(np.polynomial.polynomial.polyfit(x - place, y, degree, w=np.sqrt(weight)))
        np.testing.assert_allclose(fit.value, wanted(0.0), rtol=1e-9)
        np.testing.assert_allclose(fit.slope, wanted.deriv()(0.0), rtol=1e-8)


def test_dense_and_sparse_sampling_are_smoothed_alike() -> None:
    """A hump sampled ten times as densely keeps the same height: the width is a distance, not a count."""
    at = np.linspace(3, 7, 81)
    peaks = [
        local_polynomial(x, np.exp(-(((x - 5) / 1.2) ** 2)), at, 1.0, 2).value.max()
        for x in (np.arange(0, 10, 0.3), np.arange(0.1, 10, 0.03))
    ]
    assert abs(peaks[0] - peaks[1]) < 0.003


def test_order_and_blanks_do_not_matter() -> None:
    """Shuffled samples, and samples with a NaN, give the same curve."""
    rng = np.random.default_rng(8)
    x = uneven(7, 40)
    y, at = np.sin(x), np.linspace(1, 9, 9)
    order = rng.permutation(x.size + 2)
    blank_x, blank_y = np.append(x, [4.0, np.nan])[order], np.append(y, [np.nan, 1.0])[order]
    np.testing.assert_allclose(
        local_polynomial(blank_x, blank_y, at, 1.5).value, local_polynomial(x, y, at, 1.5).value, rtol=1e-9
    )


@pytest.mark.parametrize(
    "x", [[], [1.0], [1.0, 1.0, 1.0, 1.0], [1.0, 2.0], [1.0, 1.0, 2.0, 2.0], [1.0, 1.0 + 1e-9, 1.0 + 2e-9]]
)
def test_too_few_places_give_nan(x: list[float]) -> None:
    """Where the samples cannot carry a parabola the answer is NaN, with no warning."""
    fit = local_polynomial(np.array(x), np.array(x), np.array([1.0]), 3.0)
    assert np.isnan(fit.value).all()
    assert np.isnan(fit.slope_variance).all()
    assert fit.points[0] == len(x)


def test_a_long_record_is_handled_in_pieces() -> None:
    """A record too long for one piece gives the same line everywhere."""
    x = np.linspace(0, 100, 3000)
    fit = local_polynomial(x, 2 * x, x, 30.0, 1)
    np.testing.assert_allclose(fit.value, 2 * x, atol=1e-8)


@pytest.mark.parametrize(
    ("x", "y", "width", "degree"), [([1.0], [1.0], 1.0, 3), ([1.0], [1.0], 0.0, 1), ([1.0], [1.0, 2.0], 1.0, 1)]
)
def test_a_senseless_call_is_refused(x: list[float], y: list[float], width: float, degree: int) -> None:
    """A degree, width or shape that makes no sense raises."""
    with pytest.raises(ValueError, match=r"degree|half_width|alike"):
        local_polynomial(np.array(x), np.array(y), np.array([1.0]), width, degree)


def test_width_grows_only_where_samples_are_few() -> None:
    """The width is the wanted one where enough samples lie, and wide enough to hold that many elsewhere."""
    x = np.array([0.0, 1.0, 2.0, 3.0, 4.0, 9.0, 12.0])
    at = np.array([2.0, 9.0])
    width = width_for_points(x, at, 2.5, 4)
    assert width[0] == 2.5
    assert width[1] > 2.5
    assert local_polynomial(x, x, at, width, 1).points.min() >= 4
    assert np.isinf(width_for_points(x, at, 2.5, 8)).all()
