"""An air path for a report: loss by element, what another path would change, and what is needed to make it."""

import datetime
from collections.abc import Sequence

import numpy as np

from pullproof.analysis.airpath import CutList, Effect, PathComparison, PathResult
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.report.cut_section import cut_section
from pullproof.report.drawables import (
    DIFFERENCE_LABEL,
    Band,
    CurveDrawing,
    IntervalDrawing,
    Level,
    Line,
    Panel,
    axis_label,
    padded,
)
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
from pullproof.report.path_drawables import stack_drawing
from pullproof.report.rounding import NBSP, Rounding, significant
from pullproof.report.wording import capitalised, difference_unit, level_text, typographic

__all__ = [
    "airpath_report",
    "effect_cells",
    "effects",
    "element_rows",
    "loss_section",
    "path_sentence",
    "total_text",
]

RPM = Rounding(-1, "rpm")


def airpath_report(
    paths: Sequence[PathResult],
    comparison: PathComparison | None,
    cuts: CutList,
    *,
    car: Car,
    made_at: datetime.datetime,
) -> Report:
    """A report on one path, or on a change of path.

    Parameters
    ----------
    paths : sequence of PathResult
        One path, or the one before and the one after.
    comparison : PathComparison or None
        What the change would do, where there are two.
    cuts : CutList
        Of the path that is to be made.
    car : Car
        Its name and main data head the report.
    made_at : datetime
        Printed as it is.
    """
    made = made_with(made_at)
    sections = [
        Section("What was reckoned", "", (_facts(paths, car, made_at),)),
        loss_section(paths),
        *([_change_section(comparison)] if comparison else []),
        cut_section(cuts),
        _doubts_section(paths, comparison),
        cautions_section(paths[0].cautions),
    ]
    return Report(
        title=f"{car.name}: {' in place of '.join(path.name for path in reversed(paths))}",
        headline=_headline(paths[0]) if comparison is None else _change_headline(comparison),
        sections=tuple(sections),
        footer=(made, ESTIMATES),
        picture_footer=(made, "A part of the record: elements, cut list and assumptions stand in the full report."),
        subject="Air path",
    )


def path_sentence(path: PathResult) -> str:
    """The loss of one path in a sentence."""
    at = int(np.nanargmax(path.total.estimate))
    flow = significant(float(path.flow.air_mass_flow_gs[at]), 3, "g/s")
    return f"{path.name} loses {total_text(path, at)} at {RPM.plain(float(path.flow.rpm[at]))} and {flow}."


def total_text(path: PathResult, at: int) -> str:
    """`5.4 kPa (95 % interval 3.9 to 6.9 kPa)`."""
    value = float(path.total.estimate[at])
    interval = (float(path.total.lower[at]), float(path.total.upper[at]))
    words = f"{level_text(path.total.level)} interval {_from_to(interval)}"
    return f"{Rounding.of(interval, value, 'kPa').plain(value)} ({words})"


def _from_to(interval: tuple[float, float], unit: str = "kPa") -> str:
    rounding = Rounding.of(interval, interval[1], unit)
    return f"{rounding.bare(interval[0])}{NBSP}to{NBSP}{rounding.plain(interval[1])}"


def _headline(path: PathResult) -> Headline:
    at = int(np.nanargmax(path.total.estimate))
    value = float(path.total.estimate[at])
    interval = (float(path.total.lower[at]), float(path.total.upper[at]))
    return Headline(
        sentence=path_sentence(path),
        sign="≈",
        word="estimate",
        measure="largest pressure loss",
        number=Rounding.of(interval, value, "").bare(value),
        unit="kPa",
        interval=f"{level_text(path.total.level)} interval {_from_to(interval)}",
        meaning=(f"Over the flow of {path.flow.origin}.", "By handbook formulas; no part of it is measured."),
        drawing=None,
        heading="Answer",
    )


def _change_headline(comparison: PathComparison) -> Headline:
    saved = comparison.mean_saved
    low, high = saved.interval
    interval = (-high, -low)
    rounding = Rounding.of(interval, saved.estimate, "kPa")
    window = comparison.before.flow.window_rpm
    return Headline(
        sentence=typographic(comparison.sentence),
        sign="≈",
        word="prediction",
        measure=f"mean pressure loss, {DIFFERENCE_LABEL}",
        number=Rounding(rounding.places, "").signed(-saved.estimate),
        unit="kPa",
        interval=f"{level_text(saved.level)} interval {rounding.interval(interval)}",
        meaning=(
            f"Mean over {RPM.bare(window[0])} to {RPM.plain(window[1])}, flow of {comparison.before.flow.origin}.",
            "Nothing here is measured: it is what a fair comparison of logs should find.",
        ),
        drawing=IntervalDrawing(
            title=f"Mean pressure loss, {DIFFERENCE_LABEL}",
            description=f"Difference {rounding.signed(-saved.estimate)}, {level_text(saved.level)} interval "
            f"{rounding.interval(interval)}, drawn against zero.",
            x_label=axis_label(f"pressure loss, {DIFFERENCE_LABEL}", "kPa"),
            x_range=(-1.15 * max(abs(low), abs(high)), 1.15 * max(abs(low), abs(high))),
            value=-saved.estimate,
            interval=interval,
            worth=0.0,
            large=True,
        ),
        heading="Expected",
    )


