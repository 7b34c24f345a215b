"""What `compare` and `demo` share: compare two sides, and write the report."""

import datetime
from collections.abc import Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Final, Literal

from pullproof.analysis.air_system import AirComparison, CompressorMap, OperatingLine, compare_air, fitted_from
from pullproof.analysis.airpath import AirPath
from pullproof.analysis.comparison import compare
from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.comparison.result import Comparison
from pullproof.analysis.mean_operating_line import mean_operating_line
from pullproof.analysis.mean_power import MeanPower, mean_power
from pullproof.analysis.prediction import PathPrediction, predict
from pullproof.analysis.wheel_power import power_curve
from pullproof.car import Car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull
from pullproof.reading import Log, read_log
from pullproof.report.air_section import air_section
from pullproof.report.content import LogConditions, build_report
from pullproof.report.map_section import map_section
from pullproof.report.model import Points, Section
from pullproof.report.path_sections import loss_section
from pullproof.report.power_sections import absolute_power_section
from pullproof.report.prediction_section import prediction_section
from pullproof.report.writing import write_report

__all__ = ["Answer", "Question", "answer"]

Side = Literal["before", "after"]
SIDES: Final[tuple[Side, Side]] = ("before", "after")


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
    paths: tuple[AirPath, AirPath] | None = None
    """Air path before and after, for a prediction."""
    compressor_map: CompressorMap | None = None


@dataclass(frozen=True, slots=True)
class Answer:
    """What was found, and what goes beyond the logs."""

    comparison: Comparison
    air: AirComparison
    prediction: PathPrediction | None = None
    operating: tuple[tuple[Side, OperatingLine], ...] = ()
    not_shown: tuple[str, ...] = ()
    """Why a prediction or an operating line that was asked for is missing."""


def answer(question: Question, report: Path | None) -> Answer:
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
    logs = {log.file: log for log in (*before, *after)}
    sides = _sides(comparison, logs, car, sheet)
    found = _beyond_the_logs(question, comparison, sides)
    if report is not None:
        content = build_report(
            comparison,
            car=car,
            conditions=sheet,
            air=_conditions_of(sides, sheet),
            logs=(*before, *after),
            made_at=datetime.datetime.now().astimezone(),
            more=_more_sections(found, sides, car),
        )
        write_report(content, report)
    return found


@dataclass(frozen=True, slots=True)
class _Sides:
    """Pulls of the two sides as they were recorded."""

    before: tuple[PullRecord, ...]
    after: tuple[PullRecord, ...]

    def used(self, side: Side) -> tuple[PullRecord, ...]:
        records = self.before if side == "before" else self.after
        return tuple(record for record in records if record.pull.used)


def _sides(comparison: Comparison, logs: dict[str, Log], car: Car, sheet: ConditionsSheet) -> _Sides:
    """The pulls of both sides, on the test days that the comparison counted."""
    before, after = (_records(pulls, logs, car, sheet) for pulls in (comparison.before, comparison.after))
    parted = part_outings((*before, *after), sheet)
    return _Sides(parted[: len(before)], parted[len(before) :])


def _records(pulls: Sequence[Pull], logs: dict[str, Log], car: Car, sheet: ConditionsSheet) -> tuple[PullRecord, ...]:
    """Every used pull, and of a log without one the first, which shows its air."""
    used = {pull.log for pull in pulls if pull.used}
    kept: list[Pull] = []
    for pull in pulls:
        if pull.used or (pull.log not in used and all(pull.log != other.log for other in kept)):
            kept.append(pull)
    return tuple(record_pull(logs[pull.log], pull, car, sheet.of(pull.log)) for pull in kept)


def _beyond_the_logs(question: Question, comparison: Comparison, sides: _Sides) -> Answer:
    """Air system, prediction and operating lines; what cannot be given does not cost the comparison."""
    prediction: PathPrediction | None = None
    operating: tuple[tuple[Side, OperatingLine], ...] = ()
    not_shown: list[str] = []
    moments = {file: entry.when for file, entry in question.conditions.logs.items() if entry.when is not None}
    air = compare_air(comparison, sides.used("before"), sides.used("after"), question.car, moments=moments)
    if question.paths is not None:
        try:
            prediction = predict(comparison, *question.paths, sides.used("before"), question.car, air)
        except CannotAnswer as error:
            not_shown.append(f"No prediction: {error}")
    mapped = question.compressor_map
    if mapped is not None:
        try:
            fitted = fitted_from((*sides.used("before"), *sides.used("after")), question.car)
            operating = tuple(
                (side, mean_operating_line(sides.used(side), question.car, mapped, fitted)) for side in SIDES
            )
        except CannotAnswer as error:
            not_shown.append(f"No operating line: {error}")
    return Answer(comparison, air, prediction, operating, tuple(not_shown))


def _more_sections(found: Answer, sides: _Sides, car: Car) -> list[Section]:
    """What the report shows beyond the comparison: prediction, losses, air system, power, compressor map."""
    sections: list[Section] = []
    if found.prediction is not None:
        paths = found.prediction.paths
        sections += [prediction_section(found.prediction), loss_section((paths.before, paths.after), in_picture=False)]
    sections.append(air_section(found.air))
    # A log without road speed or a car without mass has no power; the measures say so already.
    with suppress(CannotAnswer):
        before, after = (_mean_power(sides.used(side), car) for side in SIDES)
        sections.append(absolute_power_section(before, after))
    if found.operating:
        sections.append(map_section(found.operating))
    if found.not_shown:
        sections.append(Section("Not shown", "Asked for, and not to be had.", (Points(found.not_shown),)))
    return sections


def _mean_power(records: Sequence[PullRecord], car: Car) -> MeanPower:
    return mean_power([power_curve(record, car) for record in records])


def _conditions_of(sides: _Sides, sheet: ConditionsSheet) -> tuple[LogConditions, ...]:
    """Day, air and direction of each log that has a pull, as the comparison took them."""
    found: dict[str, LogConditions] = {}
    for side in SIDES:
        for record in sides.before if side == "before" else sides.after:
            file = record.pull.log
            if file not in found:
                when = sheet.of(file).when
                found[file] = LogConditions(file, side, record.day, record.air, record.direction, when)
    return tuple(found.values())
