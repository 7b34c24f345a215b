"""A plan as a report: what to drive, what each order would tell, what to log, and what to hold equal."""

import datetime
import math
from collections.abc import Sequence

from pullproof.analysis.plan import Channel, Equal, Option, Plan, Question
from pullproof.analysis.plan.wording import NOT_OVER, chance_text, sized
from pullproof.analysis.watch import Limit
from pullproof.car import Car
from pullproof.report.evidence import ESTIMATES, as_sentence, car_data, cautions_section, made_with, moment
from pullproof.report.model import (
    Cell,
    Column,
    Fact,
    Facts,
    Headline,
    Paragraph,
    Plate,
    Points,
    Report,
    Row,
    Section,
    Table,
)
from pullproof.report.plan_drawable import SHORT, chance_drawing
from pullproof.report.rounding import NBSP, Rounding, significant
from pullproof.report.watch_sections import value_text
from pullproof.report.wording import capitalised, count, difference_unit, measure_name, typographic

__all__ = [
    "channel_cells",
    "equal_lines",
    "next_cells",
    "option_cells",
    "plan_report",
    "scatter_text",
    "stop_lines",
]

STOP_NAMES = {
    "knock_retard_deg": "knock retard",
    "lambda_full_load": "lambda at full load",
    "boost_over_target_kpa": "boost over its target",
    "boost_kpa": "boost",
    "exhaust_gas_temperature_c": "exhaust gas temperature",
    "coolant_temperature_c": "coolant temperature",
    "oil_temperature_c": "oil temperature",
    "charge_temperature_c": "charge temperature at full load",
    "oil_pressure_kpa_per_1000_rpm": "oil pressure for each 1000 rpm",
    "fuel_pressure_sag_pct": "sag of fuel pressure",
    "injector_duty_pct": "injector duty",
    "engine_speed_rpm": "engine speed",
    "turbo_speed_rpm": "turbocharger speed",
}


def _amount(value: float, question: Question) -> str:
    return typographic(sized(value, question))


def scatter_text(plan: Plan) -> str:
    """What the plan rests on."""
    scatter, question = plan.scatter, plan.question
    run, day = (
        f"{_amount(middle, question)} ({significant(low, 2)} to {significant(high, 2)})"
        for middle, (low, high) in ((scatter.run, scatter.run_limits), (scatter.day, scatter.day_limits))
    )
    return f"Scatter between pulls {run}, between days {day}; in brackets what holds 90{NBSP}%. From {scatter.origin}."


def option_cells(option: Option) -> tuple[str, ...]:
    """Order, pulls, changes, minutes, chance, false alarms, half interval, what it shows, even drift let through."""
    days = ", one day" if option.days == 1 else f", {option.days} days" if option.order == "several_days" else ""
    return (
        capitalised(SHORT[option.order]) + days,
        f"{option.pulls_before}{NBSP}+{NBSP}{option.pulls_after}",
        str(option.part_changes),
        f"{option.minutes:.0f}" + ("" if option.fits else " (does not fit)"),
        chance_text(option.chance),
        chance_text(option.false_alarm),
        f"±{NBSP}{significant(option.half_width, 2)}",
        significant(option.shows, 2),
        f"{100.0 * option.drift_share:.0f}{NBSP}%",
    )


def channel_cells(channel: Channel) -> tuple[str, ...]:
    """Channel, what for, rate given, least and useful rate, why."""
    rate = f"{significant(channel.rate_hz, 2)}{NBSP}Hz" if channel.rate_hz > 0.0 else "none left"
    span = f"{significant(channel.least_hz, 2)} to {significant(channel.useful_hz, 2)}{NBSP}Hz"
    return (capitalised(channel.label), channel.role, rate, span, channel.why)


def equal_lines(plan: Plan) -> tuple[str, ...]:
    """What to hold equal, how near, and what a unit of it costs."""
    return tuple(_equal_line(entry, plan.question) for entry in plan.hold_equal)


