"""The figure of an event: every own sample as a mark, those past the limit filled."""

import numpy as np

from pullproof.report.ink import COLOURS, TEXT, Canvas, graph_paper
from pullproof.report.watch_drawable import EventDrawing

__all__ = ["EVENT_SIZE", "draw_event"]

EVENT_SIZE = (310.0, 175.0)
"""Width and height [pt]."""


def draw_event(canvas: Canvas, drawing: EventDrawing, width: float, height: float) -> None:
    """Samples joined by a thin line, the limit across; sizes in points."""
    left, right, foot, head = 40.0, 12.0, 36.0, 20.0
    axes = canvas.add_axes(
        (left / width, foot / height, (width - left - right) / width, (height - foot - head) / height)
    )
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(*drawing.y_range)
    graph_paper(axes, across=6, up=4)
    axes.set_title(drawing.y_label, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=4, parse_math=False)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT - 1, color=COLOURS["soft"], labelpad=3, parse_math=False)
    axes.axhline(drawing.limit, color=COLOURS["ink"], linewidth=1.1, linestyle=(0, (5, 2)), zorder=3)
    axes.plot(drawing.time, drawing.values, color=COLOURS["soft"], linewidth=0.7, zorder=2)
    for chosen, colour, fill in (
        (~drawing.past, COLOURS["before"], COLOURS["paper"]),
        (drawing.past, COLOURS["after"], COLOURS["after"]),
    ):
        shown = np.flatnonzero(chosen)
        axes.plot(
            drawing.time[shown], drawing.values[shown], color=colour, marker="o" if fill == COLOURS["paper"] else "s",
            markersize=3.6, markerfacecolor=fill, markeredgewidth=0.9, linestyle="", zorder=4,
        )  # fmt: skip
