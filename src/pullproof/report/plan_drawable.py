"""What the figure of a plan shows, as plain data: the chance of a clear answer against the pulls it takes."""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.plan import Option, Plan
from pullproof.arrays import Array
from pullproof.report.rounding import NBSP
from pullproof.report.wording import measure_name

__all__ = ["SHORT", "ChanceDrawing", "Path", "chance_drawing"]

SHORT = {
    "before_after": "before, after",
    "before_after_before": "before, after, before",
    "alternating": "by turns",
    "two_days": "before one day, after another",
    "both_on_two_days": "both on each of two days",
    "both_on_three_days": "both on each of three days",
    "several_days": "several days, then several",
}
"""Names short enough for the figure and the screen."""


@dataclass(frozen=True, slots=True)
class Path:
    """One order: pulls in all, and the chance in per cent, both (n,)."""

    order: str
    label: str
    one_day: bool
    pulls: Array
    chance: Array


@dataclass(frozen=True, slots=True)
class ChanceDrawing:
    """Chance over pulls, one path for each order, and the chance that is asked for. `mark` is what is recommended."""

    title: str
    description: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    paths: tuple[Path, ...]
    wanted: float
    mark: tuple[float, float] | None


def chance_drawing(plan: Plan) -> ChanceDrawing:
    """Every option of a plan."""
    by_order: dict[str, list[Option]] = {}
    for option in plan.options:
        by_order.setdefault(option.order, []).append(option)
    paths = tuple(
        Path(
            order,
            SHORT[order],
            options[0].days == 1,
            np.array([_pulls(option) for option in options], dtype=float),
            np.array([100.0 * option.chance for option in options]),
        )
        for order, options in by_order.items()
    )
    best = plan.recommended
    wanted = 100.0 * plan.question.chance
    said = "; ".join(f"{path.label}: {path.chance[-1]:.0f}{NBSP}% with {path.pulls[-1]:.0f} pulls" for path in paths)
    return ChanceDrawing(
        title=f"Chance of a clear answer about {measure_name(plan.question.measure)} against the number of pulls",
        description=f"Chance in per cent over all pulls of both sides, one line for each order. {said}. "
        f"The line across is the chance asked for, {wanted:.0f}{NBSP}%.",
        x_label="pulls in all",
        y_label="chance of a clear answer, %",
        x_range=(0.0, max(float(path.pulls[-1]) for path in paths) + 1.0),
        paths=paths,
        wanted=wanted,
        mark=None if best is None else (float(_pulls(best)), 100.0 * best.chance),
    )


def _pulls(option: Option) -> int:
    return option.pulls_before + option.pulls_after
