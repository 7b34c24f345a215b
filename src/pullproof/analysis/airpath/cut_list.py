"""What a fabricator needs to make a path: pieces, bends, hoses and clamps, welds, stock and weight.

Millimetres and kilograms, as on a bench. Neighbouring metal pieces are welded; a bend formed in the tube itself is one
piece with its neighbours. Hose joints, coolers, throttles and screens end a welded piece. Check the first piece
against the car before the rest is cut: a drawing knows nothing of a wheel at full lock or an engine that rocks.
"""

import itertools
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.analysis.airpath.elements import (
    Bend,
    Element,
    Flattened,
    HoseJoint,
    Mitre,
    Oval,
    Pipe,
    Reducer,
    Tube,
)
from pullproof.analysis.airpath.path import AirPath
from pullproof.analysis.airpath.path_sheet import MATERIALS
from pullproof.analysis.cautions import CAUTIONS

__all__ = ["CutList", "CutPiece", "Hose", "Stock", "cut_list"]

KERF = 3e-3
"""Lost at each saw cut, with the dressing of the edge [m]. Common practice, no source."""

HOSE_WALL = 5e-3
"""Of reinforced hose [m]. Common practice, no source."""

MM = 1e3
Metal = Pipe | Bend | Mitre | Reducer | Flattened | Oval


@dataclass(frozen=True, slots=True)
class CutPiece:
    """One metal piece. `developed_mm` is the length along the centre line, which is what a formed tube takes.

    `angle_deg` and `radius_mm` are those of a bend, None elsewhere.
    """

    number: int
    what: str
    outside_mm: float
    wall_mm: float
    material: str
    developed_mm: float
    angle_deg: float | None
    radius_mm: float | None
    mass_kg: float


@dataclass(frozen=True, slots=True)
class Hose:
    """One hose with its two clamps."""

    inside_mm: tuple[float, float]
    """For the pipe ends before and behind."""
    length_mm: float
    clamps: int
    clamp_mm: tuple[float, float]
    """Outside diameters that the clamps have to close on, over the hose."""


@dataclass(frozen=True, slots=True)
class Stock:
    """What to order of one tube: straight length with saw cuts, or a number of ready bends or reducers."""

    what: str
    quantity: str


@dataclass(frozen=True, slots=True)
class CutList:
    """Everything to make one path."""

    name: str
    pieces: tuple[CutPiece, ...]
    hoses: tuple[Hose, ...]
    stock: tuple[Stock, ...]
    welds: int
    developed_mm: float
    """Of the whole path along its centre line."""
    tube_mass_kg: float
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def cut_list(path: AirPath) -> CutList:
    """Cut list of a path.

    Parameters
    ----------
    path : AirPath
        From `load_path`.
    """
    pieces = tuple(
        _piece(number, element) for number, element in enumerate(path.elements, 1) if isinstance(element, Metal)
    )
    hoses = tuple(_hose(element) for element in path.elements if isinstance(element, HoseJoint))
    return CutList(
        name=path.name,
        pieces=pieces,
        hoses=hoses,
        stock=_stock(path.elements),
        welds=_welds(path.elements),
        developed_mm=MM * path.length,
        tube_mass_kg=sum(piece.mass_kg for piece in pieces),
        notes=_notes(path),
        cautions=CAUTIONS,
    )


def _piece(number: int, element: Metal) -> CutPiece:
    bend = element if isinstance(element, Bend) else None
    angle = np.degrees(element.angle) if isinstance(element, Bend | Mitre) else None
    return CutPiece(
        number=number,
        what=element.label,
        outside_mm=MM * (max(element.inlet, element.outlet) + 2.0 * element.tube.wall),
        wall_mm=MM * element.tube.wall,
        material=element.tube.material,
        developed_mm=MM * element.length,
        angle_deg=None if angle is None else float(angle),
        radius_mm=None if bend is None else MM * bend.radius,
        mass_kg=_mass(element),
    )


