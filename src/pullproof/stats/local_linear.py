"""A smooth curve, and its slope, through unevenly spaced noisy samples: local polynomial regression.

Around each place where the curve is wanted, a polynomial is fitted to the samples nearby by weighted least
squares; its value and slope at that place are the answer. The weight falls to nothing at `half_width`, a
distance along x, never a number of samples, so that a curve logged at 5 Hz and one logged at 50 Hz are
smoothed alike. The fit answers for its own edges: at the first sample it simply looks to one side.

**Bias.** A polynomial of the fitted degree is reproduced exactly, however the samples lie. What is left is of
the next order. Away from the ends, with the Epanechnikov weight used here and samples dense against the half
width h, the expected error is

    degree 1:   value  + h^2/10 f''                    slope + h^2/14 f'''
    degree 2:   value  - h^4/504 f''''                 slope + h^2/14 f'''

so degree 2 lets a hump of width w stand while degree 1 cuts it by (h/w)^2. **Variance.** Each answer is a fixed
weighted sum of the samples; `value_variance` and `slope_variance` are the sums of those weights squared. Times
the variance of one sample's independent noise they give the variance of the value and of the slope.

Sources: [Fan & Gijbels 1996], Local Polynomial Modelling and Its Applications, section 3.2 (bias and variance of
the local fit; the factors above are their moments of the Epanechnikov kernel); [Cleveland 1979] for the idea.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array

__all__ = ["LocalFit", "local_polynomial", "width_for_points"]

# Condition number beyond which the samples within reach count as lying at too few places for the polynomial.
_ILL_CONDITIONED = 1e12
# Samples handled at once; bounds the memory of a long record.
_CHUNK = 1_000_000


@dataclass(frozen=True, slots=True)
class LocalFit:
    """Curve and slope where they were asked for; all arrays have the shape of `at`, (m,).

    Units: `value` that of y, `slope` that of y per x. The variances are factors: multiply with the variance of
    one sample's noise. NaN where the samples within reach cannot carry the polynomial.
    """

    value: Array
    slope: Array
    value_variance: Array
    slope_variance: Array
    points: Array
    """How many samples were within reach."""


def local_polynomial(x: Array, y: Array, at: Array, half_width: float | Array, degree: int = 2) -> LocalFit:
    """Fit a line or a parabola to the samples around each place.

    Parameters
    ----------
    x, y : (n,)
        The samples, in any order. A pair with a NaN is left out. [any unit]
    at : (m,)
        Where the curve is wanted. [unit of x]
    half_width : float or (m,)
        Distance at which a sample's weight has fallen to nothing. [unit of x]
    degree : int
        1 for a line, 2 for a parabola.

    Returns
    -------
    LocalFit
        NaN where fewer than `degree + 1` different places hold a sample within reach.

    Raises
    ------
    ValueError
        The degree is not 1 or 2, a half width is not positive, or x and y differ in shape.

    Source: [Fan & Gijbels 1996], equations 3.3 to 3.5 for the estimate, 3.6 for its variance.

    >>> fit = local_polynomial(np.array([0.0, 1.0, 2.0, 3.0]), np.array([1.0, 3.0, 5.0, 7.0]), np.array([1.5]), 3.0)
    >>> bool(abs(fit.value[0] - 4.0) < 1e-12), bool(abs(fit.slope[0] - 2.0) < 1e-12)
    (True, True)
    """
    x, y = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    at = np.atleast_1d(np.asarray(at, dtype=np.float64))
    width = np.broadcast_to(np.asarray(half_width, dtype=np.float64), at.shape)
    if degree not in (1, 2):
        raise ValueError(f"degree is {degree}; a line is 1, a parabola 2")
    if not np.all(width > 0):
        raise ValueError("half_width must be positive")
    if x.shape != y.shape or x.ndim != 1:
        raise ValueError(f"x {x.shape} and y {y.shape} must be one-dimensional and alike")
    sound = np.isfinite(x) & np.isfinite(y)
    order = np.argsort(x[sound], kind="stable")
    x, y = x[sound][order], y[sound][order]
    first, last = np.searchsorted(x, at - width, "right"), np.searchsorted(x, at + width, "left")
    answer = np.full((5, at.size), np.nan)
    answer[4] = np.maximum(last - first, 0)
    enough = np.flatnonzero(answer[4] > degree)
    reach = int(answer[4].max(initial=0.0))
    for some in np.array_split(enough, 1 + enough.size * reach // _CHUNK):
        if some.size:
            near = first[some, None] + np.arange(np.max(last[some] - first[some]))
            weight_at = near < last[some, None]
            near = np.minimum(near, x.size - 1)
            distance = (x[near] - at[some, None]) / width[some, None]
            answer[:4, some] = _fit(distance, weight_at, y[near], width[some], degree)
    return LocalFit(*answer)


def _fit(distance: Array, within: NDArray[np.bool_], y: Array, width: Array, degree: int) -> Array:
    """Value, slope and their variance factors at distance 0, (4, places); `distance` is in half widths."""
    weight = np.where(within, 1.0 - distance**2, 0.0)
    powers = np.stack((np.ones_like(distance), distance, distance**2)[: degree + 1], axis=1)
    weighted = powers * weight[:, None, :]
    normal = weighted @ np.swapaxes(powers, 1, 2)
    answer = np.full((4, width.size), np.nan)
    sound = np.linalg.cond(normal) < _ILL_CONDITIONED
    # Row k of `equivalent` holds the weights with which the samples sum up to coefficient k.
    equivalent = np.linalg.solve(normal[sound], weighted[sound])[:, :2]
    coefficients = np.einsum("pkn,pn->kp", equivalent, y[sound])
    variances = np.einsum("pkn,pkn->kp", equivalent, equivalent)
    per_width = 1.0 / width[sound]
    answer[:, sound] = (
        coefficients[0],
        coefficients[1] * per_width,
        variances[0],
        variances[1] * per_width**2,
    )
    return answer


def width_for_points(x: Array, at: Array, half_width: float | Array, points: int) -> Array:
    """Half width at each place, widened where fewer than so many samples are within reach.

    A record with very few samples would else have no curve at all. Widening costs evenness between records of
    different rates, so `half_width` should be wide enough for the slowest logger that is expected.

    Parameters
    ----------
    x : (n,)
        Places of the samples. [any unit]
    at : (m,)
        Where the curve is wanted. [unit of x]
    half_width : float or (m,)
        The width wanted. [unit of x]
    points : int
        Samples that have to be within reach.

    Returns
    -------
    (m,)
        Never below `half_width`. Infinite where there are too few samples altogether. [unit of x]
    """
    x = np.sort(x[np.isfinite(x)])
    at = np.atleast_1d(np.asarray(at, dtype=np.float64))
    width = np.array(np.broadcast_to(np.asarray(half_width, dtype=np.float64), at.shape))
    if x.size < points:
        return np.full(at.shape, np.inf)
    few = np.searchsorted(x, at + width, "left") - np.searchsorted(x, at - width, "right") < points
    for place in np.flatnonzero(few):
        reach = np.partition(np.abs(x - at[place]), points - 1)[points - 1]
        # The outermost sample must carry some weight: the kernel is nothing at its very edge.
        width[place] = max(width[place], 1.25 * reach)
    return width
