"""What was found: the headline, the curves, the measures and the fairness checks, worded for a report."""

from dataclasses import replace

import numpy as np

from pullproof.analysis.comparison.result import Comparison, CurveDifference, FairnessCheck, MeasureDifference
from pullproof.arrays import Array
from pullproof.report.drawables import curve_drawing, interval_drawing, quantity_of, worth_for_curve
from pullproof.report.model import Cell, Column, Headline, Paragraph, Plate, Row, Section, Table
from pullproof.report.rounding import NBSP, UNKNOWN, Rounding, significant
from pullproof.report.wording import (
    CHECK_STATUS,
    VERDICT_WORDS,
    capitalised,
    channel_name,
    check_name,
    count,
    difference_unit,
    level_text,
    listed,
    measure_meaning,
    measure_name,
    typographic,
    unit_text,
    verdict_meaning,
)

__all__ = ["checks_section", "curve_notes", "curves_section", "headline", "main_measure", "measures_section"]

NAMED_SHARES = 2
"""Parts of an adjustment that are named one by one; the rest is summed up."""
PICTURED = 6
"""Rows of a table that the picture for a chat has room for."""


def main_measure(comparison: Comparison) -> MeasureDifference | None:
    """The measure that the verdict speaks of; None where it had to be left out."""
    return next((measure for measure in comparison.measures if measure.id == comparison.main), None)


def headline(comparison: Comparison) -> Headline:
    """The verdict: the sentence as it was made, the number behind it, and what it rests on."""
    sentence = typographic(comparison.sentence)
    name = measure_name(comparison.main)
    measure = main_measure(comparison)
    if measure is None:
        return Headline(sentence, "?", "no answer", "", "", "", "", (_what_is(comparison.main),), None)
    unit, rounding = _printed(measure)
    if measure.censored:
        pinned = "Censored: it sits at its limit and cannot move, so it can show no difference."
        meaning: tuple[str, ...] = (_what_is(comparison.main), pinned, _rests_on(measure))
        return Headline(sentence, "–", "pinned", "", "", "", "", meaning, None)
    sign, word = VERDICT_WORDS[measure.verdict]
    return Headline(
        sentence=sentence,
        sign=sign,
        word=word,
        measure=name,
        number=replace(rounding, unit="").signed(measure.difference),
        unit="percentage points" if unit == "points" else unit,
        interval=f"{level_text(measure.level)} interval {rounding.interval(measure.interval)}",
        meaning=(
            _what_is(comparison.main),
            _verdict_meaning(measure, unit),
            _rests_on(measure),
        ),
        drawing=interval_drawing(measure, large=True),
    )


def _printed(measure: MeasureDifference) -> tuple[str, Rounding]:
    """Unit and rounding of the measure's differences."""
    unit = difference_unit(measure.unit, measure.id)
    scale = next((value for value in (measure.difference, measure.before, measure.after) if np.isfinite(value)), 0.0)
    return unit, Rounding.of(measure.interval, scale, unit)


def _what_is(measure: str) -> str:
    meaning = measure_meaning(measure)
    return capitalised(measure_name(measure)) + (f": {meaning}, one value a pull." if meaning else ".")


def _verdict_meaning(measure: MeasureDifference, unit: str) -> str:
    worth = measure.smallest_worth_having
    return verdict_meaning(measure.verdict, measure.interval, worth, significant(worth, 2, unit))


def _rests_on(measure: MeasureDifference) -> str:
    sides = [
        f"{count(pulls, 'pull')} on {count(days, 'test day')} {side}"
        for pulls, days, side in (
            (measure.pulls_before, measure.days_before, "before"),
            (measure.pulls_after, measure.days_after, "after"),
        )
    ]
    return f"It rests on {listed(sides)}."


def curves_section(comparison: Comparison) -> Section | None:
    """Curves before and after with their differences, the main measure's first; None where there is none to draw."""
    plates: list[Plate] = []
    main = comparison.main.partition(".")[0]
    for curve in sorted(comparison.curves, key=lambda curve: quantity_of(curve.channel) != main):
        worth = worth_for_curve(comparison, curve)
        drawing = curve_drawing(curve, comparison.level, worth)
        if drawing is not None:
            heading = capitalised(channel_name(curve.channel))
            plates.append(Plate(heading, drawing, curve_notes(curve, worth), picture=not plates))
    if not plates:
        return None
    return Section(
        "Curves",
        "Above: the mean of the pulls of each side. Below: after minus before at equal conditions; the band holds the "
        f"whole curve at once with {level_text(comparison.level)}.",
        tuple(plates),
    )


