"""From the description of a figure to the figure: matplotlib without its global state, and lean SVG.

Lines differ in style, marker and direct label before they differ in colour, so that print in grey and every eye
can tell them apart. In an SVG for a page the colours are the page's own variables, so that a figure follows the
page into dark mode.
"""

import io
import threading
from dataclasses import dataclass
from typing import Any, Final

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import MaxNLocator

from pullproof.analysis.comparison.result import Comparison
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.report.drawables import (
    CurveDrawing,
    IntervalDrawing,
    Level,
    Line,
    Panel,
    curve_drawing,
    worth_for_curve,
)
from pullproof.report.rounding import Rounding
from pullproof.report.svg import lean_svg

__all__ = ["COLOURS", "draw_curves", "draw_interval", "plot", "to_svg"]

COLOURS: Final = {
    "ink": "#1b2430",
    "soft": "#56606c",
    "grid": "#d5dee0",
    "paper": "#ffffff",
    "before": "#2f74b5",
    "after": "#8f2d0c",
    "band": "#c9ced6",
    "zone": "#e3e8da",
}
"""Ink by the role it plays; a page gives each its own value by a variable of the same name."""


@dataclass(frozen=True, slots=True)
class Pen:
    """How a line is told from the others, colour being the least of it."""

    colour: str
    style: Any
    marker: str
    filled: bool
    first_marker: float


PENS: Final = {
    "before": Pen(COLOURS["before"], (0, (5, 2)), "o", filled=False, first_marker=0.04),
    "after": Pen(COLOURS["after"], "solid", "s", filled=True, first_marker=0.09),
    "difference": Pen(COLOURS["ink"], "solid", "", filled=True, first_marker=0.0),
}

TEXT = 10.0
"""Size of labels [pt]: a figure shown at the width of a phone keeps them readable."""
CURVE_SIZE = (310.0, 290.0)
SMALL_INTERVAL_SIZE = (136.0, 44.0)
LARGE_INTERVAL_SIZE = (300.0, 92.0)
"""Width and height [pt]."""

Canvas = Figure | SubFigure


def plot(comparison: Comparison) -> Figure:
    """Curves of a comparison, before and after, with the difference and its band below each.

    Parameters
    ----------
    comparison : Comparison
        What was found.

    Returns
    -------
    matplotlib.figure.Figure
        One column of axes for each curve; it belongs to the caller and to no global state.

    Raises
    ------
    CannotAnswer
        The comparison has no curve to draw.
    """
    drawings = [
        drawing
        for curve in comparison.curves
        if (drawing := curve_drawing(curve, comparison.level, worth_for_curve(comparison, curve)))
    ]
    if not drawings:
        raise CannotAnswer(
            "there is no curve to draw", advice="Compare pulls that share a channel over a range of engine speed."
        )
    width, height = CURVE_SIZE
    figure = Figure(figsize=(len(drawings) * width / 72, height / 72))
    columns = figure.subfigures(1, len(drawings), squeeze=False)
    for column, drawing in zip(columns[0], drawings, strict=True):
        draw_curves(column, drawing, width, height)
    return figure


def draw_curves(canvas: Canvas, drawing: CurveDrawing, width: float, height: float) -> None:
    """Two pairs of axes over each other, sharing the engine speed; `width` and `height` in points."""
    left, right, foot, gap, head = 40.0, 43.0, 36.0, 27.0, 20.0
    upper = 0.58 * (height - foot - gap - head)
    lower = 0.42 * (height - foot - gap - head)
    places = ((foot + lower + gap, upper), (foot, lower))
    for panel, (base, tall) in zip(drawing.panels, places, strict=True):
        axes = canvas.add_axes((left / width, base / height, (width - left - right) / width, tall / height))
        axes.set_xlim(*drawing.x_range)
        axes.set_ylim(*panel.y_range)
        _graph_paper(axes, across=5, up=4)
        _draw_panel(axes, panel, tall)
        axes.tick_params(labelbottom=base == foot)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT, color=COLOURS["soft"], labelpad=3, parse_math=False)


