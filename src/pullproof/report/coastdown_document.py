"""The JSON of coast-downs."""

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.coastdown import CoastDown, Estimate, Run
from pullproof.report.json_values import Document, number, numbers

__all__ = ["coastdown_document"]


def coastdown_document(result: CoastDown) -> Document:
    """`pullproof.coastdown/1`."""
    return {
        "schema": "pullproof.coastdown/1",
        "rolling_resistance": _estimate(result.rolling_resistance),
        "drag_area_m2": _estimate(result.drag_area_m2),
        "correlation": number(result.correlation),
        "rolling_resistance_at_20_c": number(result.rolling_resistance_at_20_c),
        "constant_force_n": number(result.constant_force_n),
        "quadratic_force_n": number(result.quadratic_force_n),
        "wind_m_s": number(result.wind_m_s),
        "gradient": number(result.gradient),
        "speed_range_kmh": numbers(result.speed_range_kmh),
        "runs": [_run(run) for run in result.runs],
        "checks": [
            {"id": check.id, "status": check.status, "detail": check.detail, "source": check.source}
            for check in result.checks
        ],
        "inputs": [
            {
                "name": given.name,
                "value": number(given.value),
                "doubt": number(given.doubt),
                "unit": given.unit,
                "origin": given.origin,
            }
            for given in result.inputs
        ],
        "doubts": list(result.doubts),
        "cautions": list(CAUTIONS),
    }


def _estimate(estimate: Estimate) -> Document:
    return {
        "value": number(estimate.value),
        "interval": [number(estimate.lower), number(estimate.upper)],
        "level": number(estimate.level),
    }


def _run(run: Run) -> Document:
    return {
        "log": run.log,
        "start_s": number(run.start_s),
        "direction": run.direction,
        "duration_s": number(float(run.time[-1] - run.time[0])),
        "speed_start_kmh": number(3.6 * float(run.speed[0])),
        "speed_end_kmh": number(3.6 * float(run.speed[-1])),
        "used": bool(run.used),
        "reason": run.reason or None,
    }