def _mass(element: Metal) -> float:
    """Wall times mean perimeter of the wall's middle times length. [kg]"""
    wall = element.tube.wall
    if isinstance(element, Oval):
        perimeter = float(element.section.perimeter)
    else:
        perimeter = np.pi * 0.5 * (element.inlet + element.outlet)
    return float(MATERIALS[element.tube.material] * element.length * wall * (perimeter + np.pi * wall))


def _hose(joint: HoseJoint) -> Hose:
    wall = 0.5 * (joint.outside_diameter - max(joint.inlet, joint.outlet))
    ends = tuple(MM * (bore + 2.0 * wall) for bore in (joint.inlet, joint.outlet))
    return Hose(
        inside_mm=(ends[0], ends[1]),
        length_mm=MM * joint.hose_length,
        clamps=2,
        clamp_mm=(ends[0] + 2.0 * MM * HOSE_WALL, ends[1] + 2.0 * MM * HOSE_WALL),
    )


def _welds(elements: Sequence[Element]) -> int:
    """Joints between metal neighbours that are not one formed tube, and the cuts of mitres."""
    joints = 0
    for one, other in itertools.pairwise(elements):
        if isinstance(one, Metal) and isinstance(other, Metal):
            joints += not (_formed(one, other) or _formed(other, one))
    return joints + sum(element.cuts for element in elements if isinstance(element, Mitre))


def _formed(bend: Metal, neighbour: Metal) -> bool:
    """A formed bend goes on into straight pipe, or another formed bend, of the same tube."""
    if not (isinstance(bend, Bend) and bend.formed and bend.tube == neighbour.tube):
        return False
    same_bore = bend.diameter == neighbour.inlet == neighbour.outlet
    goes_on = isinstance(neighbour, Pipe | Flattened) or (isinstance(neighbour, Bend) and neighbour.formed)
    return same_bore and goes_on


def _stock(elements: Sequence[Element]) -> tuple[Stock, ...]:
    straight: dict[tuple[float, Tube, str], float] = {}
    bought: Counter[str] = Counter()
    for element in elements:
        match element:
            case Pipe() | Mitre() | Flattened() | Bend(formed=True):
                key = (element.diameter, element.tube, "")
                straight[key] = straight.get(key, 0.0) + element.length + KERF
            case Oval():
                key = (element.width, element.tube, f" oval, {MM * element.height:.4g} mm high inside")
                straight[key] = straight.get(key, 0.0) + element.length + KERF
            case Bend():
                outside = MM * (element.diameter + 2.0 * element.tube.wall)
                bought[
                    f"{np.degrees(element.angle):.4g} deg bend, {_tube(outside, element.tube)}, centre-line radius "
                    f"{MM * element.radius:.4g} mm"
                ] += 1
            case Reducer():
                bought[f"reducer, {MM * element.inlet:.4g} to {MM * element.outlet:.4g} mm bore"] += 1
            case _:
                pass
    lengths = [
        Stock(_tube(MM * (bore + 2.0 * tube.wall), tube) + shape, f"{MM * length:.0f} mm with saw cuts")
        for (bore, tube, shape), length in straight.items()
    ]
    return (*lengths, *(Stock(what, str(count)) for what, count in bought.items()))


def _tube(outside_mm: float, tube: Tube) -> str:
    return f"{tube.material} tube {outside_mm:.4g} x {MM * tube.wall:.3g} mm"


def _notes(path: AirPath) -> tuple[str, ...]:
    notes = [
        "Developed lengths are along the centre line; bends need straight ends for clamping that are not in them.",
        "Roll or weld a bead on every pipe end that a hose holds on, and keep it clear of the clamp.",
    ]
    if any(isinstance(element, Mitre) for element in path.elements):
        notes.append("Mitres need pieces long enough to hold: their outer side is longer than the centre line.")
    if any(isinstance(element, Flattened) for element in path.elements):
        notes.append("Press flat before welding; a tube that buckles loses more area than is reckoned with.")
    return (*notes, *path.doubts)
