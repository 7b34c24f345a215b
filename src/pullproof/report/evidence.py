"""What it rests on: pulls, conditions, doubts, how the interval is made, and what to mind and do next."""

import datetime
import importlib.metadata
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.comparison.result import Comparison, MeasureDifference
from pullproof.car import Car
from pullproof.conditions import Air
from pullproof.pulls import Pull
from pullproof.reading.log import Log
from pullproof.report.model import Cell, Column, Paragraph, Points, Row, Section, Table
from pullproof.report.rounding import UNKNOWN, Rounding, significant
from pullproof.report.track_record import how_often_held
from pullproof.report.wording import (
    capitalised,
    channel_name,
    count,
    difference_unit,
    level_text,
    measure_name,
    typographic,
)

__all__ = [
    "ESTIMATES",
    "LogConditions",
    "as_sentence",
    "car_data",
    "cautions_section",
    "conditions_section",
    "doubts_section",
    "made_with",
    "method_section",
    "moment",
    "next_section",
    "pulls_section",
]


ESTIMATES = "Estimates are estimates: no figure here clears an engine as safe."
"""The last line of every report."""


@dataclass(frozen=True, slots=True)
class LogConditions:
    """In what air and on which day a log was recorded, as the comparison took it."""

    file: str
    side: Literal["before", "after"]
    day: str
    air: Air
    direction: str | None = None
    when: datetime.datetime | None = None


def pulls_section(comparison: Comparison) -> Section:
    """Every pull found, used or refused, with the reason."""
    sided = [("before", pull) for pull in comparison.before] + [("after", pull) for pull in comparison.after]
    used = sum(pull.used for _, pull in sided)
    common = _assumed_of_all([pull for _, pull in sided])
    table = Table(
        "Pulls used and refused",
        (
            Column("Log", 22),
            Column("Side", 9),
            Column("Time in log", 18),
            Column("Gear", 7),
            Column("Engine speed", 19),
            Column("Used", 25),
        ),
        tuple(_pull_row(side, pull, common) for side, pull in sided),
        picture=False,
    )
    return Section(
        "Pulls",
        "The pull is the unit of evidence. All pulls count that the same rules let pass, none is chosen by its result.",
        (
            Paragraph(f"{count(len(sided), 'pull')} found, {used} used, {len(sided) - used} refused."),
            *(Paragraph(as_sentence(f"of every pull: {text}")) for text in common),
            table,
        ),
        picture=False,
    )


def _assumed_of_all(pulls: Sequence[Pull]) -> tuple[str, ...]:
    """What was assumed of all the pulls alike: said once above the table, not in every row of it."""
    if len(pulls) < 2:
        return ()
    return tuple(text for text in pulls[0].assumptions if all(text in pull.assumptions for pull in pulls))


def _pull_row(side: str, pull: Pull, common: Sequence[str]) -> Row:
    own = (text for text in pull.assumptions if text not in common)
    seconds, speed = Rounding(1, "s"), Rounding(-1, "rpm")
    return Row(
        (
            Cell(pull.log),
            Cell(side),
            Cell(f"{seconds.bare(pull.start_s)} to {seconds.plain(pull.end_s)}"),
            Cell(UNKNOWN if pull.gear is None else str(pull.gear)),
            Cell(f"{speed.bare(pull.rpm_start)} to {speed.plain(pull.rpm_end)}"),
            Cell(
                "✓ used" if pull.used else "✗ refused",
                " ".join(as_sentence(text) for text in (pull.reason, *own) if text),
                tone="plain" if pull.used else "warn",
            ),
        ),
    )


def as_sentence(text: str) -> str:
    """A sentence made elsewhere, with a capital and a full stop; one that begins with a file's name keeps it."""
    text = typographic(text.strip())
    if text.partition(" ")[0].isalpha():
        text = capitalised(text)
    return text if text.endswith((".", "!", "?")) else f"{text}."


def conditions_section(conditions: Sequence[LogConditions]) -> Section | None:
    """Air, day and direction of every log; None where the caller knows of no log."""
    if not conditions:
        return None
    table = Table(
        "Conditions of each log",
        (
            Column("Log", 24),
            Column("Side", 8),
            Column("Test day", 18),
            Column("Air temperature", 15),
            Column("Air pressure", 14),
            Column("Humidity", 12),
            Column("Direction", 9),
        ),
        tuple(_conditions_row(entry) for entry in conditions),
        picture=False,
    )
    return Section("Conditions", "In small print: where a value comes from.", (table,), picture=False)


