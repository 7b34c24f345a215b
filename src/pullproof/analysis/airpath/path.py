"""A whole air path: its elements, where it sits, and what its file says of the flow."""

from dataclasses import dataclass, field
from typing import Literal

from pullproof.analysis.airpath.elements import Cooler, Element

__all__ = ["AirPath", "FlowSheet", "Side"]

Side = Literal["hot", "cold"]
"""Before or behind the charge cooler: which temperature the air has."""


@dataclass(frozen=True, slots=True)
class FlowSheet:
    """What a path file says of the flow, for a car without logs. Contract's units; None or empty where silent."""

    rpm: tuple[float, ...] = ()
    air_mass_flow_gs: tuple[float, ...] = ()
    charge_pressure_kpa: tuple[float, ...] = ()
    charge_temperature_c: float | None = None
    compressor_outlet_temperature_c: float | None = None
    volumetric_efficiency_pct: float | None = None


@dataclass(frozen=True, slots=True)
class AirPath:
    """A path from the compressor's side to the engine's, element by element.

    `where` is the file that it was read from, `flow` what that file says of the flow. `side` says where a path
    without a cooler sits; with one, all before it is hot and all behind it cold. `doubts` are sentences on what does
    not fit or had to be taken for granted.
    """

    name: str
    where: str
    elements: tuple[Element, ...]
    side: Side
    flow: FlowSheet = field(default_factory=FlowSheet)
    doubts: tuple[str, ...] = ()

    @property
    def sides(self) -> tuple[Side, ...]:
        """Side of each element; a cooler itself counts as hot."""
        coolers = [index for index, element in enumerate(self.elements) if isinstance(element, Cooler)]
        if not coolers:
            return (self.side,) * len(self.elements)
        return tuple("hot" if index <= coolers[0] else "cold" for index in range(len(self.elements)))

    @property
    def volume(self) -> float:
        """Volume of air inside. [m3]"""
        return sum(element.volume for element in self.elements)

    @property
    def length(self) -> float:
        """Along the centre line. [m]"""
        return sum(element.length for element in self.elements)
