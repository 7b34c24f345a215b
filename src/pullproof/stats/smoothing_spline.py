"""The slope of a noisy record: a smoothing spline that finds its own width and knows its bias and variance.

A raw difference of neighbouring samples magnifies their noise without limit. Here the curve is taken as one draw of
a random process whose third derivative is white noise, so that it and its slope bend smoothly; the estimate is the
expected curve given the samples, a smoothing spline of fifth degree. How strongly it smooths follows from the record
itself, by its restricted likelihood: a log in whole numbers at 5 Hz is smoothed over more seconds than a clean one at
100 Hz, with nothing to tune. Where the record leaves the strength open, the answers are averaged by how likely each
is, and how far they lie apart counts as bias.

**Width.** With samples dense against it, the spline passes a component of angular frequency w with the weight
1 / (1 + (w T)^6). `time_constant` is T, in units of x. A shortest T is given by the caller: what is faster than that
is taken for noise, whatever the samples say.

**Variance.** Value and slope are fixed weighted sums of the samples. The sum of the squared weights times the
variance of one sample is the variance that noise causes.

**Bias.** The same weights applied to the process itself give the expected square of what smoothing cuts off. The
process is rougher than a torque curve, so this is an upper bound. For a curve with twice as many derivatives, the
width of smallest mean square error leaves a squared bias of a quarter of the variance in the slope (the bias goes
with T^6, the variance of a slope with T^-3), where the process expects about as much bias as variance. So a quarter
of the process's figure is counted; simulated pulls confirm that intervals made from it hold.

Sources: [Wahba 1990], Spline Models for Observational Data, chapters 1 and 4 (splines as expectations of a process,
likelihood for the width); [Nychka 1988] (why intervals with an average bias hold across a curve).
"""

from dataclasses import dataclass
from math import comb, factorial

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array

__all__ = ["Smoothed", "block_means", "smoothing_spline"]

ORDER = 3
"""The derivative that is white noise."""

BIAS_SHARE = 0.25
"""How much of the squared bias that the process expects is counted, see above."""

_WIDTHS = 41
"""Widths tried, in equal steps of the logarithm."""


@dataclass(frozen=True, slots=True)
class Smoothed:
    """Curve and slope where they were asked for, (m,), and what the smoothing did.

    Units: `value` and `noise` those of y, slopes those of y per x, `time_constant` that of x.
    """

    value: Array
    slope: Array
    slope_noise: Array
    """Standard deviation of the slope from the samples' noise."""
    slope_bias: Array
    """Root mean square of what smoothing takes off the slope, by the share that is counted."""
    noise: float
    """Standard deviation of one sample about the curve."""
    time_constant: float
    freedom: float
    """Samples less what the curve used up; the noise is known from so many."""

    @property
    def slope_doubt(self) -> Array:
        """Standard doubt of the slope: noise and bias together, (m,)."""
        return np.hypot(self.slope_noise, self.slope_bias)


def smoothing_spline(x: Array, y: Array, at: Array, *, shortest: float, samples: Array | None = None) -> Smoothed:
    """Fit a curve to noisy samples and take its slope.

    Parameters
    ----------
    x, y : (n,)
        The samples; x rises strictly. [any unit]
    at : (m,)
        Where curve and slope are wanted, within the range of x. [unit of x]
    shortest : float
        Shortest time constant allowed. [unit of x]
    samples : (n,), optional
        How many samples each entry is the mean of; one where not given. [1]

    Returns
    -------
    Smoothed
        Value, slope and doubts at `at`.

    Raises
    ------
    ValueError
        Fewer than six samples, x that does not rise, an `at` outside, or a width that is not positive.

    Range: some six to a thousand samples; the effort goes with their cube.
    Source: [Wahba 1990] equations 1.5.10 and 4.8.
    """
    x, y, at = (np.asarray(values, dtype=np.float64) for values in (x, y, at))
    if x.ndim != 1 or x.shape != y.shape or x.size < 2 * ORDER or not np.all(np.diff(x) > 0):
        raise ValueError(f"at least {2 * ORDER} samples with rising x are needed")
    if not shortest > 0 or at.min(initial=x[0]) < x[0] or at.max(initial=x[-1]) > x[-1]:
        raise ValueError("shortest must be positive, and the curve is asked for within the samples")
    origin, length = x[0], x[-1] - x[0]
    count = np.ones_like(x) if samples is None else np.asarray(samples, dtype=np.float64)
    system = _System.of((x - origin) / length, y, count)
    widths = np.geomspace(min(shortest / length, 1.0), 1.0, _WIDTHS)
    ratio = 1.0 / (count.sum() * widths ** (2 * ORDER))
    noise_variance, share = system.likelihood(ratio)
    place = (at - origin) / length
    value, _, _ = system.answers(place, 0, ratio)
    slope, noise, bias = system.answers(place, 1, ratio)
    mean_slope = slope @ share
    squared_bias = bias @ (BIAS_SHARE * noise_variance * share) + (slope - mean_slope[:, None]) ** 2 @ share
    return Smoothed(
        value=value @ share,
        slope=mean_slope / length,
        slope_noise=np.sqrt(noise @ (noise_variance * share)) / length,
        slope_bias=np.sqrt(squared_bias) / length,
        noise=float(np.sqrt(noise_variance @ share)),
        time_constant=float(np.exp(np.log(widths) @ share) * length),
        freedom=float(np.sum(1.0 / (1.0 + np.outer(system.eigenvalues, ratio)), axis=0) @ share),
    )


