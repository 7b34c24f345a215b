"""Operating lines on a compressor map, for a report and for the console."""

from collections.abc import Sequence
from typing import Literal

import numpy as np

from pullproof.analysis.air_system import Curve, Missing, OperatingLine
from pullproof.report.evidence import as_sentence
from pullproof.report.map_drawable import map_drawing
from pullproof.report.model import Plate, Points, Section
from pullproof.report.rounding import NBSP, Rounding
from pullproof.report.wording import capitalised, level_text

__all__ = ["map_section", "operating_notes"]

RPM = Rounding(-1, "rpm")


def map_section(lines: Sequence[tuple[Literal["before", "after"] | None, OperatingLine]]) -> Section:
    """The map with what its operating lines say in words, and the doubts of putting them there."""
    mapped = lines[0][1].map
    notes = [note for side, line in lines for note in operating_notes(side, line)]
    notes.append(f"Map: {mapped.name}{f', {mapped.origin}' if mapped.origin else ''}.")
    doubts = _doubts(lines)
    plate = Plate("Operating line", map_drawing(mapped, lines), tuple(notes), picture=False)
    return Section(
        "Compressor map",
        "Thick: surge line. Dotted: equal efficiency. Thin: equal corrected shaft speed. Numbers at the points: engine "
        "speed in rpm.",
        (plate, *((Points(doubts),) if doubts else ())),
        picture=False,
    )


def _doubts(lines: Sequence[tuple[Literal["before", "after"] | None, OperatingLine]]) -> tuple[str, ...]:
    """What all lines share once, and what belongs to one side under its name."""
    shared = [doubt for doubt in lines[0][1].doubts if all(doubt in line.doubts for _, line in lines)]
    own = [
        capitalised(f"{side}: {doubt}" if side else doubt)
        for side, line in lines
        for doubt in line.doubts
        if doubt not in shared
    ]
    return tuple(as_sentence(doubt) for doubt in (*shared, *own))


def operating_notes(side: str | None, line: OperatingLine) -> list[str]:
    """Efficiency, distance to surge and to the end of the map, with their intervals."""
    name = f"{side}, " if side else ""
    if "inside" not in line.places:
        places = ", ".join(dict.fromkeys(line.places))
        reason = "a wrong unit or reference, or another wheel"
        return [capitalised(f"{name}no point of full load lies on the map ({places}): {reason}.")]
    notes = []
    for what, curve, pick in (
        ("largest share of the flow that its shaft speed can pass", line.choke_share, np.nanargmax),
        ("nearest to surge, share of the flow", line.surge_margin, np.nanargmin),
        ("best efficiency by the map", line.efficiency, np.nanargmax),
        ("lowest efficiency by the map", line.efficiency, np.nanargmin),
    ):
        if isinstance(curve, Missing):
            continue
        notes.append(capitalised(f"{name}{what}: {_at(curve, int(pick(curve.value)))}."))
    return notes


def _at(curve: Curve, at: int) -> str:
    """`72 % (95 % interval 70 to 74 %) at 4500 rpm`."""
    value, interval = 100 * float(curve.value[at]), (100 * float(curve.lower[at]), 100 * float(curve.upper[at]))
    place = RPM.plain(float(curve.rpm[at]))
    if not np.isfinite(interval).all():
        return f"{Rounding(0, '%').plain(value)} at {place}, interval beyond the map"
    rounding = Rounding.of(interval, value, "%")
    ends = f"{rounding.bare(interval[0])}{NBSP}to{NBSP}{rounding.plain(interval[1])}"
    return f"{rounding.plain(value)} ({level_text(curve.level)} interval {ends}) at {place}"
