"""An operating line on a compressor map, as plain data."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.air_system import CompressorMap, Curve, OperatingLine
from pullproof.arrays import Array
from pullproof.report.drawables import padded
from pullproof.report.rounding import Rounding, significant
from pullproof.report.wording import level_text, listed

__all__ = ["Island", "MapDrawing", "Marked", "Operating", "map_drawing"]

Side = Literal["before", "after"]

GRID = 90
"""Points along a speed line and lines across it at which efficiency is read for the islands."""

ISLANDS = (0.50, 0.55, 0.60, 0.65, 0.68, 0.70, 0.72, 0.74, 0.76, 0.78, 0.80)
MARKS = 4
"""Engine speeds that are written beside an operating line, at most."""


@dataclass(frozen=True, slots=True)
class Marked:
    """A line of equal corrected speed with its name; (k,) each."""

    label: str
    x: Array
    y: Array


@dataclass(frozen=True, slots=True)
class Island:
    """Efficiency over the map for its contour lines; (m, n) each."""

    x: Array
    y: Array
    efficiency: Array
    levels: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Operating:
    """An operating line; (k,) each, `crosses` are the intervals at the marked engine speeds."""

    role: Side
    label: str
    x: Array
    y: Array
    marks: tuple[tuple[str, float, float], ...]
    crosses: tuple[tuple[float, float, tuple[float, float], tuple[float, float]], ...]
    """Flow, pressure ratio, and the interval of each."""


@dataclass(frozen=True, slots=True)
class MapDrawing:
    """A compressor map with one operating line or two."""

    title: str
    description: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    speeds: tuple[Marked, ...]
    surge: Marked
    island: Island | None
    operating: tuple[Operating, ...]


def map_drawing(mapped: CompressorMap, lines: Sequence[tuple[Side | None, OperatingLine]]) -> MapDrawing:
    """Speed lines, surge line, islands of equal efficiency, and the operating lines on them.

    Parameters
    ----------
    mapped : CompressorMap
        The map.
    lines : sequence of (side, OperatingLine)
        `before`, `after`, or None for a single one.
    """
    speeds = tuple(Marked(significant(line.speed / 1e3, 3), line.flow, line.pressure_ratio) for line in mapped.lines)
    surge_x, surge_y = mapped.surge_line
    operating = tuple(_operating(side, line) for side, line in lines)
    reference = mapped.reference
    state = (
        f"{significant(reference.temperature - 273.15, 3, '°C')} and {significant(reference.pressure / 1e3, 4, 'kPa')}"
    )
    level = level_text(lines[0][1].corrected_flow.level)
    return MapDrawing(
        title="Operating line on the compressor map",
        description=f"Pressure ratio of the compressor against air mass flow in g/s corrected to {state}: lines of "
        f"equal shaft speed with the surge line at their left end, and the operating line of full load "
        f"{listed([_described(side, line) for side, line in lines])}. Crosses are {level} intervals.",
        x_label=f"corrected air mass flow, g/s at {state}",
        y_label="pressure ratio of the compressor",
        x_range=padded([*(line.x for line in speeds), *(line.x for line in operating)]),
        y_range=padded([*(line.y for line in speeds), *(line.y for line in operating), np.array([1.0])]),
        speeds=speeds,
        surge=Marked("surge line", surge_x, surge_y),
        island=_island(mapped),
        operating=operating,
    )


def _described(side: Side | None, line: OperatingLine) -> str:
    flow, ratio = line.corrected_flow.value, line.pressure_ratio.value
    ends = [
        f"{significant(flow[at], 3, 'g/s')} at ratio {significant(ratio[at], 3)} and "
        f"{Rounding(-1, 'rpm').plain(float(line.rpm[at]))}"
        for at in (0, -1)
    ]
    return f"{side or 'of the pulls'} from {ends[0]} to {ends[1]}"


def _operating(side: Side | None, line: OperatingLine) -> Operating:
    flow, ratio = line.corrected_flow, line.pressure_ratio
    marks, crosses = [], []
    known = np.flatnonzero(np.isfinite(flow.value) & np.isfinite(ratio.value))
    for at in known[np.unique(np.linspace(0, known.size - 1, MARKS).round().astype(int))]:
        place = float(flow.value[at]), float(ratio.value[at])
        marks.append((f"{line.rpm[at]:.0f}", *place))
        crosses.append((*place, _interval(flow, at), _interval(ratio, at)))
    return Operating(side or "after", side or "", flow.value, ratio.value, tuple(marks), tuple(crosses))


def _interval(curve: Curve, at: int) -> tuple[float, float]:
    return float(curve.lower[at]), float(curve.upper[at])


def _island(mapped: CompressorMap) -> Island | None:
    if not mapped.has_efficiency:
        return None
    speeds = np.linspace(mapped.lines[0].speed, mapped.lines[-1].speed, GRID)
    places = np.linspace(0.0, 1.0, GRID)
    x, y = mapped.point(speeds[:, None], places[None, :])
    efficiency = mapped.locate(x, y).efficiency
    low, high = np.nanmin(efficiency), np.nanmax(efficiency)
    return Island(x, y, efficiency, tuple(level for level in ISLANDS if low < level < high))
