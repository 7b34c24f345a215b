"""Rolling resistance and drag area from the speeds of one or more coast-downs.

A car of effective mass m_e out of gear slows by m_e dv/dt = -(A + C (v + w)^2), with A = m g (C_rr + slope),
C = rho C_dA / 2 and a headwind w. For v + w that is the same equation without wind, and it has a closed form: after
the time t

    x = tan(t sqrt(AC) / m_e) / (2 sqrt(AC)),    v + w = (u - 2 A x) / (1 + 2 C u x),    u = v(0) + w

(the addition theorem of the arc tangent in `road_load.coast_down_time`, solved for the speed). It is fitted to the
speeds themselves; no speed is ever differenced.

Slope and wind of the day have one value out and the opposite one back; each run departs from them a little, by gusts
and by the road under it. All of these are unknowns with a standard doubt of their own: the fit weighs them against the
speeds, so that runs both ways cancel slope and wind, one run alone leaves them in the interval, and nothing has to be
decided in between. Source: Bayesian least squares with a Gaussian prior, e.g. [Tarantola 2005], Inverse Problem Theory,
section 3.2.
"""

import itertools
from dataclasses import dataclass

import numpy as np
from scipy.optimize import least_squares

from pullproof.analysis.coastdown.runs import Run
from pullproof.arrays import Array
from pullproof.physics.road_load import GRAVITY
from pullproof.stats.smoothing_spline import block_means

__all__ = ["Fit", "Setting", "fit_runs"]

BLOCK_S = 0.5
"""Speeds are averaged over so long before the fit: a coast-down bends much more slowly. [s]"""

WIND, SLOPE = 1.5, 5e-3
"""Standard doubts of a day's wind along the road [m/s] and of its road's slope [1] (common practice, no source)."""

GUST, UNEVENNESS = 0.5, 5e-4
"""Standard doubts of how one run departs from these [m/s], [1] (common practice, no source)."""

STILLNESS = (0.03, 0.3, 1.0, 3.0)
"""Multiples of the wind's doubts that are tried; the coefficients are averaged by how likely each is."""

_ROUNDS = 2
_LEAST_NOISE = 1e-3


@dataclass(frozen=True, slots=True)
class Setting:
    """What is known besides the speeds; one entry a run where it is a tuple."""

    mass: float
    """[kg]"""
    effective_mass: float
    """With the rotating parts, out of gear. [kg]"""
    air_density: float
    """[kg/m3]"""
    ways: tuple[int, ...]
    """1 out, -1 back."""
    gradients: tuple[tuple[float, float] | None, ...]
    """Slope by altitude and its standard doubt; None where altitude does not tell."""


@dataclass(frozen=True, slots=True)
class Fit:
    """What the speeds say."""

    rolling_resistance: float
    drag_area: float
    covariance: Array
    """Of both, (2, 2)."""
    wind: float
    """Along the road on the way out, positive against the car. [m/s]"""
    gradient: float
    """Of the way out."""
    noise: float
    """Standard deviation of a mean speed over one block about the curve. [m/s]"""
    restlessness: float
    """How far the runs depart from one another, over what gusts and the road explain; 1 or less is as expected."""
    departures: Array
    """Force by which each run departs from the day's at its middle speed, (n,). [N]"""


def fit_runs(runs: tuple[Run, ...], setting: Setting) -> Fit:
    """Fit the two coefficients to all runs at once.

    Parameters
    ----------
    runs : tuple of Run
        Used ones only, at least one.
    setting : Setting
        Masses, air, and the way of each run.

    On a still day a fitted wind only adds noise to the drag area, on a windy one it is needed. So the fit is made with
    several strengths of the prior, and the coefficients are the mean by the evidence for each. The interval is never
    narrower than with the usual strength, since a day that looks still need not be. The noise, and how far
    neighbouring speeds are off together, follow from the fit itself, which is repeated with them.
    """
    model = _Model(tuple(block_means(run.time, run.speed, BLOCK_S)[:2] for run in runs), setting)
    unknowns, noise, weight = model.start(), 0.1, 0.1
    for _ in range(_ROUNDS):
        unknowns = model.solved(unknowns, weight, 1.0)
        residuals = model.data - model.speeds(unknowns)
        noise = max(float(np.sqrt(np.sum(residuals**2) / max(residuals.size - unknowns.size, 1))), _LEAST_NOISE)
        weight = noise * np.sqrt(model.correlation_inflation(residuals))
    tried = [model.weighed(unknowns, weight, stillness) for stillness in STILLNESS]
    share = np.exp([one.evidence - max(one.evidence for one in tried) for one in tried])
    share /= np.sum(share)
    mean = share @ np.array([one.unknowns for one in tried])
    wide = sum(part * one.covariance for part, one in zip([np.sum(share[:3]), share[3]], tried[2:], strict=True))
    return Fit(
        rolling_resistance=float(mean[0]),
        drag_area=float(mean[1]),
        covariance=np.asarray(wide)[:2, :2],
        wind=float(mean[2]),
        gradient=float(mean[3]),
        noise=noise,
        restlessness=model.restlessness(mean),
        departures=model.departures(mean),
    )