def curve_notes(curve: CurveDifference, worth: float | None) -> tuple[str, ...]:
    """Where a curve differs most, where its band is clear of zero, and what the dotted lines are."""
    unit = difference_unit(curve.unit, curve.channel)
    known = np.isfinite(curve.difference) & np.isfinite(curve.lower) & np.isfinite(curve.upper)
    if not known.any():
        return ("No band could be made for this curve, so it shows nothing but the means.",)
    rpm, difference = curve.rpm[known], curve.difference[known]
    lower, upper = curve.lower[known], curve.upper[known]
    at = int(np.argmax(np.abs(difference)))
    interval = (float(lower[at]), float(upper[at]))
    rounding = Rounding.of(interval, float(difference[at]), unit)
    largest = f"{rounding.signed(float(difference[at]))} ({rounding.interval(interval)})"
    notes = [f"Largest difference: {largest} at {_rpm(float(rpm[at]))}.", *_clear_of_zero(rpm, lower, upper)]
    if worth is not None:
        notes.append(f"Dotted lines: ±{significant(worth, 2, unit)}, the smallest difference worth having.")
    return tuple(notes)


def _clear_of_zero(rpm: Array, lower: Array, upper: Array) -> list[str]:
    found = [
        f"Band wholly {side} zero: {listed([f'{_rpm(a)} to {_rpm(b)}' for a, b in _stretches(rpm, clear)])}."
        for side, clear in (("below", upper < 0), ("above", lower > 0))
        if clear.any()
    ]
    return found or ["The band holds zero at every engine speed: no place on this curve is shown to have changed."]


def _stretches(rpm: Array, true: np.ndarray) -> list[tuple[float, float]]:
    """First and last engine speed of every unbroken run of `true`."""
    edges = np.flatnonzero(np.diff(np.concatenate([[False], true, [False]]).astype(int)))
    return [(float(rpm[first]), float(rpm[last - 1])) for first, last in zip(edges[::2], edges[1::2], strict=True)]


def _rpm(value: float) -> str:
    return Rounding(-1, "rpm").plain(value)


def measures_section(comparison: Comparison) -> Section:
    """Every measure with its interval, the main one first, and a word on how many looks were taken."""
    main = main_measure(comparison)
    ordered = ([main] if main else []) + [measure for measure in comparison.measures if measure is not main]
    pictured = sorted(ordered, key=lambda measure: (measure is not main, measure.verdict == "unclear"))[:PICTURED]
    if not ordered:
        return Section("Measures", "", (Paragraph("No measure could be taken on both sides."),))
    table = Table(
        "Measures before and after, with the difference and its interval",
        (
            Column("Measure", 17),
            Column("Before → after", 16),
            Column("Raw difference", 13),
            Column("Adjustment", 17),
            Column(f"Difference, {level_text(comparison.level)} interval", 24, picture="below"),
            Column("Verdict", 13, picture="beside"),
        ),
        tuple(_measure_row(measure, ordered[0], in_picture=measure in pictured) for measure in ordered),
    )
    return Section(
        "Measures",
        "Difference = raw difference + adjustment for weather and whatever else was recorded to differ. "
        "Bar: the interval. Shaded: smaller than is worth having. Points: percentage points.",
        (table, Paragraph(_looks(comparison))),
    )


def _measure_row(measure: MeasureDifference, first: MeasureDifference, *, in_picture: bool) -> Row:
    unit, rounding = _printed(measure)
    name, is_main = capitalised(measure_name(measure.id)), measure is first
    basis = f"{_basis(measure)}." if is_main or _basis(measure) != _basis(first) else ""
    doubts = " ".join(typographic(doubt) for doubt in measure.doubts)
    note = " ".join(filter(None, (basis, doubts)))
    if measure.censored:
        difference = Cell("none", "Sits at its limit: no difference can show.")
        verdict = Cell("– pinned", "Censored.")
    else:
        difference = Cell(
            f"{rounding.signed(measure.difference)} ({rounding.interval(measure.interval)})",
            drawing=interval_drawing(measure),
        )
        verdict = Cell(" ".join(VERDICT_WORDS[measure.verdict]), f"Worth having: {_worth(measure, unit)}.")
    return Row(
        (
            Cell(name, note),
            Cell(_from_to(measure, rounding)),
            Cell(rounding.signed(measure.raw_difference)),
            Cell(rounding.signed(measure.adjustment), _shares(measure, rounding)),
            difference,
            verdict,
        ),
        main=is_main,
        picture=in_picture,
    )