def _conditions_row(entry: LogConditions) -> Row:
    air = entry.air
    return Row(
        (
            Cell(entry.file),
            Cell(entry.side),
            Cell(entry.day, moment(entry.when) if entry.when else ""),
            _air_cell(air, air.temperature_c, "temperature_c", Rounding(1, "°C")),
            _air_cell(air, air.pressure_kpa, "pressure_kpa", Rounding(1, "kPa")),
            _air_cell(air, air.relative_humidity_pct, "relative_humidity_pct", Rounding(0, "%")),
            Cell(entry.direction or UNKNOWN),
        )
    )


def _air_cell(air: Air, value: float | None, field: str, rounding: Rounding) -> Cell:
    if value is None or not np.isfinite(value):
        return Cell(UNKNOWN)
    return Cell(rounding.plain(value), air.origin.get(field, ""))


MONTHS = (
    "January", "February", "March", "April", "May", "June",
    "July", "August", "September", "October", "November", "December",
)  # fmt: skip


def moment(when: datetime.datetime) -> str:
    """`3 October 2026, 16:20`, the same under every locale; the time of day is left out where it is midnight."""
    date = f"{when.day} {MONTHS[when.month - 1]} {when.year}"
    return date if (when.hour, when.minute) == (0, 0) else f"{date}, {when:%H:%M}"


def made_with(when: datetime.datetime) -> str:
    """What made a report, and when."""
    return f"Made with pullproof {importlib.metadata.version('pullproof')} on {moment(when)}."


def doubts_section(comparison: Comparison, logs: Sequence[Log]) -> Section | None:
    """What is uncertain in the files and the comparison, and which measures are missing; None where nothing is."""
    doubts = [as_sentence(doubt) for doubt in comparison.doubts] + _reading_doubts(logs)
    left_out = [
        f"{capitalised(measure_name(left.measure))}: {as_sentence(left.reason)}" for left in comparison.left_out
    ]
    blocks: list[Paragraph | Points] = [Points(tuple(doubts))] if doubts else []
    if left_out:
        blocks += [Paragraph(f"{count(len(left_out), 'measure')} left out:"), Points(tuple(left_out))]
    if not blocks:
        return None
    return Section("Doubts and gaps", "What a sceptic would ask first.", tuple(blocks), picture=False)


def _reading_doubts(logs: Sequence[Log]) -> list[str]:
    return [
        f'{log.file}, column "{column.header}", taken as {channel_name(column.channel)}'
        f"{f' in {column.unit}' if column.unit and column.unit != '1' else ''}: {as_sentence(column.doubt)}"
        for log in logs
        for column in log.columns
        if column.channel and column.doubt
    ]


def method_section(comparison: Comparison, main: MeasureDifference | None) -> Section:
    """How the interval is made, in two sentences, with the scatter that was found."""
    scatter = ""
    if main is not None and np.isfinite(main.run_to_run) and np.isfinite(main.day_to_day):
        unit = difference_unit(main.unit, main.id)
        run, day = (significant(value, 2, unit) for value in (main.run_to_run, main.day_to_day))
        scatter = f" (for {measure_name(main.id)} {run} between pulls of one day and {day} between days)"
    text = (
        "The pulls themselves, with what is usual for each measure, say how far pulls of one day and days without any "
        f"change scatter{scatter}. From that, and from the doubt in taking weather and other recorded differences out, "
        f"the interval is made so that it holds the true difference {level_text(comparison.level)} of the time; with "
        "few pulls or a single day a side it is wide, and rightly so."
    )
    low, high = comparison.window_rpm
    window = Rounding(-1, "rpm")
    held = None if main is None else how_often_held(main.id, main.level)
    return Section(
        "How the interval is made",
        f"Window: {window.bare(low)} to {window.plain(high)}.",
        tuple(Paragraph(part) for part in (text, held) if part),
        picture=False,
    )


def cautions_section(cautions: Sequence[str]) -> Section:
    """Whoever plans the next run reads this."""
    return Section(
        "Cautions",
        "Before any further run.",
        (Points(tuple(as_sentence(caution) for caution in cautions)),),
    )


def next_section(comparison: Comparison) -> Section | None:
    """What to do next, in order; None where nothing is left to do."""
    if not comparison.next_steps:
        return None
    steps = tuple(as_sentence(step) for step in comparison.next_steps)
    return Section("What to do next", "In this order.", (Points(steps, ordered=True),))


def car_data(car: Car) -> list[str]:
    """What a report says of the car besides its name."""
    engine = car.engine
    data = [
        significant(engine.displacement_l, 3, "l") if engine.displacement_l else "",
        count(engine.cylinders, "cylinder") if engine.cylinders else "",
        engine.fuel or "",
        "turbocharged" if engine.aspiration == "turbo" else "",
        f"{significant(car.mass_kg, 4, 'kg')} as tested" if car.mass_kg else "",
        f"tyre {car.tyre}" if car.tyre else "",
    ]
    return [item for item in data if item]