def _draw_panel(axes: Axes, panel: Panel, tall: float) -> None:
    legend = "".join(f" (shaded: {band.label})" for band in panel.bands)
    axes.set_title(panel.label + legend, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=4, parse_math=False)
    for band in panel.bands:
        axes.fill_between(band.x, band.lower, band.upper, color=COLOURS["band"], linewidth=0, zorder=1.5)
        for edge in (band.lower, band.upper):
            axes.plot(band.x, edge, color=COLOURS["soft"], linewidth=0.6, zorder=1.6)
    for level in panel.levels:
        _draw_level(axes, level)
    for line in panel.lines:
        _draw_line(axes, line)
    _direct_labels(axes, panel, tall)


def _draw_level(axes: Axes, level: Level) -> None:
    low, high = axes.get_ylim()
    if low < level.y < high:
        style: Any = {"zero": "solid", "worth": (0, (1, 2))}[level.kind]
        axes.axhline(level.y, color=COLOURS["ink"], linewidth=0.9, linestyle=style, zorder=2)


def _draw_line(axes: Axes, line: Line) -> None:
    pen = PENS[line.role]
    axes.plot(
        line.x,
        line.y,
        color=pen.colour,
        linestyle=pen.style,
        linewidth=1.6,
        marker=pen.marker,
        markersize=4.5,
        markerfacecolor=pen.colour if pen.filled else COLOURS["paper"],
        markeredgewidth=1.1,
        markevery=(pen.first_marker, 0.14),
        zorder=3,
    )


def _direct_labels(axes: Axes, panel: Panel, tall: float) -> None:
    """Write each line's name beside its end; names that would touch are moved apart, order kept."""
    low, high = axes.get_ylim()
    ends = [(float(line.y[np.isfinite(line.y)][-1]), line) for line in panel.lines if np.isfinite(line.y).any()]
    ends.sort(key=lambda end: end[0])
    if len(panel.lines) < 2 or not ends:
        return
    overlap = max(0.0, 1.2 * TEXT / tall * (high - low) - (ends[-1][0] - ends[0][0])) if len(ends) == 2 else 0.0
    for push, (end, line) in zip((-overlap / 2, overlap / 2), ends, strict=False):
        axes.annotate(
            line.label,
            (axes.get_xlim()[1], end + push),
            xytext=(5, 0),
            textcoords="offset points",
            va="center",
            fontsize=TEXT,
            color=PENS[line.role].colour,
            annotation_clip=False,
        )


def draw_interval(canvas: Canvas, drawing: IntervalDrawing, width: float, height: float) -> None:
    """One difference with its interval against zero; `width` and `height` in points."""
    text = TEXT if drawing.large else 8.0
    foot, head, side = 2.9 * text, (1.6 * text if drawing.large else 3.0), 12.0
    axes = canvas.add_axes((side / width, foot / height, 1 - 2 * side / width, 1 - (foot + head) / height))
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(-1, 1)
    axes.axvspan(-drawing.worth, drawing.worth, color=COLOURS["zone"], linewidth=0, zorder=0.5)
    _graph_paper(axes, across=4 if drawing.large else 3, up=0)
    axes.axvline(0, color=COLOURS["ink"], linewidth=0.9, zorder=2)
    size = 1.5 if drawing.large else 1.0
    low, high = drawing.interval
    axes.plot([low, high], [0, 0], color=COLOURS["ink"], linewidth=2 * size, zorder=3, solid_capstyle="butt")
    axes.plot([low, high], [0, 0], color=COLOURS["ink"], linestyle="", marker="|", markersize=9 * size, zorder=3)
    axes.plot([drawing.value], [0], color=COLOURS["after"], marker="D", markersize=5 * size, zorder=4)
    if drawing.large and drawing.worth > 0:
        legend = "shaded: smaller than is worth having"
        axes.set_title(legend, loc="left", fontsize=text, color=COLOURS["soft"], pad=4)
    axes.tick_params(labelsize=text)
    axes.set_xlabel(drawing.x_label, fontsize=text, color=COLOURS["soft"], labelpad=1, parse_math=False)


