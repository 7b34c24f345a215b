"""The figure of a plan: chance of a clear answer over pulls, one line for each order."""

from typing import Any, Final

from matplotlib.axes import Axes
from matplotlib.lines import Line2D

from pullproof.report.ink import COLOURS, TEXT, Canvas, graph_paper
from pullproof.report.plan_drawable import ChanceDrawing, Path

__all__ = ["CHANCE_SIZE", "draw_chances"]

CHANCE_SIZE = (310.0, 312.0)
"""Width and height [pt]."""

LEGEND = 82.0
"""Height below the axes for the names of the orders. [pt]"""

SMALL = 8.4

STYLES: Final[dict[str, tuple[Any, str]]] = {
    "before_after": ("solid", "o"),
    "before_after_before": ("solid", "s"),
    "alternating": ((0, (4, 2)), "^"),
    "two_days": ("solid", "x"),
    "both_on_two_days": ((0, (1, 1.5)), "D"),
    "both_on_three_days": ((0, (1, 1.5)), "v"),
    "several_days": ((0, (6, 2, 1, 2)), "+"),
}
"""Line and marker of an order: told apart without colour. One day in one colour, several in the other."""


def draw_chances(canvas: Canvas, drawing: ChanceDrawing, width: float, height: float) -> None:
    """Axes on top, names below; sizes in points."""
    left, right, head, foot = 34.0, 10.0, 22.0, 34.0 + LEGEND
    axes = canvas.add_axes(
        (left / width, foot / height, (width - left - right) / width, (height - foot - head) / height)
    )
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(0.0, 102.0)
    graph_paper(axes, across=6, up=5)
    axes.set_title(drawing.y_label, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=4)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT, color=COLOURS["soft"], labelpad=3)
    axes.axhline(drawing.wanted, color=COLOURS["ink"], linewidth=0.9, linestyle=(0, (1, 2)), zorder=2)
    handles = [_draw(axes, path) for path in drawing.paths]
    if drawing.mark is not None:
        pulls, chance = drawing.mark
        axes.plot(
            [pulls], [chance], color=COLOURS["ink"], marker="o", markersize=12, markerfacecolor="none",
            markeredgewidth=1.4, linestyle="", zorder=6,
        )  # fmt: skip
    legend = canvas.legend(
        handles=handles, loc="lower left", bbox_to_anchor=(0.02, 0.0), fontsize=SMALL, frameon=False, handlelength=3.2,
        labelspacing=0.3, borderpad=0.1,
    )  # fmt: skip
    for text in legend.get_texts():
        text.set_color(COLOURS["ink"])


def _draw(axes: Axes, path: Path) -> Line2D:
    line, marker = STYLES[path.order]
    colour = COLOURS["after"] if path.one_day else COLOURS["before"]
    return axes.plot(
        path.pulls, path.chance, label=path.label, color=colour, linestyle=line, marker=marker, linewidth=1.5,
        markersize=5.0, markerfacecolor=colour if path.one_day else COLOURS["paper"], zorder=4,
    )[0]  # fmt: skip
