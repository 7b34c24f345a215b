"""The JSON that other people's scripts rely on: key names and units are part of the contract.

Each document has a JSON schema (draft 2020-12) in `schemas/`, shipped with the package. A value that is not known
is null, never NaN: NaN is not JSON.
"""

import importlib.resources
import json
from collections.abc import Iterable, Sequence

from pullproof.analysis.air_system import AirComparison, OperatingLine
from pullproof.analysis.comparison.result import Comparison, CurveDifference, FairnessCheck, MeasureDifference
from pullproof.analysis.mean_power import MeanPower
from pullproof.analysis.prediction import PathPrediction
from pullproof.analysis.wheel_power import PowerCurve, Standard
from pullproof.errors import WrongUse
from pullproof.pulls import Pull
from pullproof.reading.log import Column, Log
from pullproof.report.air_document import air_part
from pullproof.report.json_values import Document, number, numbers
from pullproof.report.map_document import mean_part, operating_part
from pullproof.report.path_documents import prediction_part

__all__ = [
    "SCHEMAS",
    "comparison_document",
    "power_document",
    "pull_part",
    "pulls_document",
    "read_document",
    "schema",
]

SCHEMAS = (
    "airpath", "coastdown", "comparison", "history", "library", "library-backup", "library-check", "library-import",
    "plan", "power", "pulls", "read", "watch",
)  # fmt: skip
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


def comparison_document(
    comparison: Comparison,
    prediction: PathPrediction | None = None,
    air: AirComparison | None = None,
    operating: Sequence[tuple[str, OperatingLine]] = (),
) -> Document:
    """`pullproof.comparison/1`; what is given besides adds a key: `prediction`, `air_system`, `operating_lines`."""
    document: Document = {
        "schema": "pullproof.comparison/1",
        "window_rpm": numbers(comparison.window_rpm),
        "main": comparison.main,
        "sentence": comparison.sentence,
        "before": {"pulls": [pull_part(pull) for pull in comparison.before]},
        "after": {"pulls": [pull_part(pull) for pull in comparison.after]},
        "measures": [_measure(measure) for measure in comparison.measures],
        "curves": [_curve(curve) for curve in comparison.curves],
        "checks": [_check(check) for check in comparison.checks],
        "left_out": [{"measure": left.measure, "reason": left.reason} for left in comparison.left_out],
        "cautions": list(comparison.cautions),
    }
    if prediction is not None:
        document["prediction"] = prediction_part(prediction)
    if air is not None:
        document["air_system"] = air_part(air)
    if operating:
        document["operating_lines"] = {side: operating_part(line) for side, line in operating}
    return document


def power_document(
    curves: Iterable[PowerCurve],
    standard: Standard,
    mean: MeanPower | None = None,
    operating: OperatingLine | None = None,
) -> Document:
    """`pullproof.power/1`, one entry for each pull; what is given besides adds a key: `mean`, `operating_line`."""
    document: Document = {
        "schema": "pullproof.power/1",
        "standard": standard,
        "pulls": [_power(curve) for curve in curves],
    }
    if mean is not None:
        document["mean"] = mean_part(mean)
    if operating is not None:
        document["operating_line"] = operating_part(operating)
    return document


def pulls_document(logs: Iterable[tuple[str, Sequence[Pull]]]) -> Document:
    """`pullproof.pulls/1`, from base names of logs and the pulls found in each."""
    return {
        "schema": "pullproof.pulls/1",
        "logs": [{"file": file, "pulls": [pull_part(pull) for pull in pulls]} for file, pulls in logs],
    }


def read_document(logs: Iterable[Log]) -> Document:
    """`pullproof.read/1`."""
    return {
        "schema": "pullproof.read/1",
        "logs": [
            {
                "file": log.file,
                "rows": int(log.rows),
                "duration_s": number(log.duration_s),
                "encoding": log.encoding,
                "delimiter": log.delimiter,
                "decimal": log.decimal,
                "columns": [_column(column) for column in log.columns],
                "notes": list(log.notes),
            }
            for log in logs
        ],
    }


def pull_part(pull: Pull) -> Document:
    """One pull, used or refused, as every document shows it."""
    return {
        "log": pull.log,
        "start_s": number(pull.start_s),
        "end_s": number(pull.end_s),
        "gear": None if pull.gear is None else int(pull.gear),
        "rpm_start": number(pull.rpm_start),
        "rpm_end": number(pull.rpm_end),
        "used": bool(pull.used),
        "reason": pull.reason,
    }


def _power(curve: PowerCurve) -> Document:
    pull, corrected = curve.pulls[0], curve.corrected_kw
    return {
        "log": pull.log,
        "start_s": number(pull.start_s),
        "gear": None if pull.gear is None else int(pull.gear),
        "rpm": numbers(curve.rpm),
        "wheel_power_kw": numbers(curve.wheel_power_kw),
        "lower_kw": numbers(curve.lower_kw),
        "upper_kw": numbers(curve.upper_kw),
        "corrected_kw": None if corrected is None else numbers(corrected),
        "correction": number(curve.correction.factor),
    }


def _measure(measure: MeasureDifference) -> Document:
    return {
        "id": measure.id,
        "unit": measure.unit,
        "before": number(measure.before),
        "after": number(measure.after),
        "raw_difference": number(measure.raw_difference),
        "adjustment": number(measure.adjustment),
        "difference": number(measure.difference),
        "interval": numbers(measure.interval),
        "level": number(measure.level),
        "smallest_worth_having": number(measure.smallest_worth_having),
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
        "rpm": numbers(curve.rpm),
        "before": numbers(curve.before),
        "after": numbers(curve.after),
        "difference": numbers(curve.difference),
        "lower": numbers(curve.lower),
        "upper": numbers(curve.upper),
    }


def _check(check: FairnessCheck) -> Document:
    return {
        "id": check.id,
        "status": check.status,
        "detail": check.detail,
        "could_explain": {measure: number(amount) for measure, amount in check.could_explain.items()},
    }


def _column(column: Column) -> Document:
    return {
        "header": column.header,
        "channel": column.channel,
        "unit": column.unit,
        "confidence": number(column.confidence),
        "rate_hz": number(column.rate_hz),
        "doubt": column.doubt,
    }
