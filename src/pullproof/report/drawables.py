"""What a figure shows, as plain data: numbers in, lines, bands and labels out, no drawing library in sight.

`figures` turns these into pictures. What a reader must be able to tell without colour (line style, marker, direct
label) follows from a line's role and is decided there, once.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.comparison.result import Comparison, CurveDifference, MeasureDifference
from pullproof.arrays import Array
from pullproof.report.rounding import MINUS, Rounding, significant
from pullproof.report.wording import capitalised, channel_name, difference_unit, level_text, measure_name, unit_text

__all__ = [
    "Band",
    "CurveDrawing",
    "IntervalDrawing",
    "Level",
    "Line",
    "Panel",
    "axis_label",
    "curve_drawing",
    "interval_drawing",
    "padded",
    "quantity_of",
    "worth_for_curve",
]

Role = Literal["before", "after", "difference", "mean", "pull"]

DIFFERENCE_LABEL = f"after {MINUS} before"
LONGEST_NAME = 44
"""Characters that fit above a pair of axes."""


@dataclass(frozen=True, slots=True)
class Line:
    """One curve. `x` and `y` have the same shape; NaN leaves a gap. `label`, if any, is written beside the line."""

    role: Role
    label: str
    x: Array
    y: Array


@dataclass(frozen=True, slots=True)
class Band:
    """What holds a curve at the stated level. With a role it is hatched in that role's way, else filled."""

    label: str
    x: Array
    lower: Array
    upper: Array
    role: Role | None = None


@dataclass(frozen=True, slots=True)
class Level:
    """A horizontal line to judge by: zero, or the smallest difference worth having."""

    kind: Literal["zero", "worth"]
    y: float
    label: str


@dataclass(frozen=True, slots=True)
class Panel:
    """One pair of axes; `label` names the quantity on the upright axis, with its unit."""

    label: str
    y_range: tuple[float, float]
    lines: tuple[Line, ...]
    bands: tuple[Band, ...] = ()
    levels: tuple[Level, ...] = ()


@dataclass(frozen=True, slots=True)
class CurveDrawing:
    """One pair of axes, or two with one axis of engine speed: before and after on top, the difference below."""

    title: str
    description: str
    x_label: str
    x_range: tuple[float, float]
    panels: tuple[Panel, ...]


@dataclass(frozen=True, slots=True)
class IntervalDrawing:
    """One difference with its interval against zero; `x_range` has zero in its middle, so that rows compare."""

    title: str
    description: str
    x_label: str
    x_range: tuple[float, float]
    value: float
    interval: tuple[float, float]
    worth: float
    large: bool = False


def interval_drawing(measure: MeasureDifference, *, large: bool = False) -> IntervalDrawing | None:
    """The difference of one measure; None where there is no finite interval to draw."""
    low, high = measure.interval
    if not np.all(np.isfinite([low, high, measure.difference])):
        return None
    worth = measure.smallest_worth_having if np.isfinite(measure.smallest_worth_having) else 0.0
    reach = 1.15 * max(abs(low), abs(high), abs(measure.difference), worth)
    unit = difference_unit(measure.unit, measure.id)
    name = measure_name(measure.id)
    rounding = Rounding.of(measure.interval, measure.difference, unit)
    zone = f" The shaded zone is ±{significant(worth, 2, unit)}." if worth > 0 else ""
    return IntervalDrawing(
        title=f"{capitalised(name)}, {DIFFERENCE_LABEL}",
        description=f"Difference {rounding.signed(measure.difference)}, {level_text(measure.level)} interval "
        f"{rounding.interval(measure.interval)}, drawn against zero.{zone}",
        x_label=axis_label(f"{name}, {DIFFERENCE_LABEL}" if large else DIFFERENCE_LABEL, unit),
        x_range=(-reach, reach) if reach > 0 else (-1.0, 1.0),
        value=measure.difference,
        interval=measure.interval,
        worth=worth,
        large=large,
    )


def curve_drawing(curve: CurveDifference, level: float, worth: float | None) -> CurveDrawing | None:
    """One channel before and after with its difference below; None where nothing in it can be drawn.

    `worth` is the smallest difference worth having of the measure that belongs to the channel, if there is one.
    """
    shown = np.isfinite(curve.rpm) & (np.isfinite(curve.before) | np.isfinite(curve.after))
    if np.count_nonzero(shown) < 2:
        return None
    rpm = curve.rpm[shown]
    name, unit = channel_name(curve.channel), unit_text(curve.unit, curve.channel)
    before, after, difference, lower, upper = (
        values[shown] for values in (curve.before, curve.after, curve.difference, curve.lower, curve.upper)
    )
    levels = [Level("zero", 0.0, "no difference")]
    if worth is not None:
        levels += [Level("worth", sign * worth, "smallest difference worth having") for sign in (1, -1)]
    top = Panel(
        label=axis_label(name, unit),
        y_range=padded([before, after]),
        lines=(Line("before", "before", rpm, before), Line("after", "after", rpm, after)),
    )
    bottom = Panel(
        label=axis_label(DIFFERENCE_LABEL, difference_unit(curve.unit, curve.channel)),
        y_range=padded([difference, lower, upper, np.array([0.0])]),
        lines=(Line("difference", DIFFERENCE_LABEL, rpm, difference),),
        bands=(Band(f"shaded: {level_text(level)} band", rpm, lower, upper),),
        levels=tuple(levels),
    )
    return CurveDrawing(
        title=f"{capitalised(name)} over engine speed, before and after",
        description=f"Upper axes: {name} in {unit or 'units of one'} against engine speed in rpm, mean of the pulls "
        f"before (dashed line, open circles) and after (solid line, filled squares). Lower axes: {DIFFERENCE_LABEL} "
        f"with its {level_text(level)} band.",
        x_label="engine speed, rpm",
        x_range=(float(rpm.min()), float(rpm.max())),
        panels=(top, bottom),
    )


def quantity_of(channel: str) -> str:
    """The first word of the measures that are read from a channel: boost is read from charge pressure."""
    return {"charge_pressure": "boost", "manifold_pressure": "boost"}.get(channel, channel)


def worth_for_curve(comparison: Comparison, curve: CurveDifference) -> float | None:
    """The smallest difference worth having that is stated for the mean of this channel, where there is one."""
    quantity = quantity_of(curve.channel)
    for measure in comparison.measures:
        if measure.id in (f"{quantity}.mean", f"{quantity}.peak") and measure.unit == curve.unit:
            worth = measure.smallest_worth_having
            return float(worth) if np.isfinite(worth) and worth > 0 else None
    return None


def axis_label(quantity: str, unit: str) -> str:
    """`wastegate duty, %`; a name too long for the axes is cut in sight."""
    if len(quantity) > LONGEST_NAME:
        quantity = f"{quantity[: LONGEST_NAME - 1]}…"
    return f"{quantity}, {unit}" if unit else quantity


def padded(series: Sequence[Array]) -> tuple[float, float]:
    """Lowest and highest finite value with some air around; a flat line gets a range that shows it flat."""
    values = np.concatenate(series)
    values = values[np.isfinite(values)]
    if not values.size:
        return -1.0, 1.0
    low, high = float(values.min()), float(values.max())
    air = 0.08 * (high - low) or 0.05 * abs(high) or 1.0
    return low - air, high + air
