"""What happened to the car that nobody wrote down: a slow trend, or a step between two test days.

A step is tested in every gap between test days in which no change takes its place; see `step_odds`.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.model import STEP_REACH, Fitted, fit_season
from pullproof.analysis.history.result import Drift, Step
from pullproof.analysis.history.step_odds import step_odds

__all__ = ["FLAGGED", "drift_of", "look_for_step"]

STEP_BEFORE = 0.2
"""Probability, before any pull is read, that a measure took a step in one of the gaps. Common practice, no source."""

FLAGGED = 0.8
"""Probability from which a step is named. Chosen with the one above on seasons drawn from the model, so that of
seasons without a step one measure flags 1 in 500 and all measures together fewer than 1 in 20: `docs/history.md`. By
Markov's inequality no design can make it more than (1 - 0.8) / 0.8 * 0.2 / 0.8 = 6 % for one measure."""

INSIDE = 1e-6
LEAST_DAYS = 4
"""Fewer show no step that could be told from scatter between days."""


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
        if _taken(fitted, day >= after):
            untested.append(f"{pulls.days[before].label} to {pulls.days[after].label}")
        else:
            gaps.append((int(before), int(after)))
    if not gaps:
        return None, fitted
    steps = np.column_stack([(day >= after).astype(float) for _, after in gaps])
    odds = STEP_BEFORE / (1.0 - STEP_BEFORE) / len(gaps) * step_odds(fitted, steps, doubt)
    probability = odds / (1.0 + odds.sum())
    best = int(np.argmax(probability))
    before, after = gaps[best]
    with_step = fit_season(fitted.readings, fitted.design.with_step(day >= after, doubt), fitted.level)
    contrast = np.zeros(with_step.design.matrix.shape[1])
    contrast[-1] = 1.0
    anywhere = float(probability.sum())
    flagged = anywhere >= FLAGGED
    step = Step(
        after=pulls.days[before].label,
        before=pulls.days[after].label,
        probability=float(probability[best]),
        probability_anywhere=anywhere,
        flagged=flagged,
        size=with_step.estimate(contrast),
        tested=len(gaps),
        untested=tuple(untested),
    )
    return step, with_step if flagged else fitted


def _taken(fitted: Fitted, late: NDArray[np.bool_]) -> bool:
    """Whether the builds alone can make this step, so that nothing is left of it to see."""
    flat, step = fitted.design.flat, late.astype(float)
    left = step - flat @ (np.linalg.pinv(flat) @ step)
    return bool(np.linalg.norm(left) < INSIDE * np.linalg.norm(step))
