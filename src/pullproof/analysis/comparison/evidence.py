"""What a fairness check may look at, and how it says what could explain a difference."""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from pullproof.analysis.comparison.adjustments import effects, mixture_effects
from pullproof.analysis.comparison.design import PullSet
from pullproof.analysis.comparison.priors import Effect, load_priors
from pullproof.analysis.comparison.result import MeasureDifference
from pullproof.car import Car
from pullproof.conditions import Change
from pullproof.pulls import Pull

__all__ = ["Evidence", "gather_evidence"]

WORTH_SAYING = 0.1
"""Share of the smallest difference worth having below which an amount is not mentioned."""


@dataclass(frozen=True, slots=True)
class Evidence:
    """Everything known of the two sides, differences included."""

    pulls: PullSet
    car: Car
    differences: Mapping[str, MeasureDifference]
    main: str
    refused_before: tuple[Pull, ...]
    refused_after: tuple[Pull, ...]
    changes: tuple[Change, ...]
    moments: Mapping[str, datetime.datetime]
    """When each log was started, by file, where somebody wrote it down."""
    per_unit: Mapping[str, Mapping[str, Effect]]
    """What one unit of each covariate does, by measure; `ignition` [deg] and `lambda` [0.01] included."""

    def explains(self, covariate: str, moved: float, *, unknown: bool = False) -> dict[str, float]:
        """How much of each measure's difference `moved` units of a covariate could make.

        The mean effect and one standard deviation of it, both counted in the direction of the raw difference; left
        out where that is against the difference or not worth mentioning. `unknown` says that nobody knows which way
        it moved.
        """
        found = {}
        for name, difference in self.differences.items():
            effect = self.per_unit[name].get(covariate)
            if effect is None:
                continue
            sign = -1.0 if difference.raw_difference < 0.0 else 1.0
            mean = abs(effect.mean * moved) if unknown else sign * effect.mean * moved
            size = mean + effect.doubt * abs(moved)
            if size > WORTH_SAYING * difference.smallest_worth_having:
                found[name] = sign * size
        return found

    def explains_all(self) -> dict[str, float]:
        """For what makes the sides incomparable: every difference, whole."""
        return {name: difference.difference for name, difference in self.differences.items()}


def gather_evidence(
    pulls: PullSet,
    car: Car,
    differences: Mapping[str, MeasureDifference],
    main: str,
    *,
    refused: tuple[tuple[Pull, ...], tuple[Pull, ...]],
    changes: tuple[Change, ...],
    moments: Mapping[str, datetime.datetime],
) -> Evidence:
    """Put the evidence together."""
    measures = load_priors().measures
    per_unit = {}
    for name, difference in differences.items():
        level = (abs(difference.before) + abs(difference.after)) / 2.0
        known = effects(name, measures[name], pulls.covariates.state, level)
        per_unit[name] = {**known, **mixture_effects(measures[name], level)}
    return Evidence(
        pulls=pulls,
        car=car,
        differences=MappingProxyType(dict(differences)),
        main=main,
        refused_before=refused[0],
        refused_after=refused[1],
        changes=changes,
        moments=moments,
        per_unit=per_unit,
    )
