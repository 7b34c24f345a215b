"""Power at the wheels for a report: the absolute curve with its band, pull by pull, and what it rests on."""

import datetime
from collections.abc import Sequence
from dataclasses import replace
from typing import Literal

import numpy as np

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.mean_power import MeanPower
from pullproof.analysis.wheel_power import PowerCurve, Standard, torque
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.report.drawables import Band, CurveDrawing, Line, Panel, axis_label, padded
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
from pullproof.report.rounding import NBSP, Rounding, significant
from pullproof.report.wording import count, level_text, listed

__all__ = [
    "STANDARD_NAMES",
    "absolute_power_section",
    "peak_text",
    "power_report",
    "power_sentence",
    "pull_rows",
    "torque_text",
]

Side = Literal["before", "after"]

STANDARD_NAMES = {"sae-j1349": "SAE J1349", "iso-1585": "ISO 1585", "none": "none"}

RPM = Rounding(-1, "rpm")


def absolute_power_section(before: MeanPower, after: MeanPower) -> Section:
    """Both sides of a comparison, each with the band of its absolute power."""
    drawing = _drawing("before and after", (("before", before), ("after", after)))
    shared = (
        "The bands hold the absolute power of each side. Most of their width is the same on both sides (mass, tyre, "
        "road), so it does not count in the difference: for that see the curves and measures above, which are also "
        "adjusted for the weather; these curves are not."
    )
    notes = (f"Peak before {peak_text(before)}; after {peak_text(after)}.", shared)
    return Section(
        "Power at the wheels",
        "As driven, not corrected to any standard day.",
        (Plate("Wheel power, absolute", drawing, notes, picture=False),),
        picture=False,
    )


def _drawing(
    what: str, sides: Sequence[tuple[Side | None, MeanPower]], single: Sequence[PowerCurve] = ()
) -> CurveDrawing:
    bands = tuple(
        Band(f"hatched: {level_text(mean.level)} band", mean.rpm, mean.lower_kw, mean.upper_kw, side or "mean")
        for side, mean in sides
    )
    lines = [Line("pull", "", curve.rpm, curve.wheel_power_kw) for curve in single]
    lines += [Line(side or "mean", side or "mean", mean.rpm, mean.power_kw) for side, mean in sides]
    values = [*(band.lower for band in bands), *(band.upper for band in bands), *(line.y for line in lines)]
    means = [f"{side or 'mean'}: {peak_text(mean)}" for side, mean in sides]
    return CurveDrawing(
        title=f"Wheel power over engine speed, {what}",
        description=f"Wheel power in kW against engine speed in rpm with its {level_text(sides[0][1].level)} band, "
        f"hatched. Peak {listed(means)}." + (" Thin lines: the single pulls." if single else ""),
        x_label="engine speed, rpm",
        x_range=_span([line.x for line in lines]),
        panels=(Panel(axis_label("wheel power", "kW"), padded(values), tuple(lines), bands),),
    )


def _span(axes: Sequence[Array]) -> tuple[float, float]:
    return min(float(x.min()) for x in axes), max(float(x.max()) for x in axes)


def peak_text(mean: MeanPower) -> str:
    """`196 kW (95 % interval 184 to 208 kW) at 6050 rpm`."""
    at = mean.peak
    interval = (float(mean.lower_kw[at]), float(mean.upper_kw[at]))
    return _peak(float(mean.power_kw[at]), interval, float(mean.rpm[at]), mean.level)


def torque_text(mean: MeanPower) -> str:
    """`312 N m (95 % interval 290 to 334 N m) at 3150 rpm`."""
    at = int(np.argmax(mean.torque_nm))
    ends = (torque(end, mean.rpm)[at] for end in (mean.lower_kw, mean.upper_kw))
    low, high = (float(end) for end in ends)
    return _peak(float(mean.torque_nm[at]), (low, high), float(mean.rpm[at]), mean.level, "N m")


def _peak(value: float, interval: tuple[float, float], rpm: float, level: float, unit: str = "kW") -> str:
    rounding = Rounding.of(interval, value, unit)
    ends = f"{rounding.bare(interval[0])}{NBSP}to{NBSP}{rounding.plain(interval[1])}"
    return f"{rounding.plain(value)} ({level_text(level)} interval {ends}) at {RPM.plain(rpm)}"


