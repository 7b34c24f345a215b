"""What a change of pipe should have done, beside what was measured: do the two agree?

The prediction comes from handbooks and the car's own flow before the change, the measurement from the comparison.
Their difference has an interval made of both doubts, which are taken as independent. An interval that holds zero is
agreement only where it is narrow enough to show a disagreement: no wider, either way, than the predicted effect or
than the smallest difference worth having.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist
from typing import Literal

import numpy as np

from pullproof.analysis.air_system import AirComparison
from pullproof.analysis.airpath import AirPath, Effect, PathComparison, compare_paths, flow_from_logs
from pullproof.analysis.comparison.result import Comparison, MeasureDifference
from pullproof.car import Car
from pullproof.computed_channels import PullRecord

__all__ = ["Agreement", "NotPredicted", "PathPrediction", "predict"]

Judgement = Literal["agree", "differ", "unclear"]

TARGET_HELD = 1.0
"""Mean boost that a controller with room left may miss its target by, 95 % [kPa]. Common practice, no source."""

LOSS = "charge_path_loss.mean"
"""The loss of the path itself, which only a sensor behind the compressor shows."""

AT_MOST = ("boost.reaches",)
"""Predicted from the extra volume alone, so that an earlier boost than predicted contradicts nothing."""


@dataclass(frozen=True, slots=True)
class Agreement:
    """One measure, predicted and measured, after minus before; all in `unit`."""

    id: str
    unit: str
    predicted: float
    predicted_interval: tuple[float, float]
    measured: float
    measured_interval: tuple[float, float]
    gap: float
    """Measured minus predicted."""
    gap_interval: tuple[float, float]
    level: float
    judgement: Judgement
    basis: str


@dataclass(frozen=True, slots=True)
class NotPredicted:
    """A measure that cannot be set beside a prediction, and why."""

    measure: str
    reason: str


@dataclass(frozen=True, slots=True)
class PathPrediction:
    """What the two paths predict, and how that agrees with the comparison."""

    paths: PathComparison
    agreements: tuple[Agreement, ...]
    left_out: tuple[NotPredicted, ...]
    sentence: str


def predict(
    comparison: Comparison,
    before: AirPath,
    after: AirPath,
    records: Sequence[PullRecord],
    car: Car,
    air: AirComparison | None = None,
) -> PathPrediction:
    """Set what the paths should do beside what the logs say was done.

    Parameters
    ----------
    comparison : Comparison
        What was measured.
    before, after : AirPath
        Path that was fitted before, and after.
    records : sequence of PullRecord
        Used pulls from before the change: they show the car's own flow.
    car : Car
        The car sheet.
    air : AirComparison, optional
        Holds the loss itself where a sensor behind the compressor shows it.

    Raises
    ------
    CannotAnswer
        The logs do not show the flow, or the air is too fast for the handbooks.
    """
    flow = flow_from_logs(records, car)
    paths = compare_paths(before, after, flow, level=comparison.level)
    agreements, left_out = _of_the_loss(paths, air), []
    for measure, effect in _expected(paths, comparison):
        found = _found(comparison, measure)
        reason = _missing(comparison, measure, found)
        if found is None or reason:
            left_out.append(NotPredicted(measure, reason))
        else:
            agreements.append(_agreement(found, effect))
    return PathPrediction(paths, tuple(agreements), tuple(left_out), _sentence(agreements))


def _of_the_loss(paths: PathComparison, air: AirComparison | None) -> list[Agreement]:
    """The loss between compressor and charge pressure sensor, where both pressures were measured."""
    found = next((one for one in air.quantities if one.id == "cooler_loss"), None) if air else None
    if found is None or found.estimate:
        return []
    saved = paths.mean_saved
    predicted = _at_level(
        Effect("kPa", -saved.estimate, (-saved.interval[1], -saved.interval[0]), saved.level, saved.basis), found.level
    )
    gap, interval = _gap(found.difference, found.interval, -saved.estimate, predicted)
    return [
        Agreement(
            id=LOSS,
            unit="kPa",
            predicted=-saved.estimate,
            predicted_interval=predicted,
            measured=found.difference,
            measured_interval=found.interval,
            gap=gap,
            gap_interval=interval,
            level=found.level,
            judgement=_judged(gap, interval, abs(saved.estimate), at_most=False),
            basis="loss of the path, element by element, beside the pressures on both sides of it",
        )
    ]


def _held_shut(comparison: Comparison) -> bool:
    """The wastegate cannot answer, so the part shows as boost: its duty is pinned on both sides."""
    return any(one.censored for one in comparison.measures if one.id == "wastegate_duty.mean")


def _expected(paths: PathComparison, comparison: Comparison) -> list[tuple[str, Effect]]:
    """Measure and predicted effect, after minus before."""
    return [
        ("wastegate_duty.mean", paths.wastegate_duty_change),
        ("boost.mean", _boost(paths, held_shut=_held_shut(comparison))),
        ("charge_pressure_drop.mean", _drop(paths, _found(comparison, "charge_pressure_drop.mean"))),
        ("boost.reaches", paths.spool_delay_rpm),
    ]


def _boost(paths: PathComparison, *, held_shut: bool) -> Effect:
    gained = paths.mean_charge_pressure_gain
    if held_shut:
        basis = "wastegate held shut, equal compressor power"
        return Effect("kPa", gained.estimate, gained.interval, gained.level, basis)
    reach = TARGET_HELD * NormalDist().inv_cdf(0.5 + 0.5 * gained.level) / NormalDist().inv_cdf(0.975)
    basis = f"boost control holds its target within {TARGET_HELD:g} kPa while the gate has room (common practice)"
    return Effect("kPa", 0.0, (-reach, reach), gained.level, basis)


def _drop(paths: PathComparison, found: MeasureDifference | None) -> Effect:
    """Charge pressure less manifold pressure: it holds the path's loss only where the first sensor sits before it.

    Where it sits is told by how much the two readings differed before the change, not by how that changed.
    """
    saved, inside = paths.mean_saved, paths.before.flow.inside
    lost = float(np.nanmean(paths.before.total.estimate[inside]))
    shown = float("nan") if found is None else found.before
    readings = f"the two readings differed by {shown:.1f} kPa before, and the path alone loses {lost:.1f} kPa"
    if shown < 0.5 * lost:
        basis = f"{readings}: the charge pressure sensor sits behind the path and does not see it"
        return Effect("kPa", 0.0, (0.0, 0.0), saved.level, basis)
    low, high = saved.interval
    basis = f"{readings}: the charge pressure sensor is taken to sit before the path"
    return Effect("kPa", -saved.estimate, (-high, -low), saved.level, basis)


def _found(comparison: Comparison, measure: str) -> MeasureDifference | None:
    return next((one for one in comparison.measures if one.id == measure), None)


def _missing(comparison: Comparison, measure: str, found: MeasureDifference | None) -> str:
    if found is None:
        return next((left.reason for left in comparison.left_out if left.measure == measure), "not measured")
    if found.censored:
        return "pinned at its limit: it cannot show what is predicted"
    if not np.all(np.isfinite([found.difference, *found.interval])):
        return "no interval was found"
    return ""


def _agreement(found: MeasureDifference, effect: Effect) -> Agreement:
    predicted = _at_level(effect, found.level)
    gap, interval = _gap(found.difference, found.interval, effect.estimate, predicted)
    return Agreement(
        id=found.id,
        unit=found.unit,
        predicted=effect.estimate,
        predicted_interval=predicted,
        measured=found.difference,
        measured_interval=found.interval,
        gap=gap,
        gap_interval=interval,
        level=found.level,
        judgement=_judged(gap, interval, max(abs(effect.estimate), _worth(found)), at_most=found.id in AT_MOST),
        basis=effect.basis,
    )


def _gap(
    measured: float, measured_interval: tuple[float, float], predicted: float, predicted_interval: tuple[float, float]
) -> tuple[float, tuple[float, float]]:
    """Measured less predicted, with the interval that two independent doubts give."""
    gap = measured - predicted
    low = gap - float(np.hypot(measured - measured_interval[0], predicted_interval[1] - predicted))
    return gap, (low, gap + float(np.hypot(measured_interval[1] - measured, predicted - predicted_interval[0])))


def _at_level(effect: Effect, level: float) -> tuple[float, float]:
    """The interval of a prediction at another level, by the normal distribution."""
    ratio = NormalDist().inv_cdf(0.5 + 0.5 * level) / NormalDist().inv_cdf(0.5 + 0.5 * effect.level)
    low, high = effect.interval
    return effect.estimate + ratio * (low - effect.estimate), effect.estimate + ratio * (high - effect.estimate)


def _worth(found: MeasureDifference) -> float:
    worth = found.smallest_worth_having
    return worth if np.isfinite(worth) else 0.0


def _judged(gap: float, interval: tuple[float, float], telling: float, *, at_most: bool) -> Judgement:
    low, high = interval
    if at_most and high < 0.0:
        return "unclear"
    if not low <= 0.0 <= high:
        return "differ"
    return "agree" if max(high - gap, gap - low) <= telling else "unclear"


def _sentence(agreements: Sequence[Agreement]) -> str:
    """How many agree, in one sentence."""
    counts = {word: sum(one.judgement == word for one in agreements) for word in ("agree", "differ", "unclear")}
    if not agreements:
        return "Nothing that the paths predict was measured."
    total = len(agreements)
    if counts["differ"]:
        return (
            f"Measurement and prediction differ in {counts['differ']} of {total} measures: the path files, the flow or "
            "something else that was changed does not fit."
        )
    if counts["unclear"] == total:
        return "Measurement and prediction do not contradict each other, but the intervals are too wide to tell."
    return f"Measurement and prediction agree in {counts['agree']} of {total} measures and differ in none."
