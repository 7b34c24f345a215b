"""Figures of an air path: losses stacked by element, and prediction beside measurement."""

from typing import Final

import numpy as np
from matplotlib.axes import Axes

from pullproof.report.ink import COLOURS, PENS, TEXT, Canvas, graph_paper
from pullproof.report.path_drawables import AgreementDrawing, Stack, StackDrawing

__all__ = ["AGREEMENT_SIZE", "STACK_SIZE", "draw_agreement", "draw_stack"]

STACK_SIZE = (310.0, 300.0)
AGREEMENT_SIZE = (150.0, 58.0)
"""Width and height [pt]."""

SMALL = 8.4
"""Size of the words beside a bar. [pt]"""

BAR = 44.0
"""Width of a bar. [pt]"""

KIND_HATCHES: Final = {"bend": "////", "pipe": "", "joint": "....", "change": "xxxx", "other": "----"}
"""Bends, pipes, joints and changes of bore are told apart in grey."""


def draw_stack(canvas: Canvas, drawing: StackDrawing, width: float, height: float) -> None:
    """One or two stacked bars with a name beside every segment; `width` and `height` in points."""
    left, right, foot, head = 26.0, 4.0, 34.0, 22.0
    across, tall = width - left - right, height - foot - head
    axes = canvas.add_axes((left / width, foot / height, across / width, tall / height))
    axes.set_xlim(0.0, across)
    axes.set_ylim(*drawing.y_range)
    graph_paper(axes, across=0, up=6)
    axes.set_title(drawing.y_label, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=6, parse_math=False)
    two = len(drawing.stacks) == 2
    middle = across / 2
    places = (middle - 4 - BAR, middle + 4) if two else (24.0,)
    for stack, place, side in zip(drawing.stacks, places, ("left", "right") if two else ("right",), strict=True):
        _draw_stack(axes, stack, place, side, tall)


def _draw_stack(axes: Axes, stack: Stack, place: float, side: str, tall: float) -> None:
    colour = PENS[stack.role].colour
    for segment in stack.segments:
        axes.bar(
            place,
            segment.high - segment.low,
            width=BAR,
            bottom=segment.low,
            align="edge",
            facecolor=COLOURS["paper"],
            edgecolor=colour,
            hatch=KIND_HATCHES[segment.kind],
            linewidth=0.9,
            zorder=2,
        )
    _names(axes, stack, place, side, tall)
    centre = place + BAR / 2
    low, high = stack.interval
    for x, y, mark in (([centre, centre], [low, high], ""), ([centre, centre], [low, high], "_")):
        axes.plot(x, y, color=COLOURS["ink"], linewidth=2.0 if not mark else 0.0, marker=mark, markersize=11, zorder=4)
    axes.plot([centre], [stack.total], color=COLOURS["ink"], marker="D", markersize=4.5, zorder=5)
    # Two columns of words below the bars: each begins or ends at the side where the other bar is.
    inner = place + BAR if side == "left" else place
    align = "right" if side == "left" else "left"
    lines = (stack.label, stack.total_label) if stack.label else (stack.total_label,)
    for number, words in enumerate(lines):
        is_name = bool(stack.label) and number == 0
        axes.annotate(
            words, (inner, 0.0), (0, -5 - 12 * number), textcoords="offset points", ha=align, va="top",
            fontsize=TEXT if is_name else SMALL + 0.6, color=colour if is_name else COLOURS["ink"],
            annotation_clip=False,
        )  # fmt: skip


def _names(axes: Axes, stack: Stack, place: float, side: str, tall: float) -> None:
    """The name of every segment, moved up or down until none touches the next, with a line to its segment."""
    low, high = axes.get_ylim()
    per_point = (high - low) / tall
    middles = [0.5 * (segment.low + segment.high) for segment in stack.segments]
    heights = _spread(middles, 1.22 * SMALL * per_point, 0.5 * SMALL * per_point)
    edge = place if side == "left" else place + BAR
    away = -1 if side == "left" else 1
    for segment, middle, height in zip(stack.segments, middles, heights, strict=True):
        axes.plot([edge, edge + away * 9], [middle, height], color=COLOURS["soft"], linewidth=0.6, zorder=3)
        axes.text(
            edge + away * 11, height, segment.label, ha="right" if side == "left" else "left", va="center",
            fontsize=SMALL, color=COLOURS["ink"], parse_math=False, zorder=5,
        )  # fmt: skip


def _spread(middles: list[float], apart: float, lowest: float) -> list[float]:
    """Heights in rising order at least `apart`, near the middles: pushed up one by one, then the run is centred."""
    runs: list[list[float]] = []
    for middle in middles:
        runs.append([middle])
        while len(runs) > 1 and _foot(runs[-1], apart) < _foot(runs[-2], apart) + apart * len(runs[-2]):
            above = runs.pop()
            runs[-1] = runs[-1] + above
    heights: list[float] = []
    for run in runs:
        foot = max(_foot(run, apart), heights[-1] + apart if heights else lowest)
        heights += [foot + apart * step for step in range(len(run))]
    return heights


def _foot(run: list[float], apart: float) -> float:
    """Lowest height of a run of names that is centred on its middles."""
    return float(np.mean(run)) - apart * (len(run) - 1) / 2


def draw_agreement(canvas: Canvas, drawing: AgreementDrawing, width: float, height: float) -> None:
    """Prediction above, measurement below, against zero; `width` and `height` in points."""
    text = 8.0
    foot, head, left, right = 2.9 * text, 2.0, 44.0, 10.0
    axes = canvas.add_axes((left / width, foot / height, 1 - (left + right) / width, 1 - (foot + head) / height))
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(-1, 1)
    graph_paper(axes, across=3, up=0)
    axes.axvline(0, color=COLOURS["ink"], linewidth=0.9, zorder=2)
    rows = (
        ("predicted", 0.48, drawing.predicted, drawing.predicted_interval, "before"),
        ("measured", -0.48, drawing.measured, drawing.measured_interval, "after"),
    )
    for name, y, value, interval, role in rows:
        pen = PENS[role]
        axes.plot(interval, [y, y], color=COLOURS["ink"], linestyle=pen.style, linewidth=1.6, zorder=3)
        axes.plot(interval, [y, y], color=COLOURS["ink"], linestyle="", marker="|", markersize=8, zorder=3)
        axes.plot(
            [value], [y], color=pen.colour, marker=pen.marker, markersize=5,
            markerfacecolor=pen.colour if pen.filled else COLOURS["paper"], zorder=4,
        )  # fmt: skip
        axes.annotate(
            name, (drawing.x_range[0], y), (-3, 0), textcoords="offset points", ha="right", va="center", fontsize=text,
            color=COLOURS["soft"], annotation_clip=False,
        )  # fmt: skip
    axes.tick_params(labelsize=text)
    axes.set_xlabel(drawing.x_label, fontsize=text, color=COLOURS["soft"], labelpad=1, parse_math=False)
