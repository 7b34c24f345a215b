"""Figures of the report. Greyscale-safe: groups differ by marker and line style, never by colour alone."""

from collections.abc import Sequence
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.figure import Figure

from validation.statistics import Share

__all__ = ["curves", "dots"]

MARKERS = ("o", "s", "^", "D", "v", "P")
SHADES = ("#000000", "#555555", "#8a8a8a", "#000000", "#555555", "#8a8a8a")
FILLED = (True, True, True, False, False, False)
LINES = ("-", "--", "-.", ":", (0, (5, 1, 1, 1)), (0, (1, 3)))


def _axes(width: float, height: float) -> tuple[Figure, Axes]:
    mpl.rcParams["svg.hashsalt"] = "pullproof validation"
    figure = Figure(figsize=(width, height), layout="constrained")
    axes = figure.add_subplot()
    axes.spines[["top", "right"]].set_visible(False)
    return figure, axes


def _save(figure: Figure, path: Path) -> None:
    path.parent.mkdir(parents=True, exist_ok=True)
    figure.savefig(path.with_suffix(".svg"), metadata={"Date": None})
    figure.savefig(path.with_suffix(".png"), dpi=130)


def dots(
    path: Path,
    rows: Sequence[str],
    groups: dict[str, Sequence[Share]],
    label: str,
    *,
    target: tuple[float, float],
    scale: float = 1.0,
    limits: tuple[float, float] | None = None,
) -> None:
    """One row a measure, one marker a group, bars of two Monte Carlo errors, and the target as a grey band."""
    figure, axes = _axes(8.5, 1.4 + 0.42 * len(rows))
    place = np.arange(len(rows))[::-1].astype(float)
    axes.axvspan(*target, color="0.88", zorder=0, label=f"target {target[0]:g} to {target[1]:g}")
    offsets = np.linspace(0.28, -0.28, len(groups)) if len(groups) > 1 else np.zeros(1)
    for index, (name, shares) in enumerate(groups.items()):
        values = scale * np.array([share.value for share in shares])
        errors = scale * np.array([2 * share.error for share in shares])
        axes.errorbar(
            values,
            place + offsets[index],
            xerr=errors,
            linestyle="none",
            marker=MARKERS[index % 6],
            markersize=4.5,
            color=SHADES[index % 6],
            markerfacecolor=SHADES[index % 6] if FILLED[index % 6] else "white",
            elinewidth=0.8,
            label=name,
        )
    axes.set_yticks(place, rows)
    axes.set_xlabel(label)
    if limits is not None:
        axes.set_xlim(*limits)
    axes.grid(axis="x", color="0.9", linewidth=0.6)
    axes.legend(loc="upper left", bbox_to_anchor=(1.0, 1.0), frameon=False, fontsize=8)
    _save(figure, path)


def curves(path: Path, lines: dict[str, list[tuple[float, Share]]], across: str, up: str, target: float) -> None:
    """Curves with bars of two Monte Carlo errors, and the target as a thin line."""
    figure, axes = _axes(7.5, 4.2)
    axes.axhline(target, color="0.6", linewidth=0.8)
    for index, (name, points) in enumerate(lines.items()):
        known = [(centre, share) for centre, share in points if share.count >= 10]
        axes.errorbar(
            [centre for centre, _ in known],
            [100 * share.value for _, share in known],
            yerr=[200 * share.error for _, share in known],
            marker=MARKERS[index % 6],
            markersize=5,
            linestyle=LINES[index % 6],
            color=SHADES[index % 6],
            markerfacecolor=SHADES[index % 6] if FILLED[index % 6] else "white",
            label=name,
        )
    axes.set_xlabel(across)
    axes.set_ylabel(up)
    axes.set_ylim(0, 102)
    axes.set_xlim(left=0)
    axes.grid(color="0.92", linewidth=0.6)
    axes.legend(frameon=False, fontsize=8, loc="upper left", bbox_to_anchor=(1.0, 1.0))
    _save(figure, path)
