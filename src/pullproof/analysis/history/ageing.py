"""What happened to the car that nobody wrote down: a slow trend, or a step between two test days.

A step is tested in every gap between test days in which no change takes its place. Each gap's model has one more
column with a wide prior; how much more probable it makes the data than no step follows from prior and posterior
density of the step at zero, because without a step the two models are the same.

Source of that ratio: Dickey, Annals of Mathematical Statistics 42 (1971) 204-223.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.model import STEP_REACH, Fitted, fit_season
from pullproof.analysis.history.result import Drift, Step
from pullproof.stats.mixture import NormalMixture

__all__ = ["FLAGGED", "drift_of", "look_for_step"]

STEP_BEFORE = 0.05
"""Probability, before any pull is read, that a measure took a step in one of the gaps. Common practice, no source."""

FLAGGED = 0.9
"""Probability from which a step is named. By Markov's inequality a season without one is then flagged by one measure
with a probability of at most (1 - 0.9) / 0.9 * 0.05 / 0.95 = 0.6 %, however many gaps were looked at."""

INSIDE = 1e-6
LEAST_DAYS = 4
"""Fewer show no step that could be told from scatter between days."""


@dataclass(frozen=True, slots=True)
class _Gap:
    """Between two test days, with the step fitted there."""

    first_late: int
    with_step: Fitted
    odds: float
    """Probability of the data with a step here over that without any."""


def drift_of(fitted: Fitted) -> Drift | None:
    """The slow trend; None where the season is too short for one."""
    design = fitted.design
    if design.clock is None or design.drift_at is None:
        return None
    contrast = np.zeros(design.matrix.shape[1])
    contrast[design.drift_at] = 1.0
    return Drift(design.clock.per, fitted.estimate(contrast), float(design.prior_deviation[design.drift_at]))


def look_for_step(fitted: Fitted, pulls: SeasonPulls) -> tuple[Step | None, Fitted]:
    """The most probable step, and the fit to report effects from: with the step's column where it is flagged."""
    day = pulls.day[fitted.readings.rows]
    present = np.unique(day)
    if len(present) < LEAST_DAYS:
        return None, fitted
    prior = load_priors().measures[fitted.readings.measure]
    doubt = STEP_REACH * prior.in_unit(prior.day.median, fitted.readings.typical)
    gaps, untested = [], []
    for before, after in pairwise(present):
        late = day >= after
        if _taken(fitted, late):
            untested.append(f"{pulls.days[before].label} to {pulls.days[after].label}")
            continue
        stepped = fit_season(fitted.readings, fitted.design.with_step(late, doubt), fitted.level)
        gaps.append(_Gap(int(after), stepped, _odds(stepped, doubt)))
    if not gaps:
        return None, fitted
    odds = STEP_BEFORE / (1.0 - STEP_BEFORE) / len(gaps) * np.array([gap.odds for gap in gaps])
    probability = odds / (1.0 + odds.sum())
    best = int(np.argmax(probability))
    gap, anywhere = gaps[best], float(probability.sum())
    flagged = anywhere >= FLAGGED
    contrast = np.zeros(gap.with_step.design.matrix.shape[1])
    contrast[-1] = 1.0
    earlier = present[np.searchsorted(present, gap.first_late) - 1]
    step = Step(
        after=pulls.days[earlier].label,
        before=pulls.days[gap.first_late].label,
        probability=float(probability[best]),
        probability_anywhere=anywhere,
        flagged=flagged,
        size=gap.with_step.estimate(contrast),
        tested=len(gaps),
        untested=tuple(untested),
    )
    return step, gap.with_step if flagged else fitted


def _taken(fitted: Fitted, late: NDArray[np.bool_]) -> bool:
    """Whether the builds alone can make this step, so that nothing is left of it to see."""
    flat, step = fitted.design.flat, late.astype(float)
    left = step - flat @ (np.linalg.pinv(flat) @ step)
    return bool(np.linalg.norm(left) < INSIDE * np.linalg.norm(step))


def _odds(stepped: Fitted, doubt: float) -> float:
    """Prior over posterior density of the step at zero."""
    contrast = np.zeros(stepped.design.matrix.shape[1])
    contrast[-1] = 1.0
    at_zero = _density_at_zero(stepped.posterior.contrast(contrast))
    before = 1.0 / (np.sqrt(2.0 * np.pi) * doubt)
    return float(before / max(at_zero, np.finfo(float).tiny))


def _density_at_zero(mixture: NormalMixture) -> float:
    z = mixture.means / mixture.deviations
    density = np.exp(-0.5 * z * z) / (np.sqrt(2.0 * np.pi) * mixture.deviations)
    return float(np.sum(mixture.weights * density))