def _facts(paths: Sequence[PathResult], car: Car, made_at: datetime.datetime) -> Facts:
    flow = paths[0].flow
    names = ("Path before", "Path after") if len(paths) > 1 else ("Path",)
    shape = [
        Fact(name, f"{path.name}; {path.length_mm:.0f}{NBSP}mm long, {significant(path.volume_l, 3, 'l')} of air")
        for name, path in zip(names, paths, strict=True)
    ]
    low, high = float(np.nanmin(flow.air_mass_flow_gs)), float(np.nanmax(flow.air_mass_flow_gs))
    return Facts(
        (
            Fact("Car", "; ".join([car.name, *car_data(car)])),
            *shape,
            Fact("Flow", f"{significant(low, 3)} to {significant(high, 3, 'g/s')}, from {flow.origin}"),
            Fact("Means over", f"{RPM.bare(flow.window_rpm[0])} to {RPM.plain(flow.window_rpm[1])}"),
            Fact("Report made", moment(made_at)),
        )
    )


def loss_section(paths: Sequence[PathResult], *, in_picture: bool = True) -> Section:
    """Where the pressure goes: stacked bars, and over engine speed, and each element with its interval."""
    two = len(paths) > 1
    at = int(np.nanargmax(paths[0].total.estimate))
    sides = ("before", "after") if two else ("",)
    notes = [
        f"{side.capitalize()}: {total_text(path, at)}." if side else f"{capitalised(total_text(path, at))}."
        for side, path in zip(sides, paths, strict=True)
    ]
    notes += [
        "Air passes from the top of a bar to its foot; the numbers are those of the elements below.",
        "Hatched: bends //, hose joints dotted, changes of bore crossed; plain: straight pipe.",
        f"Largest Mach number: {', '.join(f'{path.largest_mach:.2f}' for path in paths)}; handbooks hold up to 0.30.",
    ]
    blocks: list[Plate | Table] = [Plate("Loss by element", stack_drawing(paths), tuple(notes))]
    for side, path in zip(sides, paths, strict=True):
        heading = f"Elements {side}, {path.name}" if side else f"Elements, {path.name}"
        blocks.append(
            Table(
                f"{heading}, at {RPM.plain(float(path.flow.rpm[at]))}",
                (
                    Column("Element", 46),
                    Column("Loss", 30),
                    Column("Share", 10),
                    Column("Mach number", 14),
                ),
                tuple(Row(tuple(Cell(text) for text in cells)) for cells in element_rows(path, at)),
                picture=False,
            )
        )
    return Section(
        "Pressure loss",
        "Of total pressure, from handbook formulas, in the order in which air passes.",
        tuple(blocks),
        picture=in_picture,
    )


def element_rows(path: PathResult, at: int | None = None) -> list[tuple[str, str, str, str]]:
    """Element, loss with interval, share of the whole and Mach number, worded; at the largest loss if not said."""
    index = int(np.nanargmax(path.total.estimate)) if at is None else at
    rows = []
    for element in path.elements:
        value = float(element.loss.estimate[index])
        interval = (float(element.loss.lower[index]), float(element.loss.upper[index]))
        share = 100 * value / float(path.total.estimate[index])
        rows.append(
            (
                f"{element.number} {typographic(element.label)}",
                f"{Rounding.of(interval, value, 'kPa').plain(value)} ({_from_to(interval)})",
                f"{share:.0f}{NBSP}%",
                f"{float(element.mach[index]):.2f}",
            )
        )
    return rows


def effects(comparison: PathComparison) -> list[tuple[str, Effect]]:
    """What a change of path does, after minus before, with what each number rests on."""
    low, high = comparison.mean_saved.interval
    loss = Effect("kPa", -comparison.mean_saved.estimate, (-high, -low), comparison.mean_saved.level, "handbook losses")
    work = comparison.compressor_power_change
    inside = comparison.before.flow.inside
    mean, lower, upper = (_mean(values[inside]) for values in (work.estimate, work.lower, work.upper))
    return [
        ("mean pressure loss", loss),
        ("mean wastegate duty, at equal boost", comparison.wastegate_duty_change),
        ("mean charge pressure, if the gate is held shut", comparison.mean_charge_pressure_gain),
        ("compressor power, at equal boost", Effect("%", mean, (lower, upper), work.level, "work of compression")),
        ("air temperature behind the compressor, at equal boost", comparison.mean_outlet_temperature_change),
        ("boost comes later by, in engine speed", comparison.spool_delay_rpm),
        ("boost comes later by, in time", comparison.spool_delay_seconds),
    ]


