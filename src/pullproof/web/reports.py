"""The report of a comparison from a library, and its numbers as a table for a spreadsheet."""

import csv
import datetime
import io
import math
import re
from collections.abc import Callable, Sequence
from contextlib import suppress
from typing import Final

from starlette.exceptions import HTTPException
from starlette.responses import Response

from pullproof.analysis.air_system import AirComparison
from pullproof.analysis.comparison.result import Comparison
from pullproof.analysis.mean_power import mean_power
from pullproof.analysis.wheel_power import power_curve
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.report.air_section import air_section
from pullproof.report.content import LogConditions, build_report
from pullproof.report.html import to_html
from pullproof.report.model import Report, Section
from pullproof.report.pdf import to_pdf, to_png
from pullproof.report.power_sections import absolute_power_section

__all__ = ["REPORTS", "as_file", "attached", "comparison_csv", "comparison_report", "safe_cell"]


REPORTS: Final[dict[str, tuple[str, Callable[[Report], bytes]]]] = {
    "html": ("text/html; charset=utf-8", lambda report: to_html(report).encode()),
    "pdf": ("application/pdf", to_pdf),
    "png": ("image/png", to_png),
}


def as_file(report: Report, kind: str, name: str) -> Response:
    """A report to be taken away: `html`, `pdf` or `png`."""
    if kind not in REPORTS:
        raise HTTPException(404, "There is no report of that kind.")
    media, write = REPORTS[kind]
    return Response(write(report), media_type=media, headers=attached(name, kind))


def attached(name: str, kind: str) -> dict[str, str]:
    """Headers that make an answer a file of that name, whatever letters somebody gave it."""
    plain = re.sub(r"[^A-Za-z0-9_-]+", "-", name).strip("-") or "pullproof"
    return {"content-disposition": f'attachment; filename="{plain}.{kind}"'}


def comparison_report(
    comparison: Comparison,
    air: AirComparison,
    sides: tuple[Sequence[PullRecord], Sequence[PullRecord]],
    car: Car,
    conditions: ConditionsSheet,
    title: str | None = None,
) -> Report:
    """The report as `pullproof compare --report` makes it, for pulls that come from a library."""
    names = {pull.log for pull in (*comparison.before, *comparison.after)}
    return build_report(
        comparison,
        car=car,
        made_at=datetime.datetime.now().astimezone(),
        conditions=_between(conditions, names),
        air=_air(sides, conditions),
        logs=tuple({record.log.file: record.log for side in sides for record in side}.values()),
        title=title,
        more=[air_section(air), *_power(sides, car)],
    )


def _between(conditions: ConditionsSheet, names: set[str]) -> ConditionsSheet:
    """The changes that were made between the first and the last of these logs: the others are another story."""
    moments = [entry.when for name, entry in conditions.logs.items() if name in names and entry.when is not None]
    if not moments:
        return ConditionsSheet(conditions.logs, ())
    first, last = min(moments), max(moments)
    changes = [change for change in conditions.changes if change.when is not None and first < change.when <= last]
    return ConditionsSheet(conditions.logs, tuple(changes))


def _air(sides: tuple[Sequence[PullRecord], Sequence[PullRecord]], sheet: ConditionsSheet) -> tuple[LogConditions, ...]:
    found: dict[str, LogConditions] = {}
    for name, records in zip(("before", "after"), sides, strict=True):
        for record in records:
            file = record.pull.log
            when = sheet.of(file).when
            found.setdefault(file, LogConditions(file, name, record.day, record.air, record.direction, when))  # type: ignore[arg-type]
    return tuple(found.values())


def _power(sides: tuple[Sequence[PullRecord], Sequence[PullRecord]], car: Car) -> list[Section]:
    """Power of both sides; nothing where car or logs lack what it takes, which the measures say already."""
    with suppress(CannotAnswer):
        before, after = (mean_power([power_curve(record, car) for record in side]) for side in sides)
        return [absolute_power_section(before, after)]
    return []


def comparison_csv(comparison: Comparison) -> str:
    """Measures and curves as one table a block, numbers unrounded; what is not known is an empty cell."""
    written = io.StringIO()
    table = csv.writer(written)
    low, high = comparison.window_rpm
    table.writerow(["verdict", safe_cell(comparison.sentence)])
    table.writerow(["window from [rpm]", low])
    table.writerow(["window to [rpm]", high])
    table.writerow([])
    head = ["measure", "unit", "before", "after", "raw difference", "adjustment", "difference", "lower", "upper"]
    table.writerow([*head, "level", "verdict", "pulls before", "pulls after"])
    for one in comparison.measures:
        numbers = (one.before, one.after, one.raw_difference, one.adjustment, one.difference, *one.interval, one.level)
        verdict = "pinned" if one.censored else one.verdict
        table.writerow(
            [one.id, safe_cell(one.unit), *map(_number, numbers), verdict, one.pulls_before, one.pulls_after]
        )
    for curve in comparison.curves:
        unit = safe_cell(f"[{curve.unit}]")
        table.writerow([])
        table.writerow(["engine speed [rpm]", *(f"{curve.channel} {part} {unit}" for part in _PARTS)])
        columns = (curve.rpm, *(getattr(curve, part) for part in _PARTS))
        for row in zip(*(column.tolist() for column in columns), strict=True):
            table.writerow(map(_number, row))
    table.writerow([])
    table.writerow(["pull", "side", "start [s]", "end [s]", "gear", "used", "reason"])
    for side, pulls in (("before", comparison.before), ("after", comparison.after)):
        for pull in pulls:
            said = (pull.start_s, pull.end_s, "" if pull.gear is None else pull.gear, "yes" if pull.used else "no")
            table.writerow([safe_cell(pull.log), side, *said, safe_cell(pull.reason or "")])
    return written.getvalue()


_PARTS = ("before", "after", "difference", "lower", "upper")


def _number(value: float) -> str:
    return repr(float(value)) if math.isfinite(value) else ""


def safe_cell(text: str) -> str:
    """A text that no spreadsheet takes for a formula: file names and notes come from anywhere.

    Source: OWASP, "CSV Injection": a cell that begins with one of = + - @, a tab or a line end is to be led by an
    apostrophe.
    """
    return f"'{text}" if text[:1] in ("=", "+", "-", "@", "\t", "\r", "\n", "＝", "＋", "－", "＠") else text