def power_sentence(mean: MeanPower, standard: Standard) -> str:
    """The answer in one sentence, or two where a standard corrects it."""
    pulls = f"the mean of {mean.pulls} pulls" if mean.pulls > 1 else "one pull"
    sentence = (
        f"Power at the wheels peaks at {peak_text(mean)}, {pulls}; "
        f"torque, as wheel power over engine speed, at {torque_text(mean)}."
    )
    factors = [curve.correction.factor for curve in mean.curves if curve.correction.factor is not None]
    if standard == "none" or not factors:
        return sentence
    if len(factors) < len(mean.curves):
        some = f"{len(factors)} of {len(mean.curves)} curves can be corrected by {STANDARD_NAMES[standard]}"
        return f"{sentence} {some}, so the mean is not."
    factor = float(np.mean(factors))
    at = mean.peak
    interval = (factor * float(mean.lower_kw[at]), factor * float(mean.upper_kw[at]))
    corrected = Rounding.of(interval, 1.0, "kW").plain(factor * float(mean.power_kw[at]))
    return f"{sentence} Corrected by {STANDARD_NAMES[standard]} (factor {factor:.3f}) it is {corrected}."


def power_report(
    curves: Sequence[PowerCurve],
    mean: MeanPower,
    *,
    standard: Standard,
    car: Car,
    made_at: datetime.datetime,
    left_out: Sequence[str] = (),
    more: Sequence[Section] = (),
) -> Report:
    """A report on the power of some pulls.

    Parameters
    ----------
    curves : sequence of PowerCurve
        One for each pull.
    mean : MeanPower
        All of them together.
    standard : str
        The standard that was asked for.
    car : Car
        Its name and main data head the report.
    made_at : datetime
        Printed as it is.
    left_out : sequence of str
        Sentences on pulls that give no curve, and on what else is missing.
    more : sequence of Section
        What else is shown, such as a compressor map.
    """
    made = made_with(made_at)
    return Report(
        title=f"{car.name}: power at the wheels",
        headline=_headline(mean, standard),
        sections=(
            Section("What was driven", "", (_facts(curves, standard, car, made_at),)),
            _curve_section(curves, mean),
            _pulls_section(curves, standard),
            *more,
            _rests_on_section(mean),
            _doubts_section(mean, curves, left_out),
            cautions_section(CAUTIONS),
        ),
        footer=(made, ESTIMATES),
        picture_footer=(made, "A part of the record: pulls, inputs and doubts stand in the full report."),
        subject="Power",
    )


def _headline(mean: MeanPower, standard: Standard) -> Headline:
    at = mean.peak
    interval = (float(mean.lower_kw[at]), float(mean.upper_kw[at]))
    rounding = Rounding.of(interval, float(mean.power_kw[at]), "kW")
    crank = mean.curves[0].crank.efficiency
    wheels = (
        "Power that the tyres deliver to the road plus what goes into the rotating parts, from acceleration, mass and "
        "road load."
    )
    at_the_crank = (
        f"At the crankshaft, estimated with a driveline efficiency of {crank.value:.2f} ± {crank.half_width:.2f} "
        f"({crank.origin}): {_crank_text(mean)}."
    )
    not_for_parts = (
        "The interval is for the absolute power. Two sets of pulls compare better than that: use a comparison for what "
        "a part changed."
    )
    return Headline(
        sentence=power_sentence(mean, standard),
        sign="≈",
        word="estimate",
        measure="peak wheel power",
        number=rounding.bare(float(mean.power_kw[at])),
        unit="kW",
        interval=f"{level_text(mean.level)} interval {rounding.bare(interval[0])}{NBSP}to{NBSP}"
        f"{rounding.plain(interval[1])}",
        meaning=(wheels, at_the_crank, not_for_parts),
        drawing=None,
        heading="Answer",
    )


def _crank_text(mean: MeanPower) -> str:
    peaks = [(float(curve.crank.power_kw.max()), curve.crank) for curve in mean.curves]
    value = float(np.mean([peak for peak, _ in peaks]))
    ends = [
        (float(crank.lower_kw[np.argmax(crank.power_kw)]), float(crank.upper_kw[np.argmax(crank.power_kw)]))
        for _, crank in peaks
    ]
    interval = (float(np.mean([low for low, _ in ends])), float(np.mean([high for _, high in ends])))
    rounding = Rounding.of(interval, value, "kW")
    return f"{rounding.plain(value)} ({rounding.bare(interval[0])}{NBSP}to{NBSP}{rounding.plain(interval[1])})"


def _facts(curves: Sequence[PowerCurve], standard: Standard, car: Car, made_at: datetime.datetime) -> Facts:
    logs = dict.fromkeys(pull.log for curve in curves for pull in curve.pulls)
    return Facts(
        (
            Fact("Car", "; ".join([car.name, *car_data(car)])),
            Fact("Logs", ", ".join(logs)),
            Fact("Pulls", count(len(curves), "pull")),
            Fact("Correction", STANDARD_NAMES[standard]),
            Fact("Report made", moment(made_at)),
        )
    )


