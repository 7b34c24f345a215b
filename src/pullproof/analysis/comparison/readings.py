"""One measure of many pulls: which have it, how sharply it was read, and why the others have it not."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.reading_limits import Sharpness
from pullproof.arrays import Array
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import Reading, Window, read_measure

__all__ = ["Readings", "read_pulls"]


@dataclass(frozen=True, slots=True)
class Readings:
    """One measure of the pulls `rows` that have it."""

    measure: str
    rows: NDArray[np.intp]
    values: Array
    censored: NDArray[np.bool_]
    doubts: tuple[str, ...]
    refusals: tuple[str, ...] = ()
    """Why the other pulls have it not, one reason each."""
    sharpness: Sharpness = field(default_factory=Sharpness)
    """How sharply the logs let it be read."""

    @property
    def typical(self) -> float:
        """Mean size, from which percentages are taken."""
        return float(np.mean(np.abs(self.values)))


def read_pulls(measure: str, records: Sequence[PullRecord], window: Window) -> Readings:
    """Read a measure from every pull; a pull that lacks it is counted among the doubts where others have it.

    Parameters
    ----------
    measure : str
        Its id.
    records : sequence of PullRecord
        The pulls; `rows` of the answer counts in their order.
    window : (float, float)
        Engine speeds. [rpm]
    """
    rows: list[int] = []
    found: list[Reading] = []
    doubts: list[str] = []
    refusals: list[str] = []
    for row, record in enumerate(records):
        try:
            reading = read_measure(measure, record, window)
        except CannotAnswer as error:
            refusals.append(error.what)
            continue
        rows.append(row)
        found.append(reading)
        doubts.extend(reading.doubts)
    if rows and refusals:
        doubts.append(f"{len(refusals)} of {len(records)} pulls have no such reading: {refusals[0]}")
    return Readings(
        measure=measure,
        rows=np.array(rows, dtype=np.intp),
        values=np.array([reading.value for reading in found], dtype=float),
        censored=np.array([reading.censored for reading in found], dtype=bool),
        doubts=tuple(dict.fromkeys(doubts)),
        refusals=tuple(refusals),
        sharpness=Sharpness.of(found),
    )
