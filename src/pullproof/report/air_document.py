"""The JSON of the air system before and after."""

from pullproof.analysis.air_system import AirComparison, AirDifference, DutyDrift, LeakSuspicion, NotCompared
from pullproof.report.json_values import Document, number, numbers

__all__ = ["air_part"]


def air_part(air: AirComparison) -> Document:
    """The key `air_system` of `pullproof.comparison/1`."""
    return {
        "quantities": [_quantity(one) for one in air.quantities],
        "measures": [one.id for one in air.measured],
        "left_out": [_left_out(one) for one in air.not_compared],
        "knock": air.knock or None,
        "leak": _leak(air.leak),
        "duty_drift": {side: _drift(one) for side, one in air.drift.items()},
    }


def _quantity(one: AirDifference) -> Document:
    curve = one.curve
    return {
        "id": one.id,
        "label": one.label,
        "unit": one.unit,
        "before": number(one.before),
        "after": number(one.after),
        "raw_difference": number(one.raw_difference),
        "adjustment": number(one.adjustment),
        "difference": number(one.difference),
        "interval": numbers(one.interval),
        "level": number(one.level),
        "range_rpm": numbers(one.range_rpm),
        "estimate": bool(one.estimate),
        "assumed": list(one.assumed),
        "pulls_before": int(one.pulls_before),
        "pulls_after": int(one.pulls_after),
        "days_before": int(one.days_before),
        "days_after": int(one.days_after),
        "doubts": list(one.doubts),
        "curve": None
        if curve is None
        else {
            name: numbers(getattr(curve, name)) for name in ("rpm", "before", "after", "difference", "lower", "upper")
        },
    }


def _left_out(one: NotCompared) -> Document:
    return {"quantity": one.id, "reason": one.reason, "advice": one.advice or None}


def _leak(leak: LeakSuspicion) -> Document:
    duty, meter, size = leak.duty, leak.meter, leak.size
    return {
        "suspicion": leak.suspicion,
        "statement": leak.statement,
        "duty_difference_pct": None if duty is None else number(duty.difference),
        "duty_interval_pct": None if duty is None else numbers(duty.interval),
        "meter_change_pct": None if meter is None else number(meter.change_pct),
        "meter_interval_pct": None if meter is None else numbers(meter.interval_pct),
        "share_of_flow_pct": None if size is None else number(size.share_pct),
        "share_interval_pct": None if size is None else numbers(size.interval_pct),
        "other_reasons": list(leak.other_reasons),
        "next_steps": list(leak.next_steps),
        "doubts": list(leak.doubts),
    }


def _drift(one: DutyDrift | NotCompared) -> Document:
    if isinstance(one, NotCompared):
        return {"suspicion": None, "statement": one.reason, "drift_pct": None, "interval_pct": None, "days": []}
    return {
        "suspicion": one.suspicion,
        "statement": one.statement,
        "drift_pct": number(one.drift),
        "interval_pct": numbers(one.interval),
        "days": list(one.days),
    }