def _curve_section(curves: Sequence[PowerCurve], mean: MeanPower) -> Section:
    several = len(curves) > 1
    drawing = _drawing("mean of the pulls" if several else "one pull", ((None, mean),), curves if several else ())
    notes = [f"Peak {peak_text(mean)}.", f"Peak torque, wheel power over engine speed: {torque_text(mean)}."]
    if several:
        notes.append("Thin lines: the single pulls. Their scatter is what repeats; the band also holds what all share.")
    if mean.pulls > len(mean.curves):
        notes.append("Out and back runs are paired, so that a constant slope and wind cancel.")
    return Section("Curve", "Power as driven, with its band.", (Plate("Wheel power", drawing, tuple(notes)),))


def _pulls_section(curves: Sequence[PowerCurve], standard: Standard) -> Section:
    columns = [
        Column("Pull", 24),
        Column("Gear", 7),
        Column("Peak power", 24),
        Column("Peak torque, wheel power over engine speed", 24),
    ]
    if standard != "none":
        columns += [Column("Factor", 9), Column("Peak, corrected", 13)]
    rows = tuple(Row(tuple(Cell(text) for text in cells)) for cells in pull_rows(curves, standard))
    table = Table("Each pull", tuple(columns), rows, picture=False)
    return Section("Pulls", "Every pull that gives a curve.", (table,), picture=False)


def pull_rows(curves: Sequence[PowerCurve], standard: Standard) -> list[tuple[str, ...]]:
    """Log and start, gear, peaks of power and torque with intervals, and with a standard factor and corrected peak."""
    rows = []
    for curve in curves:
        at = int(np.argmax(curve.wheel_power_kw))
        interval = (float(curve.lower_kw[at]), float(curve.upper_kw[at]))
        pull = curve.pulls[0]
        cells = [
            f"{pull.log}, {Rounding(1, 's').plain(pull.start_s)}",
            "?" if pull.gear is None else str(pull.gear),
            _peak(float(curve.wheel_power_kw[at]), interval, float(curve.rpm[at]), curve.level),
            _peak_torque(curve),
        ]
        if standard != "none":
            corrected = curve.corrected_kw
            cells += (
                ["none", "not corrected"]
                if corrected is None
                else [
                    f"{curve.correction.factor:.3f}",
                    replace(Rounding.of(interval, 1.0, "kW"), unit="kW").plain(float(corrected[at])),
                ]
            )
        rows.append(tuple(cells))
    return rows


def _peak_torque(curve: PowerCurve) -> str:
    at = int(np.argmax(curve.wheel_torque_nm))
    low, high = (float(torque(end, curve.rpm)[at]) for end in (curve.lower_kw, curve.upper_kw))
    return _peak(float(curve.wheel_torque_nm[at]), (low, high), float(curve.rpm[at]), curve.level, "N m")


def _rests_on_section(mean: MeanPower) -> Section:
    curve = mean.curves[0]
    rows = tuple(
        Row(
            (
                Cell(share.given.name, share.given.origin),
                Cell("" if share.given.name == "differentiation" else _worded(share.given.value, 4, share.given.unit)),
                Cell(f"±{NBSP}{_worded(1.96 * share.given.doubt, 2, share.given.unit)}"),
                Cell(f"{share.effect_pct:.1f}{NBSP}%"),
                Cell(f"{100 * share.share:.0f}{NBSP}%"),
            )
        )
        for share in curve.inputs
        if share.share >= 0.005
    )
    table = Table(
        "What the power rests on, the largest doubt first",
        (
            Column("Number", 40),
            Column("Value", 16),
            Column("Doubt, 95 %", 16),
            Column("Moves the power by", 14),
            Column("Share of the doubt", 14),
        ),
        rows,
        picture=False,
    )
    note = "Of the first pull. Better figures at the top of the list narrow the band most."
    return Section("What it rests on", note, (table,), picture=False)


def _worded(value: float, digits: int, unit: str) -> str:
    return significant(value, digits, {"1": "", "m2": "m²", "kg/m3": "kg/m³", "m/s2": "m/s²"}.get(unit, unit))


def _doubts_section(mean: MeanPower, curves: Sequence[PowerCurve], left_out: Sequence[str]) -> Section:
    lines = dict.fromkeys(as_sentence(line) for curve in mean.curves for line in curve.doubts)
    reasons = dict.fromkeys(as_sentence(curve.correction.reason) for curve in curves if curve.correction.reason)
    blocks: list[Paragraph | Points] = [Points((*reasons, *lines))]
    if left_out:
        blocks += [Paragraph("Left out:"), Points(tuple(left_out))]
    return Section("Doubts and gaps", "What a sceptic would ask first.", tuple(blocks), picture=False)
