"""Which changes the test days can tell apart, which only together, and which hardly; and why, in words."""

import datetime
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.model import Fitted
from pullproof.analysis.history.result import AloneUnknown, NearlyAlike
from pullproof.analysis.history.season import SeasonChange
from pullproof.arrays import Array

__all__ = ["alone_unknown", "combinations", "known_alone", "nearly_alike"]

HARDLY = 0.8
"""Posterior correlation, either way, from which two effects are called hard to tell apart."""

TREND = "slow trend"
STEP = "step without a change"


def known_alone(fitted: Fitted) -> list[int]:
    """Changes whose own effect the pulls tell, by their place."""
    count = fitted.design.changes
    return [place for place in range(count) if fitted.knows(fitted.design.of_changes(np.eye(count)[place]))]


def combinations(fitted: Fitted) -> list[Array]:
    """What is known of the other changes: weights over all changes, each (changes,).

    From one build to the next the difference of the two is known. What is left of it once the changes that are known
    alone are taken out is a combination of the others: both together, or one in exchange for another.
    """
    alone = known_alone(fitted)
    builds = fitted.design.matrix[:, 1 : 1 + fitted.design.changes]
    found: list[Array] = []
    for earlier, later in pairwise(builds):
        weights = later - earlier
        weights[alone] = 0.0
        # The one fitted last counts positive, or the first of the list where some were only removed.
        if not np.any(weights > 0.0):
            weights = -weights
        if not np.any(weights) or not fitted.knows(fitted.design.of_changes(weights)):
            continue
        if np.linalg.matrix_rank(np.array([*found, weights])) > len(found):
            found.append(weights)
    return found


def alone_unknown(fitted: Fitted, pulls: SeasonPulls, joint: Sequence[Array]) -> tuple[AloneUnknown, ...]:
    """The changes that are not known alone, each with its reason."""
    alone = known_alone(fitted)
    on = fitted.design.matrix[:, 1 : 1 + fitted.design.changes].astype(bool)
    names = [change.name for change in pulls.changes]
    unknown = []
    for place, change in enumerate(pulls.changes):
        if place in alone:
            continue
        others = tuple(
            names[other]
            for other in range(len(names))
            if other != place and any(weights[place] and weights[other] for weights in joint)
        )
        unknown.append(AloneUnknown(change.name, others, _reason(place, on, pulls.changes, others)))
    return tuple(unknown)


def _reason(place: int, on: NDArray[np.bool_], changes: Sequence[SeasonChange], others: tuple[str, ...]) -> str:
    own, change = on[:, place], changes[place]
    if own.all():
        when = f", fitted {_date(change.fitted)}," if change.fitted else ""
        return f"it was on the car{when} in every pull that counts: there is nothing to compare it with"
    if not own.any():
        return "it was on the car in no pull that counts"
    twins = [other for other in range(len(changes)) if other != place and np.array_equal(on[:, other], own)]
    if twins:
        return _same_pulls(change, [changes[twin] for twin in twins])
    opposite = [other for other in range(len(changes)) if np.array_equal(on[:, other], ~own)]
    if opposite:
        names = " and ".join(changes[other].name for other in opposite)
        return f"it was exchanged for {names}: no pull was made with neither or with both"
    if others:
        return f"it was never on the car without one or another of {', '.join(others)}: only combinations are known"
    return "the builds that were driven leave it open"


def _same_pulls(change: SeasonChange, twins: Sequence[SeasonChange]) -> str:
    names = " and ".join(twin.name for twin in twins)
    dates = {one.fitted.date() for one in (change, *twins) if one.fitted is not None}
    if len(dates) == 1:
        return f"it cannot be told apart from {names}: both were fitted {_date(change.fitted)}"
    return f"it cannot be told apart from {names}: no pull was made with one and without the other"


def _date(moment: datetime.datetime | None) -> str:
    return "on a day that nobody wrote down" if moment is None else f"on {moment.day} {moment:%B %Y}"


def nearly_alike(fitted: Fitted, pulls: SeasonPulls, contrast: Array, own: Sequence[int]) -> tuple[NearlyAlike, ...]:
    """What an effect can hardly be told from: other changes, circumstances, the trend.

    Parameters
    ----------
    fitted : Fitted
    pulls : SeasonPulls
    contrast : (p,)
        The effect.
    own : sequence of int
        Changes that are part of it.
    """
    design = fitted.design
    count, labels = design.changes, load_priors().covariates
    rivals: list[tuple[str, int, bool]] = [
        (pulls.changes[place].name, 1 + place, True) for place in known_alone(fitted) if place not in own
    ]
    rivals += [(labels[role].label, 1 + count + k, False) for k, role in enumerate(design.acts_as)]
    rivals += [(TREND, design.drift_at, False)] if design.drift_at is not None else []
    rivals += [(STEP, design.step_at, False)] if design.step_at is not None else []
    found = []
    for name, column, is_change in rivals:
        rival = np.zeros_like(contrast)
        rival[column] = 1.0
        correlation = _correlation(fitted, contrast, rival)
        if abs(correlation) >= HARDLY:
            together = fitted.estimate(contrast + rival) if is_change else None
            found.append(NearlyAlike(name, correlation, together))
    return tuple(sorted(found, key=lambda alike: -abs(alike.correlation)))


def _correlation(fitted: Fitted, one: Array, other: Array) -> float:
    first, second, both = (
        float(fitted.posterior.contrast(contrast).deviation()[0]) ** 2 for contrast in (one, other, one + other)
    )
    return float((both - first - second) / (2.0 * np.sqrt(first * second)))
