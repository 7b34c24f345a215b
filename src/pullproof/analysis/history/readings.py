"""One measure of every pull of a season."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.reading_limits import Sharpness
from pullproof.analysis.comparison.result import LeftOut
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.measures import Reading, read_measure

__all__ = ["Readings", "read_season"]


@dataclass(frozen=True, slots=True)
class Readings:
    """One measure of the pulls `rows` that have it."""

    measure: str
    rows: NDArray[np.intp]
    values: Array
    censored: NDArray[np.bool_]
    doubts: tuple[str, ...]
    sharpness: Sharpness = field(default_factory=Sharpness)
    """How sharply the logs let it be read."""

    @property
    def typical(self) -> float:
        """Mean size, from which percentages are taken."""
        return float(np.mean(np.abs(self.values)))


def read_season(measure: str, pulls: SeasonPulls) -> Readings | LeftOut:
    """Read a measure from every pull, or say why it cannot be had from enough of them."""
    rows: list[int] = []
    found: list[Reading] = []
    doubts: list[str] = []
    refusals: list[str] = []
    for row, pull in enumerate(pulls.pulls):
        try:
            reading = read_measure(measure, pull.record, pulls.window)
        except CannotAnswer as error:
            refusals.append(error.what)
            continue
        rows.append(row)
        found.append(reading)
        doubts.extend(reading.doubts)
    if not rows:
        return LeftOut(measure, "; ".join(dict.fromkeys(refusals)))
    if all(reading.censored for reading in found):
        return LeftOut(measure, "it sat at its stop in every pull, where it cannot move")
    if len({pulls.pulls[row].build for row in rows}) < 2:
        why = f": {refusals[0]}" if refusals else ""
        return LeftOut(measure, f"it was read with one build only{why}")
    if refusals:
        doubts.append(f"{len(refusals)} of {len(pulls.pulls)} pulls have no such reading: {refusals[0]}")
    return Readings(
        measure=measure,
        rows=np.array(rows, dtype=np.intp),
        values=np.array([reading.value for reading in found], dtype=float),
        censored=np.array([reading.censored for reading in found], dtype=bool),
        doubts=tuple(dict.fromkeys(doubts)),
        sharpness=Sharpness.of(found),
    )
