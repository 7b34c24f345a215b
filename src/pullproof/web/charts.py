"""Report blocks on a page: curves as charts that can be read closely, everything else as in the report itself.

A page that shows a result takes the sections that `report` words for it and hands them to the template: the macro
`section` of `blocks.html` lays out facts, tables, points and plates, so that page and report say the same. A plate of
curves becomes a chart (`chart_of`, drawn by `static/js/curves.js`, with its values in a table beside it); any other
drawing becomes the report's own picture (`picture`).
"""

import itertools
import json
import math
import re
from collections.abc import Callable, Sequence
from typing import Any, Final

import numpy as np
from markupsafe import Markup, escape

from pullproof.arrays import Array
from pullproof.report.drawables import CurveDrawing, IntervalDrawing, Panel
from pullproof.report.figures import Drawing, to_svg
from pullproof.report.rounding import MINUS

__all__ = ["chart_of", "interval_marks", "is_curves", "picture", "value_table"]

TABLE_ROWS: Final = 24
_COUNT = itertools.count(1)
_STYLE = re.compile(r' style="([^"]*)"')


def is_curves(drawing: object) -> bool:
    """Whether a drawing can be shown as a chart."""
    return isinstance(drawing, CurveDrawing)


def chart_of(drawing: CurveDrawing, *, brush: bool = False, spans: Sequence[dict[str, Any]] = ()) -> str:
    """What `curves.js` draws, as JSON. NaN becomes null: a gap.

    Parameters
    ----------
    drawing : CurveDrawing
        Panels over one axis.
    brush : bool
        Whether a span of the axis can be chosen by dragging.
    spans : sequence of dict
        Shaded spans: `start` and `end` on the axis, `label`.
    """
    said = {
        "x_label": drawing.x_label,
        "x_range": list(drawing.x_range),
        "brush": brush,
        "spans": list(spans),
        "panels": [_panel(panel) for panel in drawing.panels],
    }
    return json.dumps(said, allow_nan=False)


def _panel(panel: Panel) -> dict[str, Any]:
    every = [(line.x, line.y) for line in panel.lines]
    every += [(band.x, limit) for band in panel.bands for limit in (band.lower, band.upper)]
    x = np.unique(np.concatenate([x for x, _ in every])) if every else np.empty(0)
    return {
        "label": panel.label,
        "y_range": [float(limit) for limit in panel.y_range],
        "x": _numbers(x),
        "lines": [{"role": line.role, "label": line.label, "y": _on(x, line.x, line.y)} for line in panel.lines],
        "bands": [
            {
                "label": band.label,
                "role": band.role,
                "lower": _on(x, band.x, band.lower),
                "upper": _on(x, band.x, band.upper),
            }
            for band in panel.bands
        ],
        "levels": [{"kind": level.kind, "y": level.y, "label": level.label} for level in panel.levels],
    }


def _on(grid: Array, x: Array, y: Array) -> list[float | None]:
    """Values on a grid that holds all of `x` and more: straight between, nothing beyond the ends or in a gap."""
    if grid.size == x.size:
        return _numbers(y)
    values = np.interp(grid, x, y, left=np.nan, right=np.nan)
    return _numbers(values)


def _numbers(values: Array) -> list[float | None]:
    return [float(f"{value:.6g}") if math.isfinite(value) else None for value in np.asarray(values).tolist()]


def value_table(drawing: CurveDrawing) -> tuple[list[str], list[list[str]]]:
    """The same in numbers, for who cannot see the lines or wants to read one off: headings, and some rows."""
    columns: list[tuple[str, Array, Array]] = []
    for panel in drawing.panels:
        for line in panel.lines:
            label = f"{panel.label}, {line.label}" if line.label else panel.label
            columns.append((label, line.x, line.y))
        for band in panel.bands:
            columns += [
                (f"{panel.label}, lower end", band.x, band.lower),
                (f"{panel.label}, upper end", band.x, band.upper),
            ]
    if not columns:
        return [], []
    every = np.unique(np.concatenate([x for _, x, _ in columns]))
    rows = every[np.unique(np.linspace(0, every.size - 1, min(TABLE_ROWS, every.size)).round().astype(int))]
    cells = [[_cell(value) for value in np.interp(rows, x, y, left=np.nan, right=np.nan)] for _, x, y in columns]
    return [drawing.x_label, *(label for label, _, _ in columns)], [
        [f"{at:.0f}" if abs(at) >= 100 else _cell(at), *values] for at, *values in zip(rows, *cells, strict=True)
    ]


def _cell(value: float) -> str:
    if not math.isfinite(value):
        return "–"
    places = max(0, 3 - math.floor(math.log10(abs(value)))) if value else 0
    return f"{value:.{min(places, 3)}f}".replace("-", MINUS)


def interval_marks(drawing: IntervalDrawing) -> dict[str, float]:
    """Where the parts of a small interval stand, from 0 to 100 across: ends, value, and the zone not worth having."""
    low, high = drawing.x_range

    def across(value: float) -> float:
        return round(min(100.0, max(0.0, 100.0 * (value - low) / (high - low))), 2)

    return {
        "low": across(drawing.interval[0]),
        "high": across(drawing.interval[1]),
        "value": across(drawing.value),
        "zero": across(0.0),
        "zone_low": across(-drawing.worth),
        "zone_high": across(drawing.worth),
    }


def picture(drawing: Drawing) -> Markup:
    """The report's own picture, in the colours of the page.

    Our policy allows no style within a page, so each style becomes the attributes that say the same.
    """
    svg = to_svg(drawing, f"figure{next(_COUNT)}", for_page=True)
    return Markup(_STYLE.sub(_as_attributes, svg))  # noqa: S704  (our own SVG, escaped)


def _as_attributes(found: re.Match[str]) -> str:
    said: list[str] = []
    for part in found[1].split(";"):
        name, _, value = part.partition(":")
        if value.strip() and re.fullmatch(r"[a-z-]+", name.strip()):
            said.append(f' {name.strip()}="{escape(value.strip())}"')
    return "".join(said)


GLOBALS: Final[dict[str, Callable[..., Any]]] = {
    "chart_of": chart_of,
    "interval_marks": interval_marks,
    "is_curves": is_curves,
    "picture": picture,
    "value_table": value_table,
}
"""What the templates use."""