@dataclass(frozen=True, slots=True)
class _Weighed:
    """The likeliest unknowns with one strength of the prior, their covariance, and the evidence for that strength."""

    unknowns: Array
    covariance: Array
    evidence: float


@dataclass(frozen=True, slots=True)
class _Model:
    """Unknowns: rolling resistance, drag area, wind, slope; then first speed, gust and unevenness of every run."""

    runs: tuple[tuple[Array, Array], ...]
    setting: Setting

    @property
    def both_ways(self) -> bool:
        """Whether there are runs out and back."""
        return len(set(self.setting.ways)) == 2

    @property
    def data(self) -> Array:
        """Speed of every block, all runs one after another. [m/s]"""
        return np.concatenate([speed for _, speed in self.runs])

    def start(self) -> Array:
        """A guess from which the fit finds its way, (p,)."""
        of_runs = [value for _, speed in self.runs for value in (speed[0], 0.0, 0.0)]
        return np.array([0.012, 0.4e-3 * self.setting.mass, 0.0, 0.0, *of_runs])

    def weighed(self, unknowns: Array, weight: float, stillness: float) -> _Weighed:
        """Fit with one strength of the prior; the evidence is that of the Gaussian about the likeliest unknowns."""
        unknowns = self.solved(unknowns, weight, stillness)
        jacobian = self.jacobian(unknowns, weight, stillness)
        information = jacobian.T @ jacobian
        misfit = self.misfit(unknowns, weight, stillness)
        evidence = -0.5 * float(misfit @ misfit) - 0.5 * float(np.linalg.slogdet(information)[1])
        winds = len(self.runs) + (not self.both_ways)
        return _Weighed(unknowns, np.asarray(np.linalg.inv(information)), evidence - winds * float(np.log(stillness)))

    def solved(self, unknowns: Array, weight: float, stillness: float) -> Array:
        """The likeliest unknowns, from a guess of them."""
        answer = least_squares(self.misfit, unknowns, jac=self.jacobian, method="lm", args=(weight, stillness))
        return np.asarray(answer.x, dtype=np.float64)

    def misfit(self, unknowns: Array, weight: float, stillness: float) -> Array:
        """Speeds against the data, and what is unlikely in itself; each in its standard deviations."""
        return np.concatenate(
            ((self.speeds(unknowns) - self.data) / weight, self._prior(stillness) @ unknowns - self._seen())
        )

    def jacobian(self, unknowns: Array, weight: float, stillness: float) -> Array:
        """Change of the misfit by each unknown, (n, p)."""
        return np.concatenate((self._slopes(unknowns) / weight, self._prior(stillness)))

    def speeds(self, unknowns: Array) -> Array:
        """Speed of every block. [m/s]"""
        return np.concatenate(
            [
                _slowed(time, load, self.setting.effective_mass) - headwind
                for (time, _), load, headwind in zip(self.runs, *self._loads(unknowns), strict=True)
            ]
        )

    def _loads(self, unknowns: Array) -> tuple[list[tuple[float, float, float]], list[float]]:
        """First speed through the air, constant force and quadratic coefficient of each run, and its headwind."""
        setting = self.setting
        rolling, area, wind, slope = unknowns[:4].tolist()
        loads, headwinds = [], []
        for way, (first, gust, uneven) in zip(setting.ways, unknowns[4:].reshape(-1, 3).tolist(), strict=True):
            headwinds.append(way * wind + gust)
            constant = setting.mass * GRAVITY * (rolling + way * slope + uneven)
            loads.append((first + headwinds[-1], constant, 0.5 * setting.air_density * area))
        return loads, headwinds

    def _slopes(self, unknowns: Array) -> Array:
        """Change of the speeds by each unknown, (n, p)."""
        rows, (loads, _) = [], self._loads(unknowns)
        weight, per_area = self.setting.mass * GRAVITY, 0.5 * self.setting.air_density
        for index, ((time, _), load, way) in enumerate(zip(self.runs, loads, self.setting.ways, strict=True)):
            started, constant, quadratic = _slowed_slopes(time, load, self.setting.effective_mass)
            part = np.zeros((time.size, unknowns.size))
            part[:, 0] = weight * constant
            part[:, 1] = per_area * quadratic
            part[:, 2] = way * (started - 1.0)
            part[:, 3] = way * weight * constant
            part[:, 4 + 3 * index : 7 + 3 * index] = np.stack((started, started - 1.0, weight * constant), axis=1)
            rows.append(part)
        return np.concatenate(rows)

    def _prior(self, stillness: float) -> Array:
        """One row for each thing known beforehand, in its standard doubts, (q, p)."""
        count = len(self.runs)
        rows = np.zeros((2 + 2 * count, 4 + 3 * count))
        # Both ways, the day's wind shows itself and needs no tempering.
        rows[0, 2] = 1.0 / (WIND * (1.0 if self.both_ways else stillness))
        rows[1, 3] = 1.0 / SLOPE
        for index in range(count):
            rows[2 + index, 5 + 3 * index] = 1.0 / (GUST * stillness)
            rows[2 + count + index, 6 + 3 * index] = 1.0 / UNEVENNESS
        by_altitude = []
        for index, (way, gradient) in enumerate(zip(self.setting.ways, self.setting.gradients, strict=True)):
            if gradient is not None:
                row = np.zeros(4 + 3 * count)
                row[3], row[6 + 3 * index] = way / gradient[1], 1.0 / gradient[1]
                by_altitude.append(row)
        return np.concatenate((rows, np.array(by_altitude).reshape(-1, 4 + 3 * count)))

    def _seen(self) -> Array:
        """What those rows came out as: nothing, or the slope by altitude, (q,)."""
        heights = [gradient[0] / gradient[1] for gradient in self.setting.gradients if gradient is not None]
        return np.concatenate((np.zeros(2 + 2 * len(self.runs)), heights))

    def restlessness(self, unknowns: Array) -> float:
        """Root mean square of the runs' own departures, in their standard doubts."""
        _, gust, uneven = unknowns[4:].reshape(-1, 3).T
        return float(np.sqrt(np.mean(np.concatenate((gust / GUST, uneven / UNEVENNESS)) ** 2)))

    def departures(self, unknowns: Array) -> Array:
        """Force of each run's own gust and unevenness at its middle speed, (n,). [N]"""
        _, gust, uneven = unknowns[4:].reshape(-1, 3).T
        middle = np.array([np.mean(speed) for _, speed in self.runs])
        drag = self.setting.air_density * unknowns[1] * middle * gust
        return np.asarray(self.setting.mass * GRAVITY * uneven + drag)

    def correlation_inflation(self, residuals: Array) -> float:
        """1 + 2 sum of the correlations at growing distance, up to the first that is negative; within runs only."""
        power = float(np.sum(residuals**2))
        edges = np.cumsum([0, *(time.size for time, _ in self.runs)])
        parts = [residuals[a:b] for a, b in itertools.pairwise(edges)]
        total = 1.0
        for lag in range(1, min(part.size for part in parts)):
            correlation = sum(float(np.sum(part[lag:] * part[:-lag])) for part in parts) / max(power, 1e-30)
            if correlation <= 0.0:
                break
            total += 2.0 * correlation
        return total