def _basis(measure: MeasureDifference) -> str:
    """What a measure rests on; the first row says it, and every row that differs from it."""
    return (
        f"{measure.pulls_before} + {measure.pulls_after} pulls, {measure.days_before} + {measure.days_after} test days"
    )


def _from_to(measure: MeasureDifference, rounding: Rounding) -> str:
    """Both values to the digits of their difference, in the unit of the measure itself."""
    level = replace(rounding, unit=unit_text(measure.unit, measure.id))
    return f"{level.bare(measure.before)}{NBSP}→ {level.plain(measure.after)}"


def _worth(measure: MeasureDifference, unit: str) -> str:
    worth = significant(measure.smallest_worth_having, 2, unit)
    return worth if worth == UNKNOWN else f"±{worth}"


def _shares(measure: MeasureDifference, rounding: Rounding) -> str:
    """What the adjustment is made of, the larger parts by name; what vanishes in rounding is left out."""
    shares = sorted(
        ((name, share) for name, share in measure.adjusted_for if round(share, rounding.places) != 0),
        key=lambda part: -abs(part[1]),
    )
    parts = [f"{channel_name(name)} {rounding.signed(share)}" for name, share in shares[:NAMED_SHARES]]
    if len(shares) > NAMED_SHARES:
        parts.append(f"others {rounding.signed(sum(share for _, share in shares[NAMED_SHARES:]))}")
    return "; ".join(parts)


def _looks(comparison: Comparison) -> str:
    looks = sum(not measure.censored for measure in comparison.measures)
    if looks <= 1:
        return "One measure was looked at, so its level stands as stated."
    by_chance = significant(looks * (1 - comparison.level), 2)
    return (
        f"{looks} measures were looked at. If the change did nothing, about {by_chance} of {looks} intervals at "
        f"{level_text(comparison.level)} would still leave out zero by chance. Only the main measure, named before "
        "looking, carries the verdict; the others are description."
    )


def checks_section(comparison: Comparison) -> Section:
    """What besides the change could explain the difference, the worst first."""
    if not comparison.checks:
        return Section("Fairness checks", "", (Paragraph("No check could be made."),), picture=False)
    order = ("fail", "warn", "pass")
    checks = sorted(comparison.checks, key=lambda check: (order.index(check.status), check.accounted_for))
    pictured = [check for check in checks if check.status != "pass"][:PICTURED]
    counts = [
        f"{sum(check.status == status for check in checks)} {CHECK_STATUS[status][1]}" for status in reversed(order)
    ]
    table = Table(
        "Fairness checks: what else could explain the difference",
        (
            Column("Check", 19),
            Column("Status", 16, picture="beside"),
            Column("Found", 41, picture="below"),
            Column("Could explain", 24),
        ),
        tuple(_check_row(check, comparison, in_picture=check in pictured) for check in checks),
        picture=bool(pictured),
    )
    return Section(
        "Fairness checks",
        "What differed between the sides besides the change, and how much of the difference it could make.",
        (Paragraph(f"{len(checks)} checks: {listed(counts)}."), table),
    )


def _check_row(check: FairnessCheck, comparison: Comparison, *, in_picture: bool) -> Row:
    sign, word = CHECK_STATUS[check.status]
    return Row(
        (
            Cell(check_name(check.id)),
            Cell(
                f"{sign} {word}",
                "Accounted for in the difference." if check.accounted_for else "",
                tone="plain" if check.status == "pass" else check.status,
            ),
            Cell(typographic(check.detail)),
            Cell(_explained(check, comparison)),
        ),
        picture=in_picture,
    )


def _explained(check: FairnessCheck, comparison: Comparison) -> str:
    """How much of the main measure's difference, and of others where it is as much as is worth having."""
    parts = []
    for measure in sorted(comparison.measures, key=lambda measure: measure.id != comparison.main):
        amount = check.could_explain.get(measure.id, float("nan"))
        large = abs(amount) >= measure.smallest_worth_having
        if np.isfinite(amount) and (large or measure.id == comparison.main):
            unit, _ = _printed(measure)
            sign = "+" if amount > 0 else ""
            parts.append(f"{measure_name(measure.id)} {sign}{significant(amount, 2, unit)}")
    if parts:
        return "; ".join(parts)
    if check.could_explain:
        return "of no measure as much as is worth having"
    return "nothing" if check.status == "pass" else "not put into figures"
