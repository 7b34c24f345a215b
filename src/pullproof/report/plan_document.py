"""The JSON of a plan."""

from pullproof.analysis.plan import Ceiling, Channel, Equal, Option, Plan, Scatter
from pullproof.report.json_values import Document, number, numbers

__all__ = ["plan_document"]


def plan_document(plan: Plan) -> Document:
    """`pullproof.plan/1`."""
    question, costs = plan.question, plan.costs
    return {
        "schema": "pullproof.plan/1",
        "measure": question.measure,
        "unit": question.unit,
        "effect": number(question.effect),
        "level": number(question.level),
        "chance": number(question.chance),
        "sentence": plan.sentence,
        "one_day": plan.one_day,
        "scatter": _scatter(plan.scatter),
        "costs": {
            "pull_min": number(costs.pull_min),
            "warm_up_min": number(costs.warm_up_min),
            "change_min": number(costs.change_min),
            "day_min": number(costs.day_min),
            "day_pulls": int(costs.day_pulls),
            "warming_k_per_hour": number(costs.warming_k_per_hour),
        },
        "options": [_option(option) for option in plan.options],
        "recommended": None if plan.recommended is None else plan.options.index(plan.recommended),
        "ceilings": [_ceiling(ceiling) for ceiling in plan.ceilings],
        "half_width_now": number(plan.half_width_now),
        "next_runs": [
            {
                "label": run.label,
                "pulls": int(run.pulls),
                "half_width": number(run.half_width),
                "narrower_pct": number(run.narrower_pct),
            }
            for run in plan.next_runs
        ],
        "logging": {
            "samples_per_second": number(plan.logging.samples_per_second),
            "enough": plan.logging.enough,
            "channels": [_channel(channel) for channel in plan.logging.channels],
            "doubts": list(plan.logging.doubts),
        },
        "hold_equal": [_equal(entry) for entry in plan.hold_equal],
        "heat": list(plan.heat),
        "stops": [
            {
                "key": limit.key,
                "side": limit.side,
                "value": number(limit.value),
                "unit": limit.unit,
                "origin": limit.origin,
            }
            for limit in plan.stops
        ],
        "how": plan.how,
        "assumptions": list(plan.assumptions),
        "doubts": list(plan.doubts),
        "cautions": list(plan.cautions),
    }


def _scatter(scatter: Scatter) -> Document:
    return {
        "unit": scatter.unit,
        "run": number(scatter.run),
        "run_limits": numbers(scatter.run_limits),
        "day": number(scatter.day),
        "day_limits": numbers(scatter.day_limits),
        "pulls": int(scatter.pulls),
        "days": int(scatter.days),
        "origin": scatter.origin,
    }


def _option(option: Option) -> Document:
    return {
        "order": option.order,
        "label": option.label,
        "runs": [{"state": run.state, "day": int(run.day), "at_min": number(run.at_min)} for run in option.runs],
        "pulls_before": int(option.pulls_before),
        "pulls_after": int(option.pulls_after),
        "days": int(option.days),
        "part_changes": int(option.part_changes),
        "minutes": number(option.minutes),
        "fits": option.fits,
        "chance": number(option.chance),
        "false_alarm": number(option.false_alarm),
        "half_width": number(option.half_width),
        "shows": number(option.shows),
        "drift_share": number(option.drift_share),
    }


def _ceiling(ceiling: Ceiling) -> Document:
    return {
        "order": ceiling.order,
        "label": ceiling.label,
        "pulls_a_side": int(ceiling.pulls_a_side),
        "chance": number(ceiling.chance),
        "shows": number(ceiling.shows),
        "enough": ceiling.enough,
    }


def _channel(channel: Channel) -> Document:
    return {
        "channel": channel.channel,
        "role": channel.role,
        "least_hz": number(channel.least_hz),
        "useful_hz": number(channel.useful_hz),
        "rate_hz": number(channel.rate_hz),
        "why": channel.why,
    }


def _equal(entry: Equal) -> Document:
    return {
        "what": entry.what,
        "within": number(entry.within),
        "unit": entry.unit,
        "per_unit": number(entry.per_unit),
        "per_unit_doubt": number(entry.per_unit_doubt),
        "advice": entry.advice,
    }
