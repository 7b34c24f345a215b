"""Ink and paper that every figure shares: colours by role, pens, and squared paper.

Lines differ in style, marker and direct label before they differ in colour, so that print in grey and every eye
can tell them apart; areas differ in hatching.
"""

from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from matplotlib.axes import Axes
from matplotlib.axis import Axis
from matplotlib.figure import Figure, SubFigure
from matplotlib.ticker import MaxNLocator

from pullproof.arrays import Array
from pullproof.report.rounding import Rounding

__all__ = ["COLOURS", "HATCHES", "PENS", "TEXT", "Canvas", "Pen", "graph_paper"]

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
    width: float = 1.6


PENS: Final = {
    "before": Pen(COLOURS["before"], (0, (5, 2)), "o", filled=False, first_marker=0.04),
    "after": Pen(COLOURS["after"], "solid", "s", filled=True, first_marker=0.09),
    "difference": Pen(COLOURS["ink"], "solid", "", filled=True, first_marker=0.0),
    "mean": Pen(COLOURS["ink"], "solid", "D", filled=True, first_marker=0.06),
    "pull": Pen(COLOURS["soft"], "solid", "", filled=True, first_marker=0.0, width=0.7),
}

HATCHES: Final = {"before": "////", "after": "\\\\\\\\", "mean": "...."}
"""How the area of a role is hatched: the lines of before and after cross where their areas overlap."""

TEXT = 10.0
"""Size of labels [pt]: a figure shown at the width of a phone keeps them readable."""

Canvas = Figure | SubFigure


def graph_paper(axes: Axes, *, across: int, up: int) -> None:
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