def _equal_line(entry: Equal, question: Question) -> str:
    within = f" within {significant(entry.within, 3, entry.unit)}" if entry.within > 0.0 else ""
    costs = ""
    if entry.per_unit is not None and entry.per_unit_doubt:
        # A step that makes the cost readable: one hundred of a small unit, else one of it.
        step = 100.0 if entry.unit == "rpm" else 1.0
        rounding = Rounding(1 - math.floor(math.log10(step * entry.per_unit_doubt)), "")
        mean, doubt = (rounding.bare(step * value) for value in (entry.per_unit, entry.per_unit_doubt))
        unit = difference_unit(question.unit, question.measure)
        costs = f" ({significant(step, 3, entry.unit)} moves it by {mean} ± {doubt} {unit}".rstrip() + ")"
    return f"{capitalised(entry.what)}{within}{costs}: {entry.advice}."


def next_cells(plan: Plan) -> tuple[tuple[str, ...], ...]:
    """Next run, half interval then, how much narrower."""
    return tuple(
        (
            run.label.removesuffix(NOT_OVER) + (", if that day is not over" if run.label.endswith(NOT_OVER) else ""),
            f"±{NBSP}{significant(run.half_width, 3)}",
            f"{max(run.narrower_pct, 0.0):.0f}{NBSP}% narrower",
        )
        for run in plan.next_runs
    )


def stop_lines(plan: Plan) -> tuple[str, ...]:
    """Stop criteria with the limits of this car."""
    return tuple(_stop_line(limit) for limit in plan.stops)


def _stop_line(limit: Limit) -> str:
    from_sheet = limit.from_sheet or limit.key == "engine_speed_rpm"
    beyond = f"{limit.side} {value_text(limit.value, limit)}"
    return f"{capitalised(STOP_NAMES[limit.key])} {beyond}{' (car sheet)' if from_sheet else ''}"


def plan_report(plan: Plan, *, car: Car, made_at: datetime.datetime) -> Report:
    """A report on a plan.

    Parameters
    ----------
    plan : Plan
        What was reckoned.
    car : Car
        Its name and main data head the report.
    made_at : datetime
        Printed as it is.
    """
    made = made_with(made_at)
    sections = [
        _question_section(plan, car, made_at),
        _options_section(plan),
        _next_section(plan),
        _logging_section(plan),
        _points("What to hold equal", "What differs is taken out with a doubt.", equal_lines(plan)),
        _points("Heat", "What a session does to the car.", [as_sentence(line) for line in plan.heat]),
        _stops_section(plan),
        _grounds_section(plan),
        cautions_section(plan.cautions),
    ]
    return Report(
        title=f"{car.name}: plan for {measure_name(plan.question.measure)}",
        headline=_headline(plan),
        sections=tuple(section for section in sections if section is not None),
        footer=(made, ESTIMATES),
        picture_footer=(made, "A part of the record: assumptions and doubts stand in the full report."),
        subject="Plan",
    )


def _headline(plan: Plan) -> Headline:
    best = plan.recommended
    return Headline(
        sentence=typographic(plan.sentence),
        sign="→" if best else "?",
        word="enough" if best else "not enough",
        measure="chance of a clear answer" if best else "",
        number=chance_text(best.chance).partition(" %")[0] if best else "",
        unit="%" if best else "",
        interval=f"about {best.minutes:.0f} min, {count(best.pulls_before + best.pulls_after, 'pull')}" if best else "",
        meaning=(typographic(plan.one_day), "A clear answer is an interval of the verdict that leaves out zero."),
        drawing=None,
        heading="Plan",
    )


def _question_section(plan: Plan, car: Car, made_at: datetime.datetime) -> Section:
    question = plan.question
    facts = Facts(
        (
            Fact("Car", "; ".join([car.name, *car_data(car)])),
            Fact("Measure", capitalised(measure_name(question.measure))),
            Fact(
                "Worth seeing", f"{_amount(question.effect, question)}, with a chance of {chance_text(question.chance)}"
            ),
            Fact("Scatter", scatter_text(plan)),
            Fact("Report made", moment(made_at)),
        )
    )
    return Section("What is asked", "", (facts,), picture=False)


