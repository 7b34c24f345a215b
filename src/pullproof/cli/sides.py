"""What `compare` and `demo` share: compare two sides, write the report, show the answer."""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Literal

from rich.console import Console

from pullproof.analysis.comparison import compare
from pullproof.analysis.comparison.result import Comparison, MeasureDifference
from pullproof.car import Car
from pullproof.cli.output import Listing
from pullproof.computed_channels import record_pull
from pullproof.conditions import ConditionsSheet
from pullproof.pulls import Pull
from pullproof.reading import Log, read_log
from pullproof.report.content import LogConditions, build_report
from pullproof.report.rounding import Rounding
from pullproof.report.wording import difference_unit, measure_name, unit_text
from pullproof.report.writing import write_report

__all__ = ["Question", "answer", "show"]


@dataclass(frozen=True, slots=True)
class Question:
    """What is to be compared, and how."""

    car: Car
    conditions: ConditionsSheet
    before: Sequence[Path]
    after: Sequence[Path]
    window: tuple[float, float] | None = None
    level: float = 0.95
    main: str | None = None


def answer(question: Question, report: Path | None) -> Comparison:
    """Read the logs, compare, and write the report where one is wanted."""
    car, sheet = question.car, question.conditions
    before, after = ([read_log(path, car) for path in side] for side in (question.before, question.after))
    comparison = compare(
        before,
        after,
        car=car,
        conditions=sheet,
        window=question.window,
        level=question.level,
        main=question.main,
    )
    if report is not None:
        air = _conditions_of(comparison, {log.file: log for log in (*before, *after)}, car, sheet)
        content = build_report(
            comparison,
            car=car,
            conditions=sheet,
            air=air,
            logs=(*before, *after),
            made_at=datetime.datetime.now().astimezone(),
        )
        write_report(content, report)
    return comparison


def _conditions_of(
    comparison: Comparison, logs: dict[str, Log], car: Car, sheet: ConditionsSheet
) -> tuple[LogConditions, ...]:
    """Day, air and direction of each log that has a pull, as the comparison took them."""
    found: dict[str, LogConditions] = {}
    sides: tuple[tuple[Literal["before", "after"], tuple[Pull, ...]], ...] = (
        ("before", comparison.before),
        ("after", comparison.after),
    )
    for side, pulls in sides:
        for pull in pulls:
            if pull.log not in found:
                said = sheet.of(pull.log)
                record = record_pull(logs[pull.log], pull, car, said)
                found[pull.log] = LogConditions(pull.log, side, record.day, record.air, record.direction, said.when)
    return tuple(found.values())


def show(comparison: Comparison, screen: Console) -> None:
    """Print the answer for people: the sentence first, then what it rests on and what stands against it."""
    low, high = comparison.window_rpm
    screen.print(comparison.sentence, style="bold", markup=False)
    screen.print(
        f"\nWindow {low:.0f} to {high:.0f} rpm; main measure: {measure_name(comparison.main)}.\n", markup=False
    )
    screen.print(_measures(comparison).table)
    screen.print()
    listing = Listing("fairness check", "", "")
    for check in comparison.checks:
        if check.status != "pass":
            listing.add(check.id.replace("_", " "), check.status, check.detail)
    passed = sum(check.status == "pass" for check in comparison.checks)
    if passed < len(comparison.checks):
        screen.print(listing.table)
    screen.print(f"{passed} of {len(comparison.checks)} fairness checks passed.\n", markup=False)
    for pull in (*comparison.before, *comparison.after):
        if not pull.used:
            screen.print(
                f"Refused: {pull.log} from {pull.start_s:.1f} s to {pull.end_s:.1f} s: {pull.reason}.", markup=False
            )
    for heading, lines in (
        ("Left out", [f"{measure_name(left.measure)}: {left.reason}" for left in comparison.left_out]),
        ("Doubts", comparison.doubts),
        ("Next", comparison.next_steps),
        ("Cautions", comparison.cautions),
    ):
        if lines:
            screen.print(f"{heading}:", markup=False)
            for line in lines:
                screen.print(f"- {line}", markup=False)


def _measures(comparison: Comparison) -> Listing:
    listing = Listing("measure", "before", "after", "difference", "interval", "verdict", numbers=(1, 2, 3))
    for measure in comparison.measures:
        listing.add(*_row(measure))
    return listing


def _row(measure: MeasureDifference) -> tuple[str, ...]:
    rounding = Rounding.of(measure.interval, measure.before, difference_unit(measure.unit, measure.id))
    value = Rounding(rounding.places, unit_text(measure.unit, measure.id))
    cells = (measure_name(measure.id), value.plain(measure.before), value.plain(measure.after))
    if measure.censored:
        return (*cells, "none", "", "pinned: cannot move")
    return (*cells, rounding.signed(measure.difference), rounding.interval(measure.interval), measure.verdict)
