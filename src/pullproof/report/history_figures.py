"""Figures of a season: one measure over its test days, and the effects of the changes beside each other."""

import numpy as np
from matplotlib.axes import Axes

from pullproof.report.history_drawables import EffectRow, EffectsDrawing, SeasonDrawing
from pullproof.report.ink import COLOURS, PENS, TEXT, Canvas, graph_paper

__all__ = ["SEASON_SIZE", "draw_effects", "draw_season", "effects_size"]

SEASON_SIZE = (310.0, 290.0)
EFFECTS_WIDTH, ROW = 310.0, 38.0
"""Width, and height of one effect [pt]."""

SMALL = 8.4
LABELS_AT_MOST = 16
"""Days that can be named below a picture of this width."""

LONGEST_LABEL = 62


def effects_size(drawing: EffectsDrawing) -> tuple[float, float]:
    """Width and height of the picture of effects [pt]."""
    return EFFECTS_WIDTH, 42.0 + ROW * len(drawing.rows)


def draw_season(canvas: Canvas, drawing: SeasonDrawing, width: float, height: float) -> None:
    """Slots side by side; `width` and `height` in points."""
    left, right, foot, head = 40.0, 8.0, 62.0, 22.0
    axes = canvas.add_axes(
        (left / width, foot / height, (width - left - right) / width, (height - foot - head) / height)
    )
    count = len(drawing.slots)
    axes.set_xlim(-0.6, count - 0.4)
    axes.set_ylim(*drawing.y_range)
    graph_paper(axes, across=0, up=5)
    axes.set_title(drawing.y_label, loc="left", fontsize=TEXT, color=COLOURS["ink"], pad=6, parse_math=False)
    _draw_model(axes, drawing)
    _draw_marks(axes, drawing)
    for place, slot in enumerate(drawing.slots):
        spread = np.linspace(-0.22, 0.22, len(slot.pulls)) if len(slot.pulls) > 1 else [0.0]
        axes.plot(
            place + np.asarray(spread), slot.pulls, linestyle="", marker="o", markersize=3.2, markeredgewidth=0.9,
            markerfacecolor=COLOURS["paper"], markeredgecolor=PENS["before"].colour, zorder=3,
        )  # fmt: skip
        ink = COLOURS["ink"]
        axes.plot([place, place], slot.interval, color=ink, linewidth=1.1, zorder=4, solid_capstyle="butt")
        axes.plot([place], [slot.mean], color=COLOURS["after"], marker="s", markersize=4.6, zorder=5)
    named = [(place, slot.label) for place, slot in enumerate(drawing.slots) if slot.label]
    kept = named[:: -(-len(named) // LABELS_AT_MOST)]
    axes.set_xticks([place for place, _ in kept], [label for _, label in kept], rotation=90, parse_math=False)
    axes.tick_params(axis="x", labelsize=SMALL, length=0, pad=4)


def _draw_model(axes: Axes, drawing: SeasonDrawing) -> None:
    """A level for each slot, joined where the build stayed the same."""
    for place, slot in enumerate(drawing.slots):
        across = [place - 0.5, place + 0.5]
        low, high = slot.model_interval
        axes.fill_between(across, [low, low], [high, high], color=COLOURS["band"], linewidth=0, zorder=1.5)
        axes.plot(across, [slot.model, slot.model], color=COLOURS["ink"], linewidth=1.4, zorder=2.5)


def _draw_marks(axes: Axes, drawing: SeasonDrawing) -> None:
    """Upright lines where something was changed, with its number, on two heights so that neighbours keep apart."""
    top = drawing.y_range[1]
    for number, mark in enumerate(drawing.marks):
        at = mark.before - 0.5
        axes.axvline(at, color=COLOURS["soft"], linewidth=0.9, linestyle=(0, (4, 2)), zorder=2)
        axes.annotate(
            mark.text, (at, top), (1.5, -9.0 - 10.0 * (number % 2)), textcoords="offset points", ha="left",
            fontsize=SMALL, color=COLOURS["ink"], zorder=6, parse_math=False,
        )  # fmt: skip
    if drawing.step_before is not None:
        at = drawing.step_before - 0.5
        axes.axvline(at, color=COLOURS["after"], linewidth=1.6, linestyle=(0, (1, 1)), zorder=2)
        axes.annotate(
            "step", (at, drawing.y_range[0]), (2.0, 4.0), textcoords="offset points", fontsize=SMALL,
            color=COLOURS["after"], zorder=6,
        )  # fmt: skip


def draw_effects(canvas: Canvas, drawing: EffectsDrawing, width: float, height: float) -> None:
    """One row for each effect, its name above it; `width` and `height` in points."""
    side, foot, head = 12.0, 36.0, 6.0
    axes = canvas.add_axes((side / width, foot / height, 1 - 2 * side / width, 1 - (foot + head) / height))
    count = len(drawing.rows)
    axes.set_xlim(*drawing.x_range)
    axes.set_ylim(-count, 0)
    axes.axvspan(-drawing.worth, drawing.worth, color=COLOURS["zone"], linewidth=0, zorder=0.5)
    graph_paper(axes, across=5, up=0)
    axes.axvline(0, color=COLOURS["ink"], linewidth=0.9, zorder=2)
    for place, row in enumerate(drawing.rows):
        _draw_row(axes, drawing, row, -place)
    axes.set_xlabel(drawing.x_label, fontsize=TEXT, color=COLOURS["soft"], labelpad=2, parse_math=False)


def _draw_row(axes: Axes, drawing: EffectsDrawing, row: EffectRow, top: float) -> None:
    label = row.label if len(row.label) <= LONGEST_LABEL else f"{row.label[: LONGEST_LABEL - 1]}…"
    axes.text(
        drawing.x_range[0], top - 0.24, label, fontsize=SMALL, color=COLOURS["ink"], va="center", zorder=6,
        parse_math=False,
    )  # fmt: skip
    ink = COLOURS["ink"]
    y = top - 0.56
    axes.plot(row.interval, [y, y], color=ink, linewidth=2.0, zorder=3, solid_capstyle="butt")
    axes.plot(row.interval, [y, y], color=ink, linestyle="", marker="|", markersize=8, zorder=3)
    axes.plot([row.effect], [y], color=COLOURS["after"], marker="D", markersize=5, zorder=5)
    axes.plot([row.raw], [y], color=COLOURS["soft"], marker="x", markersize=5, markeredgewidth=1.2, zorder=4)
    if row.whole is not None and row.whole_interval is not None:
        z = top - 0.82
        axes.plot(row.whole_interval, [z, z], color=COLOURS["before"], linewidth=1.4, zorder=3, solid_capstyle="butt")
        axes.plot(
            [row.whole], [z], color=COLOURS["before"], marker="s", markersize=4.4, markerfacecolor=COLOURS["paper"],
            zorder=5,
        )  # fmt: skip