def _mean(values: Array) -> float:
    return float(np.nanmean(values)) if np.isfinite(values).any() else float("nan")


def effect_cells(name: str, effect: Effect) -> tuple[str, str, str]:
    """Name, change with its interval, and what it rests on."""
    # A change of duty is counted in points, one of power in per cent of it.
    unit = difference_unit(effect.unit, name) if "duty" in name else effect.unit
    rounding = Rounding.of(effect.interval, effect.estimate, unit)
    return name, f"{rounding.signed(effect.estimate)} ({rounding.interval(effect.interval)})", effect.basis


def _change_section(comparison: PathComparison) -> Section:
    rows = []
    for name, effect in effects(comparison):
        first, change, basis = effect_cells(name, effect)
        rows.append(Row((Cell(first.capitalize()), Cell(change), Cell(as_sentence(basis)))))
    level = level_text(comparison.mean_saved.level)
    table = Table(
        f"What the new path changes, {DIFFERENCE_LABEL}",
        (Column("Quantity", 28), Column(f"Change, {level} interval", 32, picture="below"), Column("Rests on", 40)),
        tuple(rows),
    )
    plate = Plate(
        "Loss over engine speed",
        _loss_drawing(comparison),
        ("Hatched: the interval of each path. What both paths share cancels in the difference below.",),
        picture=False,
    )
    volume = (
        f"Volume of air: {Rounding(2, 'l').signed(comparison.volume_change_l)}. A car has either more charge pressure "
        "or less wastegate duty, not both at once."
    )
    return Section(
        "What changes",
        "Means over the window. Not measured: what a comparison of logs should find.",
        (table, Paragraph(volume), plate),
    )


def _loss_drawing(comparison: PathComparison) -> CurveDrawing:
    rpm = comparison.before.flow.rpm
    before, after, saved = comparison.before.total, comparison.after.total, comparison.saved
    level = level_text(saved.level)
    top = Panel(
        axis_label("pressure loss", "kPa"),
        padded([before.lower, before.upper, after.lower, after.upper]),
        (Line("before", "before", rpm, before.estimate), Line("after", "after", rpm, after.estimate)),
        (
            Band(f"hatched: {level} bands", rpm, before.lower, before.upper, "before"),
            Band(f"hatched: {level} bands", rpm, after.lower, after.upper, "after"),
        ),
    )
    bottom = Panel(
        axis_label(DIFFERENCE_LABEL, "kPa"),
        padded([-saved.lower, -saved.upper, np.zeros(1)]),
        (Line("difference", DIFFERENCE_LABEL, rpm, -saved.estimate),),
        (Band(f"shaded: {level} band", rpm, -saved.upper, -saved.lower),),
        (Level("zero", 0.0, "no difference"),),
    )
    at = int(np.nanargmax(np.abs(saved.estimate)))
    interval = (-float(saved.upper[at]), -float(saved.lower[at]))
    rounding = Rounding.of(interval, 1.0, "kPa")
    largest = f"{rounding.signed(-float(saved.estimate[at]))} ({rounding.interval(interval)})"
    return CurveDrawing(
        title="Pressure loss over engine speed, before and after",
        description="Upper axes: pressure loss in kPa against engine speed in rpm, before (dashed, open circles) and "
        f"after (solid, filled squares), with their bands. Lower axes: {DIFFERENCE_LABEL}, largest "
        f"{largest} at {RPM.plain(float(rpm[at]))}.",
        x_label="engine speed, rpm",
        x_range=(float(rpm.min()), float(rpm.max())),
        panels=(top, bottom),
    )


def _doubts_section(paths: Sequence[PathResult], comparison: PathComparison | None) -> Section:
    assumed = comparison.assumptions if comparison else paths[0].flow.assumptions
    doubts = comparison.doubts if comparison else paths[0].doubts
    blocks: list[Paragraph | Points] = []
    for heading, lines in (("Taken for granted:", assumed), ("In doubt:", doubts)):
        if lines:
            blocks += [Paragraph(heading), Points(tuple(as_sentence(typographic(line)) for line in lines))]
    if not blocks:
        blocks.append(Paragraph("The flow is that of the logs, and nothing had to be assumed."))
    return Section("Assumptions and doubts", "What a sceptic would ask first.", tuple(blocks), picture=False)
