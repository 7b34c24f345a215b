"""What else could explain the difference: every check, in the order in which a sceptic would ask."""

from collections.abc import Callable, Sequence
from functools import partial

from pullproof.analysis.comparison import circumstances
from pullproof.analysis.comparison.evidence import Evidence
from pullproof.analysis.comparison.quantities import QUANTITIES, check_quantity
from pullproof.analysis.comparison.result import FairnessCheck, MeasureDifference

__all__ = ["CHECKS", "check_fairness", "concealments", "explanations"]

CHECKS: dict[str, Callable[[Evidence], FairnessCheck]] = {
    "pulls_and_days": circumstances.pulls_and_days,
    "several_changes": circumstances.several_changes,
    "gear": circumstances.gear,
    "wastegate_saturated": circumstances.wastegate_saturated,
    **{quantity.id: partial(check_quantity, quantity) for quantity in QUANTITIES},
    "logging_rate": circumstances.logging_rate,
    "direction": circumstances.direction,
    "order": circumstances.order,
    "refused_one_side": circumstances.refused_one_side,
}
"""Checks by their stable id."""

WITHOUT_TURBO = frozenset({"boost_matched", "boost_on_target", "wastegate_saturated"})


def check_fairness(evidence: Evidence) -> tuple[FairnessCheck, ...]:
    """All checks that make sense for the car."""
    left_out = WITHOUT_TURBO if evidence.car.engine.aspiration == "none" else frozenset()
    return tuple(check(evidence) for name, check in CHECKS.items() if name not in left_out)


def explanations(difference: MeasureDifference, checks: Sequence[FairnessCheck]) -> tuple[FairnessCheck, ...]:
    """Failed checks that the model has not accounted for and that could make the whole difference."""
    return tuple(
        check
        for check in checks
        if check.status == "fail"
        and not check.accounted_for
        and check.could_explain.get(difference.id, 0.0) * difference.difference > 0.0
        and abs(check.could_explain[difference.id]) >= abs(difference.difference)
    )


def concealments(difference: MeasureDifference, checks: Sequence[FairnessCheck]) -> tuple[FairnessCheck, ...]:
    """Failed checks that the model has not accounted for and behind which a difference worth having could hide."""
    return tuple(
        check
        for check in checks
        if check.status == "fail"
        and not check.accounted_for
        and (check.incomparable or abs(check.could_explain.get(difference.id, 0.0)) >= difference.smallest_worth_having)
    )
