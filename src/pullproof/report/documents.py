"""The JSON that other people's scripts rely on: key names and units are part of the contract.

Each document has a JSON schema (draft 2020-12) in `schemas/`, shipped with the package. A value that is not known
is null, never NaN: NaN is not JSON.
"""

import importlib.resources
import json
import math
from collections.abc import Iterable, Sequence
from typing import Any

from pullproof.analysis.comparison.result import Comparison, CurveDifference, FairnessCheck, MeasureDifference
from pullproof.errors import WrongUse
from pullproof.pulls import Pull
from pullproof.reading.log import Column, Log

__all__ = ["SCHEMAS", "comparison_document", "pulls_document", "read_document", "schema"]

Document = dict[str, Any]

SCHEMAS = ("comparison", "power", "pulls", "read")
"""Names that `schema` knows."""


def schema(name: str) -> Document:
    """The JSON schema of a document, one of `SCHEMAS`.

    Raises
    ------
    WrongUse
        There is no schema of that name.
    """
    if name not in SCHEMAS:
        raise WrongUse(f'there is no JSON schema "{name}"', advice=f"Schemas: {', '.join(SCHEMAS)}.")
    text = importlib.resources.files("pullproof.report").joinpath("schemas", f"{name}.schema.json").read_text("utf-8")
    document: Document = json.loads(text)
    return document


def comparison_document(comparison: Comparison) -> Document:
    """`pullproof.comparison/1`."""
    return {
        "schema": "pullproof.comparison/1",
        "window_rpm": _numbers(comparison.window_rpm),
        "main": comparison.main,
        "sentence": comparison.sentence,
        "before": {"pulls": [_pull(pull) for pull in comparison.before]},
        "after": {"pulls": [_pull(pull) for pull in comparison.after]},
        "measures": [_measure(measure) for measure in comparison.measures],
        "curves": [_curve(curve) for curve in comparison.curves],
        "checks": [_check(check) for check in comparison.checks],
        "left_out": [{"measure": left.measure, "reason": left.reason} for left in comparison.left_out],
        "cautions": list(comparison.cautions),
    }


def pulls_document(logs: Iterable[tuple[str, Sequence[Pull]]]) -> Document:
    """`pullproof.pulls/1`, from base names of logs and the pulls found in each."""
    return {
        "schema": "pullproof.pulls/1",
        "logs": [{"file": file, "pulls": [_pull(pull) for pull in pulls]} for file, pulls in logs],
    }


def read_document(logs: Iterable[Log]) -> Document:
    """`pullproof.read/1`."""
    return {
        "schema": "pullproof.read/1",
        "logs": [
            {
                "file": log.file,
                "rows": int(log.rows),
                "duration_s": _number(log.duration_s),
                "encoding": log.encoding,
                "delimiter": log.delimiter,
                "decimal": log.decimal,
                "columns": [_column(column) for column in log.columns],
                "notes": list(log.notes),
            }
            for log in logs
        ],
    }


def _number(value: float | None) -> float | None:
    return float(value) if value is not None and math.isfinite(value) else None


def _numbers(values: Iterable[float]) -> list[float | None]:
    return [_number(value) for value in values]


def _pull(pull: Pull) -> Document:
    return {
        "log": pull.log,
        "start_s": _number(pull.start_s),
        "end_s": _number(pull.end_s),
        "gear": None if pull.gear is None else int(pull.gear),
        "rpm_start": _number(pull.rpm_start),
        "rpm_end": _number(pull.rpm_end),
        "used": bool(pull.used),
        "reason": pull.reason,
    }


def _measure(measure: MeasureDifference) -> Document:
    return {
        "id": measure.id,
        "unit": measure.unit,
        "before": _number(measure.before),
        "after": _number(measure.after),
        "raw_difference": _number(measure.raw_difference),
        "adjustment": _number(measure.adjustment),
        "difference": _number(measure.difference),
        "interval": _numbers(measure.interval),
        "level": _number(measure.level),
        "smallest_worth_having": _number(measure.smallest_worth_having),
        "verdict": measure.verdict,
        "pulls_before": int(measure.pulls_before),
        "pulls_after": int(measure.pulls_after),
        "days_before": int(measure.days_before),
        "days_after": int(measure.days_after),
        "censored": bool(measure.censored),
    }


def _curve(curve: CurveDifference) -> Document:
    return {
        "channel": curve.channel,
        "unit": curve.unit,
        "rpm": _numbers(curve.rpm),
        "before": _numbers(curve.before),
        "after": _numbers(curve.after),
        "difference": _numbers(curve.difference),
        "lower": _numbers(curve.lower),
        "upper": _numbers(curve.upper),
    }


def _check(check: FairnessCheck) -> Document:
    return {
        "id": check.id,
        "status": check.status,
        "detail": check.detail,
        "could_explain": {measure: _number(amount) for measure, amount in check.could_explain.items()},
    }


def _column(column: Column) -> Document:
    return {
        "header": column.header,
        "channel": column.channel,
        "unit": column.unit,
        "confidence": _number(column.confidence),
        "rate_hz": _number(column.rate_hz),
        "doubt": column.doubt,
    }
