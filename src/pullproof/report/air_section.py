"""The air system before and after, for a report and for the console."""

from collections.abc import Sequence
from dataclasses import replace

import numpy as np

from pullproof.analysis.air_system import AirComparison, AirDifference, DutyDrift, LeakSuspicion, NotCompared
from pullproof.analysis.comparison.result import MeasureDifference
from pullproof.report.drawables import IntervalDrawing, axis_label, curve_drawing
from pullproof.report.evidence import as_sentence
from pullproof.report.findings import curve_notes
from pullproof.report.model import Cell, Column, Paragraph, Plate, Points, Row, Section, Table
from pullproof.report.rounding import MINUS, NBSP, Rounding
from pullproof.report.wording import (
    capitalised,
    difference_unit,
    level_text,
    listed,
    measure_name,
    typographic,
    unit_text,
)

__all__ = ["air_lines", "air_rows", "air_section"]

PICTURED = ("pressure_ratio", "cooler_loss", "inlet_loss", "density_ratio", "isentropic_efficiency", "corrected_flow")
"""Curves that are drawn, the first few that say enough."""
MOST_PICTURES = 3
TELLING = 0.03
"""Half width of an interval, as a share of the quantity, beyond which the curve of an estimate shows nothing."""

MEASURED, ESTIMATE = ("measured", "≈ estimate")

Block = Paragraph | Points | Table | Plate


def air_section(air: AirComparison) -> Section:
    """Every quantity with its difference, pictures of some, and what the duty says of a leak."""
    blocks: list[Block] = []
    rows = _rows(air)
    if rows:
        blocks += [_table(rows, _level(air)), *_pictures(air)]
    blocks += [Paragraph(typographic(line)) for line in air_lines(air)]
    if air.leak.suspicion == "suspected":
        blocks += [
            Paragraph("What else raises the duty:"),
            Points(tuple(as_sentence(reason) for reason in air.leak.other_reasons)),
            Paragraph("What to do:"),
            Points(air.leak.next_steps),
        ]
    rests = _rests_on(air)
    if rests:
        blocks += [Paragraph("These numbers take for granted:"), Points(rests)]
    note = (
        "Means over the window, after minus before at the mean conditions of all the pulls. The interval holds the "
        "scatter of runs and days, the weather, the sensors, and what had to be assumed; ≈ marks an estimate, which "
        "rests on something that nobody measured."
    )
    return Section("The air system, before and after", note if rows else "", tuple(blocks), picture=False)


def air_lines(air: AirComparison) -> tuple[str, ...]:
    """What is said in sentences: knock, leak, duty from day to day, and what these logs do not tell."""
    return tuple(filter(None, (air.knock, *_leak_lines(air.leak), *_drift_lines(air), *_untold(air.not_compared))))


def air_rows(air: AirComparison) -> list[tuple[str, ...]]:
    """Quantity, before, after, difference, interval, and whether it was measured, worded."""
    worded: list[tuple[str, ...]] = []
    for one in _ordered(air):
        rounding, level = _roundings(one)
        worded.append(
            (
                _name(one),
                level.plain(one.before),
                level.plain(one.after),
                rounding.signed(one.difference),
                rounding.interval(one.interval),
                ESTIMATE if isinstance(one, AirDifference) and one.estimate else MEASURED,
            )
        )
    return worded


def _ordered(air: AirComparison) -> list[AirDifference | MeasureDifference]:
    """Air flow first, then along the air's way; what the log says of knock last."""
    flow = [one for one in air.measured if one.id.startswith("air_mass_flow")]
    rest = [one for one in air.measured if one not in flow]
    return [*flow, *air.quantities, *rest]


def _name(one: AirDifference | MeasureDifference) -> str:
    return one.label if isinstance(one, AirDifference) else measure_name(one.id)


def _roundings(one: AirDifference | MeasureDifference) -> tuple[Rounding, Rounding]:
    """Of the difference, and of the two values, which keep its digits."""
    rounding = Rounding.of(one.interval, one.before, difference_unit(one.unit, one.id))
    return rounding, replace(rounding, unit=unit_text(one.unit, one.id))


def _level(air: AirComparison) -> str:
    return level_text(next(iter(_ordered(air))).level)


