"""From a comparison to a report: the one model that HTML, PDF and picture are made from."""

import datetime
from collections.abc import Sequence

from pullproof.analysis.comparison.result import Comparison
from pullproof.car import Car
from pullproof.conditions import Change, ConditionsSheet
from pullproof.reading.log import Log
from pullproof.report.evidence import (
    ESTIMATES,
    LogConditions,
    car_data,
    cautions_section,
    conditions_section,
    doubts_section,
    made_with,
    method_section,
    moment,
    next_section,
    pulls_section,
)
from pullproof.report.findings import checks_section, curves_section, headline, main_measure, measures_section
from pullproof.report.model import Fact, Facts, Report, Section
from pullproof.report.rounding import Rounding
from pullproof.report.wording import listed

__all__ = ["LogConditions", "Report", "build_report"]


def build_report(
    comparison: Comparison,
    *,
    car: Car,
    made_at: datetime.datetime,
    conditions: ConditionsSheet | None = None,
    air: Sequence[LogConditions] = (),
    logs: Sequence[Log] = (),
    title: str | None = None,
    more: Sequence[Section] = (),
) -> Report:
    """Word and format everything that a report of `comparison` says.

    Parameters
    ----------
    comparison : Comparison
        What was found.
    car : Car
        The car sheet; its name and main data head the report.
    made_at : datetime
        When the report is made; printed as it is.
    conditions : ConditionsSheet, optional
        Tells which changes were made between the sides.
    air : sequence of LogConditions
        Day, air and direction of each log, as resolved for the comparison.
    logs : sequence of Log
        The files that were read, for the doubts in their columns.
    title : str, optional
        Heads the report in place of a title made from the changes.
    more : sequence of Section
        What else is known of the two sides, such as a prediction; it stands behind the measures.
    """
    changes = conditions.changes if conditions else ()
    facts = Facts(_facts(comparison, car, changes, air, made_at))
    sections = (
        Section("What was compared", "", (facts,)),
        curves_section(comparison),
        measures_section(comparison),
        *more,
        checks_section(comparison),
        pulls_section(comparison),
        conditions_section(air),
        doubts_section(comparison, logs),
        method_section(comparison, main_measure(comparison)),
        cautions_section(comparison.cautions),
        next_section(comparison),
    )
    made = made_with(made_at)
    return Report(
        title=title or _title(car, changes),
        headline=headline(comparison),
        sections=tuple(section for section in sections if section is not None),
        footer=(made, ESTIMATES),
        picture_footer=(
            made,
            "A part of the record: all measures, checks, pulls and conditions stand in the full report.",
        ),
    )


def _title(car: Car, changes: Sequence[Change]) -> str:
    return f"{car.name}: {listed([change.what for change in changes])}" if changes else f"{car.name}: before and after"


def _facts(
    comparison: Comparison,
    car: Car,
    changes: Sequence[Change],
    air: Sequence[LogConditions],
    made_at: datetime.datetime,
) -> tuple[Fact, ...]:
    window = Rounding(-1, "rpm")
    low, high = comparison.window_rpm
    facts = [Fact("Car", "; ".join([car.name, *car_data(car)]))]
    facts.append(Fact("Change", "; ".join(_change(change) for change in changes) or "not stated"))
    days = [f"{side}: {days}" for side in ("before", "after") if (days := _days(air, side))]
    facts += [Fact("Test days", "; ".join(days))] if days else []
    facts.append(Fact("Window", f"{window.bare(low)} to {window.plain(high)}"))
    facts.append(Fact("Report made", moment(made_at)))
    return tuple(facts)


def _change(change: Change) -> str:
    return f"{change.what} ({moment(change.when)})" if change.when else change.what


def _days(air: Sequence[LogConditions], side: str) -> str:
    """Each test day of a side once, in order, with its date where it is known and not the label itself."""
    days: dict[str, str] = {}
    for entry in air:
        if entry.side == side:
            date = moment(datetime.datetime.combine(entry.when, datetime.time())) if entry.when else ""
            days.setdefault(entry.day, date)
    return ", ".join(f"{day} ({date})" if date else day for day, date in days.items())