def _options_section(plan: Plan) -> Section:
    unit = difference_unit(plan.question.unit, plan.question.measure)
    columns = (
        Column("Order", 25),
        Column("Pulls", 11, "below"),
        Column("Changes", 11),
        Column("Minutes", 11),
        Column("Chance", 10, "beside"),
        Column("False alarm", 9),
        Column(f"Interval, {unit}", 11),
        Column(f"Would show, {unit}", 11),
        Column("Drift", 8),
    )
    rows = tuple(_option_row(option, plan) for option in plan.options)
    table = Table("Every order that was weighed", columns, rows, picture=False)
    drawing = chance_drawing(plan)
    notes = (
        "Dotted line: the chance asked for. Circle: the cheapest order that has it.",
        "Filled markers: all on one day. Open ones: several days.",
        "A line that stays low: days differ for no reason, and pulls do not help against that.",
    )
    return Section(
        "What each order would tell",
        "Minutes hold warming up, pulls with the way back, and changes of the part. Drift: how much of an even drift "
        "through a session would be taken for the change.",
        (Plate("Chance of a clear answer", drawing, notes), table, Paragraph(plan.how, picture=False)),
    )


def _option_row(option: Option, plan: Plan) -> Row:
    best = option == plan.recommended
    order, *rest = option_cells(option)
    cells = (Cell(f"→ {order}" if best else order, "the one to drive" if best else ""), *(Cell(text) for text in rest))
    return Row(cells, main=best)


def _next_section(plan: Plan) -> Section | None:
    if not plan.next_runs or plan.half_width_now is None:
        return None
    columns = (Column("Next run", 52), Column("Interval then", 22, "beside"), Column("Narrower", 22, "below"))
    rows = tuple(Row(tuple(Cell(text) for text in cells)) for cells in next_cells(plan))
    now = f"As it stands the interval is ±{NBSP}{_amount(plan.half_width_now, plan.question)}."
    note = "At what is known of the scatter now; what a further pull teaches about it is left out."
    return Section(
        "Which next run narrows it most",
        note,
        (Paragraph(f"{now} {typographic(plan.next_sentence)}"), Table("The narrowest first", columns, rows)),
    )


def _logging_section(plan: Plan) -> Section:
    columns = (
        Column("Channel", 22),
        Column("What for", 14),
        Column("Rate", 11, "beside"),
        Column("Least to useful", 16),
        Column("Why", 37, "below"),
    )
    rows = tuple(Row(tuple(Cell(text) for text in channel_cells(channel))) for channel in plan.logging.channels)
    budget = f"{significant(plan.logging.samples_per_second, 3)} samples a second shared out, in order of need"
    blocks: list[Table | Points] = [Table(budget, columns, rows, picture=False)]
    if plan.logging.doubts:
        blocks.insert(0, Points(tuple(as_sentence(doubt) for doubt in plan.logging.doubts)))
    note = "More than the useful rate only averages noise."
    return Section("What to log, and how fast", note, tuple(blocks), picture=False)


def _points(heading: str, note: str, lines: Sequence[str]) -> Section:
    """A list that the picture has no room for."""
    return Section(heading, note, (Points(tuple(lines)),), picture=False)


def _stops_section(plan: Plan) -> Section:
    note = "Lift at once. Usual figures are common practice without a source; those of the car sheet come first."
    return Section("When to stop", note, (Points(stop_lines(plan)),))


def _grounds_section(plan: Plan) -> Section:
    lines: Sequence[str] = (*plan.assumptions, *plan.doubts)
    return Section(
        "What it rests on", "What a sceptic would ask first.",
        (Points(tuple(as_sentence(line) for line in lines)),), picture=False,
    )  # fmt: skip