@dataclass(frozen=True, slots=True)
class _System:
    """The samples on 0 to 1, split into their parabola and what a parabola does not reach.

    In the basis of `rest` both the process and the noise are independent from entry to entry: variance
    `eigenvalues` times `ratio`, and 1, in units of the noise variance.
    """

    x: Array
    root: Array
    """Root of the number of samples behind each entry; all below is scaled by it."""
    parabolas: Array
    triangle: Array
    rest: Array
    eigenvalues: Array
    covariance: Array
    parabola_data: Array
    rest_data: Array

    @classmethod
    def of(cls, x: Array, y: Array, count: Array) -> "_System":
        root = np.sqrt(count)
        covariance = _covariance(x, x) * np.outer(root, root)
        basis, triangle = np.linalg.qr(_parabola(x, 0) * root[:, None], mode="complete")
        parabolas, rest = basis[:, :ORDER], basis[:, ORDER:]
        eigenvalues, vectors = np.linalg.eigh(rest.T @ covariance @ rest)
        rest = rest @ vectors
        return cls(
            x=x,
            root=root,
            parabolas=parabolas,
            triangle=triangle[:ORDER],
            rest=rest,
            eigenvalues=np.maximum(eigenvalues, 0.0),
            covariance=covariance,
            parabola_data=parabolas.T @ (y * root),
            rest_data=rest.T @ (y * root),
        )

    def likelihood(self, ratio: Array) -> tuple[Array, Array]:
        """Noise variance and share of the restricted likelihood for each ratio of process to noise, (w,)."""
        inflation = 1.0 + np.outer(ratio, self.eigenvalues)
        # A record without any noise must not end in the logarithm of zero.
        variance = np.mean(self.rest_data**2 / inflation, axis=1) + 1e-20 * np.mean(self.parabola_data**2)
        level = -0.5 * (self.rest_data.size * np.log(variance) + np.sum(np.log(inflation), axis=1))
        share = np.exp(level - np.max(level))
        return variance, share / np.sum(share)

    def answers(self, at: Array, derivative: int, ratio: Array) -> tuple[Array, Array, Array]:
        """A derivative at places for each ratio, its variance and its squared bias per noise variance, (m, w).

        The answer is the parabola's own plus a multiple of each entry of the rest; what an entry tells of the
        answer is `gain`, and it is believed the less the more noise there is.
        """
        across = _covariance(at, self.x, derivative) * self.root
        trend = np.linalg.solve(self.triangle.T, _parabola(at, derivative).T).T
        gain = across @ self.rest - trend @ (self.parabolas.T @ self.covariance @ self.rest)
        belief = ratio / (1.0 + np.outer(self.eigenvalues, ratio))
        answer = (trend @ self.parabola_data)[:, None] + gain @ (belief * self.rest_data[:, None])
        noise = np.sum(trend**2, axis=1)[:, None] + gain**2 @ belief**2
        within = trend @ self.parabolas.T
        spread = (
            _variance(at, derivative)
            - 2.0 * np.sum(within * across, axis=1)
            + np.sum((within @ self.covariance) * within, axis=1)
        )
        bias = np.outer(spread, ratio) - gain**2 @ (belief * ratio + belief**2)
        return answer, noise, np.maximum(bias, 0.0)


def _parabola(x: Array, derivative: int) -> Array:
    """Derivative of 1, x, x^2, (n, 3)."""
    powers = range(ORDER)
    columns = [
        factorial(power) / factorial(power - derivative) * x ** (power - derivative) if power >= derivative else 0.0 * x
        for power in powers
    ]
    return np.stack(columns, axis=1)


def _covariance(at: Array, x: Array, derivative: int = 0) -> Array:
    """Covariance of a derivative at places with the process itself at x, (m, n); both start at 0.

    The process is int (x - u)^2/2 dW(u) up to x, so the covariance is int (a - u)^p/p! (x - u)^2/2 du up to the
    nearer of the two, p = 2 less the derivative; expanded about that one.
    """
    low = np.minimum(at[:, None], x[None, :])
    first, second = at[:, None] - low, x[None, :] - low
    p, q = ORDER - 1 - derivative, ORDER - 1
    total = np.zeros_like(low)
    for i in range(p + 1):
        for j in range(q + 1):
            share = comb(p, i) * comb(q, j) / (i + j + 1)
            total += share * first ** (p - i) * second ** (q - j) * low ** (i + j + 1)
    return total / (factorial(p) * factorial(q))


def _variance(at: Array, derivative: int) -> Array:
    """Variance of a derivative of the process at places, (m,)."""
    p = ORDER - 1 - derivative
    return at ** (2 * p + 1) / ((2 * p + 1) * factorial(p) ** 2)


def block_means(x: Array, y: Array, width: float) -> tuple[Array, Array, Array]:
    """Mean place and value of the samples in consecutive blocks, and how many each holds, (b,).

    Parameters
    ----------
    x, y : (n,)
        The samples; x does not fall. [any unit]
    width : float
        Width of a block. [unit of x]

    A fast record loses nothing that a smoothing over several blocks would keep, and neighbouring noise that is not
    independent becomes nearly so.
    """
    block: NDArray[np.intp] = np.floor((x - x[0]) / width + 1e-9).astype(np.intp)
    _, member = np.unique(block, return_inverse=True)
    count = np.bincount(member).astype(np.float64)
    return np.bincount(member, x) / count, np.bincount(member, y) / count, count