def _graph_paper(axes: Axes, *, across: int, up: int) -> None:
    """Squared paper behind the ink, with at most `across` and `up` numbered lines; none leaves that axis bare."""
    _rule(axes, axes.xaxis, axes.get_xlim(), axes.get_ylim(), across)
    _rule(axes, axes.yaxis, axes.get_ylim(), axes.get_xlim(), up)
    axes.tick_params(length=0, pad=3, labelsize=TEXT, labelcolor=COLOURS["soft"])
    for side in ("left", "right", "top"):
        axes.spines[side].set_visible(False)
    axes.spines["bottom"].set(color=COLOURS["soft"], linewidth=0.8)


def _rule(axes: Axes, axis: Axis, reach: tuple[float, float], span: tuple[float, float], most: int) -> None:
    """Numbered lines along one axis and four fine ones between each two, drawn as two strokes in all."""
    if not most:
        axis.set_ticks([])
        return
    ticks = np.asarray(MaxNLocator(nbins=most, steps=[1, 2, 2.5, 5, 10]).tick_values(*reach), dtype=np.float64)
    step = float(ticks[1] - ticks[0])
    fine = ticks[0] + step / 5 * np.arange(5 * len(ticks))
    for places, weight in ((_within(fine, reach), 0.35), (_within(ticks, reach), 0.8)):
        along, beside = np.repeat(places, 3), np.tile([*span, np.nan], len(places))
        x, y = (along, beside) if axis is axes.xaxis else (beside, along)
        axes.plot(x, y, color=COLOURS["grid"], linewidth=weight, marker="", linestyle="-", zorder=1)
    decimals = len(np.format_float_positional(step, precision=9, trim="-").partition(".")[2])
    numbered = _within(ticks, reach)
    axis.set_ticks(numbered.tolist(), [Rounding(decimals, "").bare(float(tick)) for tick in numbered])


def _within(places: Array, reach: tuple[float, float]) -> Array:
    kept: Array = places[(places >= reach[0]) & (places <= reach[1])]
    return kept


_SETTINGS_LOCK = threading.Lock()
_SETTINGS = {
    **{key: value for key, value in matplotlib.rcParamsDefault.items() if not key.startswith(("backend", "webagg"))},
    "svg.fonttype": "none",
    "font.family": ["DejaVu Sans"],
}


def to_svg(drawing: CurveDrawing | IntervalDrawing, name: str, *, for_page: bool) -> str:
    """The figure as SVG with text kept as text, a title and a description.

    Parameters
    ----------
    drawing : CurveDrawing or IntervalDrawing
        What to draw.
    name : str
        Unique within the document: the identifiers inside start with it.
    for_page : bool
        True gives colours by the page's variables (`var(--ink)`) and the page's own type; False fixed ones.
    """
    variables = {colour: f"var(--{role})" for role, colour in COLOURS.items()} if for_page else {}
    return lean_svg(_rendered(drawing, name), name, drawing.title, drawing.description, variables)


def _rendered(drawing: CurveDrawing | IntervalDrawing, name: str) -> bytes:
    if isinstance(drawing, CurveDrawing):
        width, height = CURVE_SIZE
    else:
        width, height = LARGE_INTERVAL_SIZE if drawing.large else SMALL_INTERVAL_SIZE
    # How SVG is written is a setting of matplotlib's, global while it lasts: one figure at a time holds it.
    with _SETTINGS_LOCK, matplotlib.rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure(figsize=(width / 72, height / 72), facecolor="none")
        if isinstance(drawing, CurveDrawing):
            draw_curves(figure, drawing, width, height)
        else:
            draw_interval(figure, drawing, width, height)
        for axes in figure.axes:
            axes.patch.set_visible(False)
        written = io.BytesIO()
        figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    return written.getvalue()
