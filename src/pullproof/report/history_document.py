"""The JSON of a car's history."""

from pullproof.analysis.history import (
    ChangeEffect,
    DayPoint,
    Estimate,
    History,
    MeasureHistory,
    PullPoint,
    Rank,
    Scatter,
    SeasonChange,
    Spell,
    Step,
)
from pullproof.report.documents import pull_part
from pullproof.report.json_values import Document, number, numbers

__all__ = ["history_document"]


def history_document(history: History) -> Document:
    """`pullproof.history/1`."""
    return {
        "schema": "pullproof.history/1",
        "car": history.car,
        "level": number(history.level),
        "window_rpm": numbers(history.window_rpm),
        "main": history.main,
        "sentence": history.sentence,
        "changes": [_change(change) for change in history.changes],
        "days": [
            {
                "label": day.label,
                "when": None if day.when is None else day.when.isoformat(),
                "odometer_km": number(day.odometer_km),
                "place": day.place or None,
            }
            for day in history.days
        ],
        "measures": [_measure(measure) for measure in history.measures],
        "refused": [pull_part(pull) for pull in history.refused],
        "left_out": [{"measure": left.measure, "reason": left.reason} for left in history.left_out],
        "next_steps": list(history.next_steps),
        "doubts": list(history.doubts),
        "cautions": list(history.cautions),
    }


def _change(change: SeasonChange) -> Document:
    return {
        "name": change.name,
        "kind": change.kind or None,
        "fitted": None if change.fitted is None else change.fitted.isoformat(),
        "removed": None if change.removed is None else change.removed.isoformat(),
        "again": [
            {
                "fitted": spell.fitted.isoformat(),
                "removed": None if spell.removed is None else spell.removed.isoformat(),
            }
            for spell in change.again
        ],
        "temporary": change.temporary,
        "cost": number(change.cost),
        "currency": change.currency or None,
    }


def _spell(spell: Spell) -> Document:
    removed = None if spell.removed is None else spell.removed.isoformat()
    return {"fitted": spell.fitted.isoformat(), "removed": removed}


def _measure(measure: MeasureHistory) -> Document:
    drift = measure.drift
    return {
        "id": measure.id,
        "unit": measure.unit,
        "smallest_worth_having": number(measure.smallest_worth_having),
        "better": measure.better,
        "effects": [_effect(effect) for effect in measure.effects],
        "not_known_alone": [
            {"change": unknown.change, "others": list(unknown.others), "reason": unknown.reason}
            for unknown in measure.alone_unknown
        ],
        "run_to_run": _scatter(measure.run_to_run),
        "day_to_day": _scatter(measure.day_to_day),
        "weather_swing": {
            **_estimate(measure.weather_swing),
            "lowest_day": measure.weather_days[0],
            "highest_day": measure.weather_days[1],
        },
        "trend": None
        if drift is None
        else {**_estimate(drift.rate), "per": drift.per, "doubt_before": number(drift.doubt_before)},
        "step": None if measure.step is None else _step(measure.step),
        "ranking": [_rank(entry) for entry in measure.ranking],
        "pulls": [_pull(point) for point in measure.pulls],
        "days": [_day(point) for point in measure.days],
        "doubts": list(measure.doubts),
    }


def _estimate(estimate: Estimate) -> Document:
    return {"value": number(estimate.value), "interval": numbers(estimate.interval)}


def _effect(effect: ChangeEffect) -> Document:
    explained = effect.explained
    return {
        "changes": list(effect.changes),
        "weights": numbers(effect.weights),
        "effect": _estimate(effect.effect),
        "whole": None if effect.whole is None else _estimate(effect.whole),
        "verdict": effect.verdict,
        "raw_difference": number(explained.raw),
        "weather": _estimate(explained.weather),
        "circumstances": _estimate(explained.circumstances),
        "ageing": number(explained.ageing),
        "unequal_days": number(explained.unequal),
        "by_circumstance": {name: number(amount) for name, amount in explained.by_covariate},
        "pulls_with": effect.pulls_with,
        "pulls_without": effect.pulls_without,
        "days_with": effect.days_with,
        "days_without": effect.days_without,
        "hard_to_tell_from": [
            {
                "name": alike.name,
                "correlation": number(alike.correlation),
                "together": None if alike.together is None else _estimate(alike.together),
            }
            for alike in effect.nearly_alike
        ],
        "doubts": list(effect.doubts),
    }


def _scatter(scatter: Scatter) -> Document:
    return {
        "value": number(scatter.value),
        "interval": numbers(scatter.interval),
        "usual": number(scatter.usual),
        "usual_interval": numbers(scatter.usual_interval),
    }


def _step(step: Step) -> Document:
    return {
        "after": step.after,
        "before": step.before,
        "probability": number(step.probability),
        "probability_anywhere": number(step.probability_anywhere),
        "flagged": step.flagged,
        **_estimate(step.size),
        "tested": step.tested,
        "untested": list(step.untested),
    }


def _rank(entry: Rank) -> Document:
    return {
        "changes": list(entry.changes),
        "cost": number(entry.cost),
        "currency": entry.currency or None,
        "per_hundred": _estimate(entry.per_hundred),
        "known": entry.known,
    }


def _pull(point: PullPoint) -> Document:
    return {
        "day": point.day,
        "log": point.log,
        "start_s": number(point.start_s),
        "when": None if point.when is None else point.when.isoformat(),
        "build": sorted(point.build),
        "as_driven": number(point.as_driven),
        "at_mean_conditions": number(point.at_mean_conditions),
        "censored": point.censored,
        "stands_out": point.stands_out,
    }


def _day(point: DayPoint) -> Document:
    return {
        "day": point.day,
        "when": None if point.when is None else point.when.isoformat(),
        "build": sorted(point.build),
        "pulls": point.pulls,
        "at_mean_conditions": _estimate(point.mean),
        "model": _estimate(point.model),
    }
