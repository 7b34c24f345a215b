"""The figure of a compressor map with operating lines."""

import numpy as np
from matplotlib.axes import Axes

from pullproof.report.ink import COLOURS, PENS, TEXT, Canvas, graph_paper
from pullproof.report.map_drawable import Island, MapDrawing, Operating

__all__ = ["MAP_SIZE", "draw_map"]

MAP_SIZE = (310.0, 300.0)
"""Width and height [pt]."""

SMALL = 7.8
"""Size of the numbers inside the map. [pt]"""


def draw_map(canvas: Canvas, drawing: MapDrawing, width: float, height: float) -> None:
    """Speed lines thin, surge line thick, islands dotted, operating lines by their role; sizes in points."""
    left, right, foot, head = 32.0, 12.0, 38.0, 22.0
    axes = canvas.add_axes(
        (left / width, foot / height, (width - left - right) / width, (height - foot - head) / height)
    )
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(*drawing.y_range)
    graph_paper(axes, across=5, up=5)
    axes.set_title(drawing.y_label, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=4, parse_math=False)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT - 1, color=COLOURS["soft"], labelpad=3, parse_math=False)
    if drawing.island is not None:
        _draw_island(axes, drawing.island)
    for number, line in enumerate(drawing.speeds):
        axes.plot(line.x, line.y, color=COLOURS["soft"], linewidth=0.9, zorder=2)
        unit = " 000 rpm" if number == len(drawing.speeds) - 1 else ""
        axes.annotate(
            line.label + unit, (line.x[-1], line.y[-1]), (-2, -2), textcoords="offset points", ha="right", va="top",
            fontsize=SMALL, color=COLOURS["soft"], annotation_clip=False,
        )  # fmt: skip
    axes.plot(drawing.surge.x, drawing.surge.y, color=COLOURS["ink"], linewidth=2.0, zorder=3)
    at = len(drawing.surge.x) // 2
    axes.annotate(
        drawing.surge.label, (drawing.surge.x[at], drawing.surge.y[at]), (-6, 6), textcoords="offset points",
        ha="right", fontsize=TEXT - 1, color=COLOURS["ink"], annotation_clip=False,
    )  # fmt: skip
    for operating in drawing.operating:
        _draw_operating(axes, operating)


def _draw_island(axes: Axes, island: Island) -> None:
    if not island.levels:
        return
    lines = axes.contour(
        island.x, island.y, island.efficiency, levels=list(island.levels), colors=COLOURS["soft"], linewidths=0.7,
        linestyles="dotted", zorder=1.5,
    )  # fmt: skip
    axes.clabel(lines, fmt=lambda level: f"{100 * level:.0f} %", fontsize=SMALL - 1, inline_spacing=2)


def _draw_operating(axes: Axes, line: Operating) -> None:
    pen = PENS[line.role]
    axes.plot(line.x, line.y, color=pen.colour, linestyle=pen.style, linewidth=1.8, zorder=4)
    for x, y, (left, right), (low, high) in line.crosses:
        axes.plot([left, right], [y, y], color=pen.colour, linewidth=0.8, zorder=4)
        axes.plot([x, x], [low, high], color=pen.colour, linewidth=0.8, zorder=4)
    fill = pen.colour if pen.filled else COLOURS["paper"]
    for number, (text, x, y) in enumerate(line.marks):
        axes.plot([x], [y], color=pen.colour, marker=pen.marker, markersize=4.5, markerfacecolor=fill, zorder=5)
        # Before and after nearly coincide, so one of them carries the engine speeds, above and below by turns.
        if line.role == "after":
            axes.annotate(
                text, (x, y), (4, 5 if number % 2 else -12), textcoords="offset points", fontsize=SMALL,
                color=COLOURS["ink"], zorder=6,
            )  # fmt: skip
    known = np.flatnonzero(np.isfinite(line.x) & np.isfinite(line.y))
    if line.label and known.size:
        end = (line.x[known[-1]], line.y[known[-1]])
        axes.annotate(
            line.label, end, (12, 16 if line.role == "before" else -20), textcoords="offset points", va="center",
            fontsize=TEXT, color=pen.colour, annotation_clip=False, zorder=6,
            arrowprops={"arrowstyle": "-", "color": pen.colour, "linewidth": 0.6, "shrinkA": 0, "shrinkB": 4},
        )  # fmt: skip
