"""What an air path is made of, in SI units, in the order in which the air meets it."""

from dataclasses import dataclass
from typing import TypeAlias

import numpy as np

from pullproof.physics.sections import Section, flattened_round, round_bore

__all__ = [
    "Bend",
    "Cooler",
    "Element",
    "Entrance",
    "Exit",
    "Flattened",
    "HoseJoint",
    "Mitre",
    "Oval",
    "Pipe",
    "Reducer",
    "Screen",
    "Step",
    "Throttle",
    "Tube",
]


@dataclass(frozen=True, slots=True)
class Tube:
    """The tube that metal pieces are cut from. Wall and roughness in m."""

    wall: float
    roughness: float
    material: str


@dataclass(frozen=True, slots=True)
class _OneBore:
    """A piece with the same bore at both ends. [m]"""

    diameter: float

    @property
    def inlet(self) -> float:
        """Bore at the inlet; of equal area where it is not round. [m]"""
        return self.diameter

    @property
    def outlet(self) -> float:
        """Bore at the outlet; of equal area where it is not round. [m]"""
        return self.diameter

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return 0.0

    @property
    def volume(self) -> float:
        """Volume of air inside. [m3]"""
        return float(round_bore(self.diameter).area) * self.length


@dataclass(frozen=True, slots=True)
class _TwoBores(_OneBore):
    """A piece with another bore at the outlet. [m]"""

    outlet_diameter: float

    @property
    def outlet(self) -> float:
        """Bore at the outlet. [m]"""
        return self.outlet_diameter


@dataclass(frozen=True, slots=True)
class Pipe(_OneBore):
    """Straight piece of round pipe."""

    straight: float
    tube: Tube

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.straight

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"straight pipe, {_mm(self.diameter)} bore, {_mm(self.length)} long"


@dataclass(frozen=True, slots=True)
class Bend(_OneBore):
    """Smooth bend. Angle in rad, radius of the centre line in m.

    `formed` says that it is bent in the tube itself, with no weld to its neighbours.
    """

    angle: float
    radius: float
    tube: Tube
    formed: bool

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.angle * self.radius

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"{_deg(self.angle)} bend, {_mm(self.diameter)} bore, centre-line radius {_mm(self.radius)}"


@dataclass(frozen=True, slots=True)
class Mitre(_OneBore):
    """Bend cut from straight pipe and welded, in one cut or several equal ones. Angle in rad."""

    angle: float
    cuts: int
    centre_line: float
    tube: Tube

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.centre_line

    @property
    def label(self) -> str:
        """How the report names it."""
        cuts = "one cut" if self.cuts == 1 else f"{self.cuts} cuts"
        return f"{_deg(self.angle)} mitre in {cuts}, {_mm(self.diameter)} bore"


@dataclass(frozen=True, slots=True)
class HoseJoint(_TwoBores):
    """Hose over two pipe ends with a gap between them; lengths in m.

    `outside_diameter` is that of the thicker pipe end, which the hose has to fit.
    """

    hose_diameter: float
    gap: float
    hose_length: float
    outside_diameter: float

    @property
    def length(self) -> float:
        """Of the gap: the pipe ends inside the hose belong to the pipes. [m]"""
        return self.gap

    @property
    def volume(self) -> float:
        """Of the gap. [m3]"""
        return float(round_bore(self.hose_diameter).area) * self.gap

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"hose joint, {_mm(self.hose_diameter)} in a gap of {_mm(self.gap)}"


@dataclass(frozen=True, slots=True)
class Reducer(_TwoBores):
    """Cone from one bore to another."""

    cone: float
    """Length. [m]"""
    tube: Tube

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.cone

    @property
    def volume(self) -> float:
        """Of the frustum. [m3]"""
        one, other = self.diameter, self.outlet_diameter
        return np.pi / 12.0 * self.cone * (one**2 + one * other + other**2)

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"reducer, {_mm(self.diameter)} to {_mm(self.outlet_diameter)} in {_mm(self.cone)}"


@dataclass(frozen=True, slots=True)
class Step(_TwoBores):
    """Square step between two bores; `found` where two elements do not fit and nobody wrote it down."""

    found: bool

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"square step, {_mm(self.diameter)} to {_mm(self.outlet_diameter)}"


@dataclass(frozen=True, slots=True)
class Flattened(_OneBore):
    """Round pipe pressed flat for clearance, or crushed, and round again; lengths in m.

    `flat` is the flat part, `transition` the way from round to flat at each end.
    """

    height: float
    flat: float
    transition: float
    tube: Tube

    @property
    def section(self) -> Section:
        """The flat part, perimeter kept."""
        return flattened_round(self.diameter, self.height)

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.flat + 2.0 * self.transition

    @property
    def volume(self) -> float:
        """Volume of air inside. [m3]"""
        narrow, full = float(self.section.area), float(round_bore(self.diameter).area)
        return narrow * self.flat + (narrow + full) * self.transition

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"pressed flat, {_mm(self.diameter)} bore to {_mm(self.height)} high over {_mm(self.flat)}"


@dataclass(frozen=True, slots=True)
class Oval(_OneBore):
    """Straight piece of oval tube. Its diameter is that of the round bore of equal area."""

    section: Section
    width: float
    height: float
    straight: float
    tube: Tube

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return self.straight

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"oval pipe, {_mm(self.width)} by {_mm(self.height)}, {_mm(self.straight)} long"


@dataclass(frozen=True, slots=True)
class Screen(_OneBore):
    """Wire mesh (with its opening, in m) or perforated plate (without) across the pipe."""

    open_fraction: float
    opening: float | None

    @property
    def label(self) -> str:
        """How the report names it."""
        what = "perforated plate" if self.opening is None else "wire mesh"
        return f"{what}, {100 * self.open_fraction:g} % open"


@dataclass(frozen=True, slots=True)
class Cooler(_TwoBores):
    """Charge cooler with one loss that somebody measured or the maker states. SI units.

    `loss_doubt` is the relative standard uncertainty of that loss.
    """

    known_loss: float
    known_mass_flow: float
    known_density: float
    loss_doubt: float
    core_volume: float

    @property
    def volume(self) -> float:
        """Core and end tanks. [m3]"""
        return self.core_volume

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"charge cooler, {self.known_loss / 1e3:g} kPa at {self.known_mass_flow * 1e3:g} g/s"


@dataclass(frozen=True, slots=True)
class Throttle(_TwoBores):
    """Mouth of the throttle body; the plate itself is not counted, it is the same before and after."""

    edge_radius: float

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"throttle mouth, {_mm(self.outlet_diameter)}, {_edge(self.edge_radius)}"


@dataclass(frozen=True, slots=True)
class Entrance(_OneBore):
    """Out of still air or a large vessel into the pipe."""

    edge_radius: float

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"entrance, {_mm(self.diameter)}, {_edge(self.edge_radius)}"


@dataclass(frozen=True, slots=True)
class Exit(_OneBore):
    """Out of the pipe into a large vessel, such as a cooler's end tank."""

    @property
    def label(self) -> str:
        """How the report names it."""
        return f"exit into a tank, {_mm(self.diameter)}"


Element: TypeAlias = (
    Pipe | Bend | Mitre | HoseJoint | Reducer | Step | Flattened | Oval | Screen | Cooler | Throttle | Entrance | Exit
)


def _mm(metres: float) -> str:
    return f"{1e3 * metres:.4g} mm"


def _deg(radians: float) -> str:
    return f"{np.degrees(radians):.4g} deg"


def _edge(radius: float) -> str:
    return f"edge radius {_mm(radius)}" if radius else "square edge"
