"""From the description of a figure to the figure: matplotlib without its global state, and lean SVG.

Lines differ in style, marker and direct label before they differ in colour, so that print in grey and every eye
can tell them apart. In an SVG for a page the colours are the page's own variables, so that a figure follows the
page into dark mode.
"""

import io
import threading
from typing import Any, TypeAlias

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from pullproof.analysis.comparison.result import Comparison
from pullproof.errors import CannotAnswer
from pullproof.report.drawables import (
    Band,
    CurveDrawing,
    IntervalDrawing,
    Level,
    Line,
    Panel,
    curve_drawing,
    worth_for_curve,
)
from pullproof.report.history_drawables import EffectsDrawing, SeasonDrawing
from pullproof.report.history_figures import SEASON_SIZE, draw_effects, draw_season, effects_size
from pullproof.report.ink import COLOURS, HATCHES, PENS, TEXT, Canvas, graph_paper
from pullproof.report.map_drawable import MapDrawing
from pullproof.report.map_figure import MAP_SIZE, draw_map
from pullproof.report.path_drawables import AgreementDrawing, StackDrawing
from pullproof.report.path_figures import AGREEMENT_SIZE, STACK_SIZE, draw_agreement, draw_stack
from pullproof.report.plan_drawable import ChanceDrawing
from pullproof.report.plan_figure import CHANCE_SIZE, draw_chances
from pullproof.report.svg import lean_svg
from pullproof.report.watch_drawable import EventDrawing
from pullproof.report.watch_figure import EVENT_SIZE, draw_event

__all__ = ["COLOURS", "PENS", "Drawing", "draw_curves", "draw_interval", "plot", "to_svg"]

Drawing: TypeAlias = (
    CurveDrawing
    | IntervalDrawing
    | StackDrawing
    | AgreementDrawing
    | MapDrawing
    | SeasonDrawing
    | EffectsDrawing
    | ChanceDrawing
    | EventDrawing
)

CURVE_SIZE = (310.0, 290.0)
ONE_PANEL_SIZE = (310.0, 215.0)
SMALL_INTERVAL_SIZE = (136.0, 44.0)
LARGE_INTERVAL_SIZE = (300.0, 92.0)
"""Width and height [pt]."""


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
    """One pair of axes, or two over each other sharing the engine speed; `width` and `height` in points."""
    left, right, foot, gap, head = 40.0, 43.0, 36.0, 27.0, 20.0
    lower = 0.42 * (height - foot - gap - head)
    two = ((foot + lower + gap, height - foot - gap - head - lower), (foot, lower))
    places = two if len(drawing.panels) == 2 else ((foot, height - foot - head),)
    for panel, (base, tall) in zip(drawing.panels, places, strict=True):
        axes = canvas.add_axes((left / width, base / height, (width - left - right) / width, tall / height))
        axes.set_xlim(*drawing.x_range)
        axes.set_ylim(*panel.y_range)
        graph_paper(axes, across=5, up=4)
        _draw_panel(axes, panel, tall)
        axes.tick_params(labelbottom=base == foot)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT, color=COLOURS["soft"], labelpad=3, parse_math=False)


def _draw_panel(axes: Axes, panel: Panel, tall: float) -> None:
    legend = f" ({panel.bands[0].label})" if panel.bands else ""
    axes.set_title(panel.label + legend, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=4, parse_math=False)
    for band in panel.bands:
        _draw_band(axes, band)
    for level in panel.levels:
        _draw_level(axes, level)
    for line in panel.lines:
        _draw_line(axes, line)
    _direct_labels(axes, panel, tall)


def _draw_band(axes: Axes, band: Band) -> None:
    if band.role is None:
        axes.fill_between(band.x, band.lower, band.upper, color=COLOURS["band"], linewidth=0, zorder=1.5)
    else:
        axes.fill_between(
            band.x,
            band.lower,
            band.upper,
            facecolor="none",
            edgecolor=PENS[band.role].colour,
            hatch=HATCHES[band.role],
            linewidth=0,
            alpha=0.55,
            zorder=1.5,
        )
    edge = COLOURS["soft"] if band.role is None else PENS[band.role].colour
    for limit in (band.lower, band.upper):
        axes.plot(band.x, limit, color=edge, linewidth=0.6, zorder=1.6)


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
        linewidth=pen.width,
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
    named = [line for line in panel.lines if line.label and np.isfinite(line.y).any()]
    ends = [(float(line.y[np.isfinite(line.y)][-1]), line) for line in named]
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
    graph_paper(axes, across=4 if drawing.large else 3, up=0)
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


_SETTINGS_LOCK = threading.Lock()
_SETTINGS = {
    **{key: value for key, value in matplotlib.rcParamsDefault.items() if not key.startswith(("backend", "webagg"))},
    "svg.fonttype": "none",
    "font.family": ["DejaVu Sans"],
    "hatch.linewidth": 0.6,
}


def to_svg(drawing: Drawing, name: str, *, for_page: bool) -> str:
    """The figure as SVG with text kept as text, a title and a description.

    Parameters
    ----------
    drawing : Drawing
        What to draw.
    name : str
        Unique within the document: the identifiers inside start with it.
    for_page : bool
        True gives colours by the page's variables (`var(--ink)`) and the page's own type; False fixed ones.
    """
    variables = {colour: f"var(--{role})" for role, colour in COLOURS.items()} if for_page else {}
    return lean_svg(_rendered(drawing, name), name, drawing.title, drawing.description, variables)


def _size(drawing: Drawing) -> tuple[float, float]:
    match drawing:
        case CurveDrawing():
            return CURVE_SIZE if len(drawing.panels) == 2 else ONE_PANEL_SIZE
        case IntervalDrawing():
            return LARGE_INTERVAL_SIZE if drawing.large else SMALL_INTERVAL_SIZE
        case StackDrawing():
            return STACK_SIZE
        case AgreementDrawing():
            return AGREEMENT_SIZE
        case MapDrawing():
            return MAP_SIZE
        case ChanceDrawing():
            return CHANCE_SIZE
        case EventDrawing():
            return EVENT_SIZE
        case SeasonDrawing():
            return SEASON_SIZE
        case EffectsDrawing():
            return effects_size(drawing)


def _draw(canvas: Canvas, drawing: Drawing, width: float, height: float) -> None:
    match drawing:
        case CurveDrawing():
            draw_curves(canvas, drawing, width, height)
        case IntervalDrawing():
            draw_interval(canvas, drawing, width, height)
        case StackDrawing():
            draw_stack(canvas, drawing, width, height)
        case AgreementDrawing():
            draw_agreement(canvas, drawing, width, height)
        case MapDrawing():
            draw_map(canvas, drawing, width, height)
        case ChanceDrawing():
            draw_chances(canvas, drawing, width, height)
        case EventDrawing():
            draw_event(canvas, drawing, width, height)
        case SeasonDrawing():
            draw_season(canvas, drawing, width, height)
        case EffectsDrawing():
            draw_effects(canvas, drawing, width, height)


def _rendered(drawing: Drawing, name: str) -> bytes:
    width, height = _size(drawing)
    # How SVG is written is a setting of matplotlib's, global while it lasts: one figure at a time holds it.
    with _SETTINGS_LOCK, matplotlib.rc_context({**_SETTINGS, "svg.hashsalt": name}):
        figure = Figure(figsize=(width / 72, height / 72), facecolor="none")
        _draw(figure, drawing, width, height)
        for axes in figure.axes:
            axes.patch.set_visible(False)
        written = io.BytesIO()
        figure.savefig(written, format="svg", metadata={"Date": None, "Creator": None})
    return written.getvalue()
