"""Rolling resistance and drag area from the speeds of one or more coast-downs.

A car of effective mass m_e out of gear slows by m_e dv/dt = -(A + B v + C (v + w)^2): A is the weight times rolling
resistance and slope, B the rise of rolling resistance with speed, C = rho C_dA / 2, and w a headwind. For u = v + w
that is the same equation without wind, A less by B w, and it has a closed form: after the time t

    x = tan(t s / 2 m_e) / s,    s^2 = 4AC - B^2,    u = (u0 (1 - B x) - 2 A x) / (1 + B x + 2 C u0 x)

(the addition theorem in `road_load.coast_down_time`, solved for the speed). It is fitted to the speeds themselves; no
speed is ever differenced.

Slope and wind of the day have one value out and the opposite one back; each run departs from them a little, by gusts
and by the road under it; rolling resistance may rise with speed. All of these are unknowns with a standard doubt of
their own: the fit weighs them against the speeds, so that runs both ways cancel slope and wind, one run alone leaves
them in the interval, and nothing has to be decided in between. Source: Bayesian least squares with a Gaussian prior,
e.g. [Tarantola 2005], Inverse Problem Theory, section 3.2.
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

RISE = 0.1
"""Standard doubt of how much more rolling resistance there is at 100 km/h faster, relative (common practice, no
source: tyres roll 5 to 20 % harder at 120 km/h than slowly)."""

REFERENCE_SPEED = 80.0 / 3.6
"""Rolling resistance is that at this speed, for which [SAE J1263] is made. [m/s]"""

STILLNESS = (0.03, 0.3, 1.0, 3.0)
"""Multiples of the doubts of wind and rise that are tried; the coefficients are averaged by how likely each is."""

# Unknowns that all runs share.
_SHARED = 5
_HUNDRED_KMH = 100.0 / 3.6
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

    On a still day a fitted wind only adds noise to the drag area, on a windy one it is needed; so it is with the rise
    of rolling resistance. So the fit is made with several strengths of the prior, and the coefficients are the mean by
    the evidence for each. The interval is never narrower than with the usual strength, since a day that looks still
    need not be. The noise, and how far neighbouring speeds are off together, follow from the fit itself, which is
    repeated with them.
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
    """Unknowns: rolling resistance, drag area, wind, slope, rise; then first speed, gust, unevenness of every run."""

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
        return np.array([0.012, 0.4e-3 * self.setting.mass, 0.0, 0.0, 0.0, *of_runs])

    def weighed(self, unknowns: Array, weight: float, stillness: float) -> _Weighed:
        """Fit with one strength of the prior; the evidence is that of the Gaussian about the likeliest unknowns."""
        unknowns = self.solved(unknowns, weight, stillness)
        jacobian = self.jacobian(unknowns, weight, stillness)
        information = jacobian.T @ jacobian
        misfit = self.misfit(unknowns, weight, stillness)
        evidence = -0.5 * float(misfit @ misfit) - 0.5 * float(np.linalg.slogdet(information)[1])
        tempered = 1 + len(self.runs) + (not self.both_ways)
        return _Weighed(
            unknowns, np.asarray(np.linalg.inv(information)), evidence - tempered * float(np.log(stillness))
        )

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
        loads = self._loads(unknowns)
        return np.concatenate([self._slowed(time, *load) for (time, _), load in zip(self.runs, loads, strict=True)])

    def _loads(self, unknowns: Array) -> list[list[float]]:
        """First speed, headwind, slope, rolling resistance, drag area and rise of each run."""
        rolling, area, wind, slope, rise = unknowns[:_SHARED].tolist()
        return [
            [first, way * wind + gust, way * slope + uneven, rolling, area, rise]
            for way, (first, gust, uneven) in zip(
                self.setting.ways, unknowns[_SHARED:].reshape(-1, 3).tolist(), strict=True
            )
        ]

    def _slowed(
        self, time: Array, first: float, headwind: float, slope: float, rolling: float, area: float, rise: float
    ) -> Array:
        """Speed after a time of one run, (n,). [m/s]"""
        weight = self.setting.mass * GRAVITY
        linear = weight * rolling * rise / _HUNDRED_KMH
        constant = weight * (rolling + slope) - linear * (REFERENCE_SPEED + headwind)
        quadratic = 0.5 * self.setting.air_density * area
        return _closed_form(time, first + headwind, constant, linear, quadratic, self.setting.effective_mass) - headwind

    def _slopes(self, unknowns: Array) -> Array:
        """Change of the speeds by each unknown, (n, p)."""
        rows = []
        for index, ((time, _), load, way) in enumerate(
            zip(self.runs, self._loads(unknowns), self.setting.ways, strict=True)
        ):
            change = []
            for place, step in enumerate((1e-3, 1e-3, 1e-6, 1e-6, 1e-4, 1e-4)):
                ahead, behind = list(load), list(load)
                ahead[place] += step
                behind[place] -= step
                change.append((self._slowed(time, *ahead) - self._slowed(time, *behind)) / (2.0 * step))
            first, headwind, slope, rolling, area, rise = change
            part = np.zeros((time.size, unknowns.size))
            part[:, :_SHARED] = np.stack((rolling, area, way * headwind, way * slope, rise), axis=1)
            own = _SHARED + 3 * index
            part[:, own : own + 3] = np.stack((first, headwind, slope), axis=1)
            rows.append(part)
        return np.concatenate(rows)

    def _prior(self, stillness: float) -> Array:
        """One row for each thing known beforehand, in its standard doubts, (q, p)."""
        count = len(self.runs)
        size = _SHARED + 3 * count
        # Both ways, the day's wind shows itself and needs no tempering.
        doubts = {2: WIND * (1.0 if self.both_ways else stillness), 3: SLOPE, 4: RISE * stillness}
        for index in range(count):
            doubts[_SHARED + 3 * index + 1] = GUST * stillness
            doubts[_SHARED + 3 * index + 2] = UNEVENNESS
        rows = [np.eye(size)[place] / doubt for place, doubt in doubts.items()]
        for index, (way, gradient) in enumerate(zip(self.setting.ways, self.setting.gradients, strict=True)):
            if gradient is not None:
                rows.append((way * np.eye(size)[3] + np.eye(size)[_SHARED + 3 * index + 2]) / gradient[1])
        return np.array(rows)

    def _seen(self) -> Array:
        """What those rows came out as: nothing, or the slope by altitude, (q,)."""
        heights = [gradient[0] / gradient[1] for gradient in self.setting.gradients if gradient is not None]
        return np.concatenate((np.zeros(3 + 2 * len(self.runs)), heights))

    def restlessness(self, unknowns: Array) -> float:
        """Root mean square of the runs' own departures, in their standard doubts."""
        _, gust, uneven = unknowns[_SHARED:].reshape(-1, 3).T
        return float(np.sqrt(np.mean(np.concatenate((gust / GUST, uneven / UNEVENNESS)) ** 2)))

    def departures(self, unknowns: Array) -> Array:
        """Force of each run's own gust and unevenness at its middle speed, (n,). [N]"""
        _, gust, uneven = unknowns[_SHARED:].reshape(-1, 3).T
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


def _closed_form(time: Array, started: float, constant: float, linear: float, quadratic: float, mass: float) -> Array:
    """Speed after a time (n,) against constant + linear u + quadratic u^2, whatever the sign of 4AC - B^2."""
    square = 4.0 * constant * quadratic - linear**2
    root = float(np.sqrt(abs(square)))
    reduced = 0.5 * time * root / mass
    # Beyond 1.5 the car would have stopped long ago: no run reaches that, but a guess on the way may.
    turned = np.tan(np.minimum(reduced, 1.5)) if square > 0.0 else np.tanh(reduced)
    x = time / (2.0 * mass) if root == 0.0 else turned / root
    return np.asarray(
        (started * (1.0 - linear * x) - 2.0 * constant * x) / (1.0 + linear * x + 2.0 * quadratic * started * x)
    )