def _table(rows: tuple[Row, ...], level: str) -> Table:
    columns = (
        Column("Quantity", 27),
        Column("Before → after", 22),
        Column(f"Difference, {level} interval", 29, picture="below"),
        Column("Measured?", 22, picture="beside"),
    )
    return Table("The air system before and after, with the difference and its interval", columns, rows)


def _rows(air: AirComparison) -> tuple[Row, ...]:
    return tuple(_row(one) for one in _ordered(air))


def _row(one: AirDifference | MeasureDifference) -> Row:
    rounding, level = _roundings(one)
    difference = f"{rounding.signed(one.difference)} ({rounding.interval(one.interval)})"
    return Row(
        (
            Cell(capitalised(_name(one))),
            Cell(f"{level.bare(one.before)}{NBSP}→ {level.plain(one.after)}"),
            Cell(difference, drawing=_interval(one, rounding)),
            _basis(one),
        )
    )


def _basis(one: AirDifference | MeasureDifference) -> Cell:
    if isinstance(one, MeasureDifference):
        return Cell(MEASURED, "As among the measures.")
    if not one.estimate:
        return Cell(MEASURED)
    return Cell(ESTIMATE, f"Assumed: {listed(one.assumed)}." if one.assumed else "")


def _interval(one: AirDifference | MeasureDifference, rounding: Rounding) -> IntervalDrawing | None:
    low, high = one.interval
    if not np.all(np.isfinite([low, high, one.difference])):
        return None
    reach = 1.15 * max(abs(low), abs(high)) or 1.0
    return IntervalDrawing(
        title=f"{capitalised(_name(one))}, after {MINUS} before",
        description=f"Difference {rounding.signed(one.difference)}, {level_text(one.level)} interval "
        f"{rounding.interval(one.interval)}, drawn against zero.",
        x_label=axis_label(f"after {MINUS} before", rounding.unit),
        x_range=(-reach, reach),
        value=one.difference,
        interval=one.interval,
        worth=0.0,
    )


def _pictures(air: AirComparison) -> list[Plate]:
    found = {one.id: one for one in air.quantities}
    plates = []
    for one in (found[name] for name in PICTURED if name in found):
        half = 0.5 * (one.interval[1] - one.interval[0])
        if one.curve is None or (one.estimate and half > TELLING * abs(one.before)):
            continue
        drawing = curve_drawing(replace(one.curve, channel=one.label), one.level, None)
        if drawing is not None:
            notes = curve_notes(one.curve, None)
            said = f"An estimate; assumed: {listed(one.assumed)}." if one.assumed else ""
            plates.append(Plate(capitalised(one.label), drawing, (*notes, *filter(None, [said])), picture=False))
    return plates[:MOST_PICTURES]


def _leak_lines(leak: LeakSuspicion) -> tuple[str, ...]:
    if leak.duty is None:
        return (leak.statement,)
    return (f"Leak: {leak.suspicion}. {leak.statement}", *([] if leak.meter is None else [leak.meter.statement]))


def _drift_lines(air: AirComparison) -> tuple[str, ...]:
    """Each side where duty can be followed over days; one line for why it cannot."""
    lines = [f"{capitalised(side)}: {one.statement}" for side, one in air.drift.items() if isinstance(one, DutyDrift)]
    reasons: dict[str, list[str]] = {}
    for side, one in air.drift.items():
        if isinstance(one, NotCompared):
            reasons.setdefault(one.reason, []).append(side)
    lines += [
        f"Whether duty creeps up from day to day is not told {listed(sides)}: {reason}."
        for reason, sides in reasons.items()
    ]
    return tuple(lines)


def _untold(parts: Sequence[NotCompared]) -> tuple[str, ...]:
    """What these logs do not tell, in one line, and what to log, in another."""
    if not parts:
        return ()
    reasons: dict[str, list[str]] = {}
    for part in parts:
        reasons.setdefault(part.reason, []).append(part.label)
    told = "; ".join(f"{listed(labels)} ({reason})" for reason, labels in reasons.items())
    advice = " ".join(dict.fromkeys(as_sentence(part.advice) for part in parts if part.advice))
    return (f"Not told by these logs: {told}.", *([f"To see more: {advice}"] if advice else []))


def _rests_on(air: AirComparison) -> tuple[str, ...]:
    doubts = [doubt for one in air.quantities for doubt in one.doubts]
    return tuple(dict.fromkeys(as_sentence(doubt) for doubt in doubts))
