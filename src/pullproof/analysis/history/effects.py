"""Effect of every change on one measure, and what lies between it and the difference as driven."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.result import Verdict
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.model import Fitted, estimate_of
from pullproof.analysis.history.result import ChangeEffect, Estimate, Explained
from pullproof.analysis.history.together import combinations, known_alone, nearly_alike
from pullproof.arrays import Array
from pullproof.stats.mixture import NormalMixture

__all__ = ["BoostEffects", "change_effects", "joint_weights"]

WEATHER = ("air_temperature", "air_pressure", "humidity")


@dataclass(frozen=True, slots=True)
class BoostEffects:
    """What changes did to mean boost, from a fit of that measure: it carries a part of what they did to others."""

    fitted: Fitted

    def of(self, weights: Array) -> tuple[float, float] | None:
        """Mean and standard deviation for a combination of changes, (changes,) [kPa]; None where it is not known."""
        contrast = self.fitted.design.of_changes(weights)
        if not self.fitted.knows(contrast):
            return None
        mixture = self.fitted.posterior.contrast(contrast)
        return float(mixture.mean()[0]), float(mixture.deviation()[0])


def joint_weights(fitted: Fitted) -> list[Array]:
    """Every effect that is known: each change alone where it is, then combinations. Weights over changes."""
    alone = np.eye(fitted.design.changes)[known_alone(fitted)]
    return [*alone, *combinations(fitted)]


def change_effects(fitted: Fitted, pulls: SeasonPulls, boost: BoostEffects | None) -> tuple[ChangeEffect, ...]:
    """All effects on one measure, in the order in which the changes were made."""
    found = [_effect(fitted, pulls, weights, boost) for weights in joint_weights(fitted)]
    order = {change.name: number for number, change in enumerate(pulls.changes)}
    return tuple(sorted(found, key=lambda effect: order[effect.changes[0]]))


def _effect(fitted: Fitted, pulls: SeasonPulls, weights: Array, boost: BoostEffects | None) -> ChangeEffect:
    places = np.flatnonzero(weights)
    contrast = fitted.design.of_changes(weights)
    effect = fitted.estimate(contrast)
    whole = _whole(fitted, weights, boost)
    first = places[np.argmax(weights[places])]
    with_it = fitted.design.matrix[:, 1 + first] > 0.5
    group, censored = fitted.design.group, fitted.readings.censored
    return ChangeEffect(
        changes=tuple(pulls.changes[place].name for place in places),
        weights=tuple(float(weights[place]) for place in places),
        effect=effect,
        whole=whole,
        verdict=_verdict(effect.interval, _smallest(fitted), censored),
        explained=_explained(fitted, contrast, effect.value),
        pulls_with=int(np.count_nonzero(with_it)),
        pulls_without=int(np.count_nonzero(~with_it)),
        days_with=len(np.unique(group[with_it])),
        days_without=len(np.unique(group[~with_it])),
        nearly_alike=nearly_alike(fitted, pulls, contrast, places.tolist()),
        doubts=_censoring(with_it, censored),
    )


def _smallest(fitted: Fitted) -> float:
    prior = load_priors().measures[fitted.readings.measure]
    return prior.in_unit(prior.smallest, fitted.readings.typical)


def _verdict(interval: tuple[float, float], smallest: float, censored: NDArray[np.bool_]) -> Verdict:
    """The contract's rule, as for a comparison; what sat at its stop in some pulls proves no sameness."""
    lower, upper = interval
    if upper < 0.0:
        return "lower"
    if lower > 0.0:
        return "higher"
    return "same" if -smallest <= lower and upper <= smallest and not censored.any() else "unclear"


def _censoring(with_it: NDArray[np.bool_], censored: NDArray[np.bool_]) -> tuple[str, ...]:
    if not censored.any():
        return ()
    late, early = censored[with_it], censored[~with_it]
    where = f"at the stop in {late.sum()} of {len(late)} pulls with it and {early.sum()} of {len(early)} without"
    return (f"{where}: what lies beyond the stop is not seen",)


def _whole(fitted: Fitted, weights: Array, boost: BoostEffects | None) -> Estimate | None:
    """The effect with its part by way of boost: one kilopascal's effect times what the change did to boost.

    The doubt in the change's effect on boost is added at the mean effect of a kilopascal.
    """
    design = fitted.design
    if boost is None or "boost" not in design.acts_as:
        return None
    moved = boost.of(weights)
    if moved is None:
        return None
    column = design.circumstances.start + design.acts_as.index("boost")
    contrast = design.of_changes(weights)
    contrast[column] = moved[0]
    mixture = fitted.posterior.contrast(contrast)
    per_kpa = float(fitted.posterior.coefficient_means()[column, 0])
    wider = np.hypot(mixture.deviations, per_kpa * moved[1])
    return estimate_of(NormalMixture(mixture.weights, mixture.means, wider), fitted.level)


def _explained(fitted: Fitted, contrast: Array, effect: float) -> Explained:
    """Take the difference as driven apart. Its weights over pulls tell what else moved with the change."""
    design = fitted.design
    flat = contrast[: 1 + design.changes]
    over_pulls = flat @ np.linalg.pinv(design.flat)
    raw = float(over_pulls @ fitted.readings.values)
    moved = over_pulls @ design.matrix
    per_unit = fitted.posterior.coefficient_means()[:, 0]
    weather = _only(design.acts_as, moved, design.circumstances.start, weather=True)
    others = _only(design.acts_as, moved, design.circumstances.start, weather=False)
    rest = np.zeros_like(moved)
    rest[design.circumstances.stop :] = moved[design.circumstances.stop :]
    parts = [fitted.estimate(weather), fitted.estimate(others)]
    ageing = float(rest @ per_unit)
    shares = zip(design.acts_as, (moved * per_unit)[design.circumstances], strict=True)
    return Explained(
        raw=raw,
        weather=parts[0],
        circumstances=parts[1],
        ageing=ageing,
        unequal=raw - parts[0].value - parts[1].value - ageing - effect,
        by_covariate=tuple((name, float(amount)) for name, amount in shares),
    )


def _only(roles: Sequence[str], moved: Array, first: int, *, weather: bool) -> Array:
    """The part of `moved` that belongs to weather, or to the other circumstances."""
    part = np.zeros_like(moved)
    for number, role in enumerate(roles):
        if (role in WEATHER) == weather:
            part[first + number] = moved[first + number]
    return part