def _slowed(time: Array, load: tuple[float, float, float], mass: float) -> Array:
    """Speed through the air after a time (n,), from first speed, constant force and quadratic coefficient.

    Also where the road falls so steeply that the constant force is negative.
    """
    started, constant, quadratic = load
    root = float(np.sqrt(np.abs(constant * quadratic)))
    reduced = time * root / mass
    # Beyond 1.5 the car would have stopped long ago: no run reaches that, but a guess on the way may.
    turned = np.tan(np.minimum(reduced, 1.5)) if constant > 0.0 else np.tanh(reduced)
    x = time / (2.0 * mass) if root == 0.0 else turned / (2.0 * root)
    return np.asarray((started - 2.0 * constant * x) / (1.0 + 2.0 * quadratic * started * x))


def _slowed_slopes(time: Array, load: tuple[float, float, float], mass: float) -> tuple[Array, Array, Array]:
    """Change of `_slowed` by first speed, constant force and quadratic coefficient, (n,) each."""
    started, constant, quadratic = load

    def change(ahead: tuple[float, float, float], behind: tuple[float, float, float], step: float) -> Array:
        return np.asarray((_slowed(time, ahead, mass) - _slowed(time, behind, mass)) / (2.0 * step))

    return (
        change((started + 1e-3, constant, quadratic), (started - 1e-3, constant, quadratic), 1e-3),
        change((started, constant + 1e-2, quadratic), (started, constant - 1e-2, quadratic), 1e-2),
        change((started, constant, quadratic + 1e-5), (started, constant, quadratic - 1e-5), 1e-5),
    )
