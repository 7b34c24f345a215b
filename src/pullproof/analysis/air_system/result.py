"""What is said of the air's way through an engine, as plain data: curves over engine speed, or why there is none."""

from collections.abc import Mapping
from dataclasses import dataclass, fields
from types import MappingProxyType
from typing import NamedTuple

import numpy as np

from pullproof.arrays import Array
from pullproof.physics.compressor import ReferenceState
from pullproof.pulls import Pull

__all__ = ["REFERENCE", "AirSystem", "Curve", "Missing", "Peak", "refer_flow"]

REFERENCE = ReferenceState(temperature=298.15, pressure=100_000.0)
"""What corrected flow is referred to unless a compressor map says otherwise: 25 degC, 100 kPa."""


class Peak(NamedTuple):
    """Largest value of a curve, where it lies, and its interval there."""

    rpm: float
    value: float
    lower: float
    upper: float


@dataclass(frozen=True, slots=True)
class Curve:
    """One quantity over engine speed; all arrays have the shape (m,), NaN where nothing can be said.

    `lower` to `upper` holds the true value at each engine speed with a probability of `level`. The interval is made
    of the doubts of sensors and assumptions, which nearly always outweigh the noise that smoothing leaves; they are
    largely alike at neighbouring engine speeds and in pulls of one day, so differences are known better.
    """

    name: str
    label: str
    unit: str
    rpm: Array
    value: Array
    lower: Array
    upper: Array
    source: str
    """`sensor`, `speed-density`, `computed`, `estimated`, `assumed` or `logged`: how far it is from a measurement."""
    doubts: tuple[str, ...] = ()
    level: float = 0.95

    @property
    def peak(self) -> Peak:
        """Largest value with its engine speed and interval."""
        at = int(np.nanargmax(self.value))
        return Peak(float(self.rpm[at]), float(self.value[at]), float(self.lower[at]), float(self.upper[at]))


@dataclass(frozen=True, slots=True)
class Missing:
    """A quantity that is not shown: why, and what to do about it."""

    name: str
    label: str
    reason: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class AirSystem:
    """The air of one pull, from the filter to the manifold. Pressures are absolute."""

    pull: Pull
    day: str
    rpm: Array
    """Engine speeds of all curves, (m,). [rpm]"""
    reference: ReferenceState
    """What `corrected_flow` is referred to; see `corrected_flow_at` for another state."""
    air_mass_flow: Curve | Missing
    """[g/s] Source `sensor` or `speed-density`."""
    volumetric_efficiency: Curve | Missing
    """[1] From the air meter, or what speed-density was computed with."""
    inlet_temperature: Curve | Missing
    """[degC] Before the compressor."""
    inlet_loss: Curve | Missing
    """[kPa] Of filter and inlet pipe."""
    outlet_pressure: Curve | Missing
    """[kPa] Behind the compressor."""
    pressure_ratio: Curve | Missing
    """[1] At the compressor."""
    corrected_flow: Curve | Missing
    """[g/s] Through the compressor, at `reference`."""
    outlet_temperature: Curve | Missing
    """[degC] Behind the compressor, before the cooler."""
    isentropic_efficiency: Curve | Missing
    """[1] From measured temperatures only."""
    cooler_effectiveness: Curve | Missing
    """[1] Charge side, only where temperatures are nearly steady."""
    cooler_loss: Curve | Missing
    """[kPa] Compressor outlet to charge pressure sensor: cooler and pipes."""
    throttle_loss: Curve | Missing
    """[kPa] Charge pressure less manifold pressure, as the two sensors stand."""
    charge_temperature: Curve | Missing
    """[degC] Before the engine."""
    density_ratio: Curve | Missing
    """[1] Charge air over ambient air."""
    fuel_mass_flow: Curve | Missing
    """[g/s] From air flow and lambda."""
    injector_duty: Curve | Missing
    """[%] As logged."""
    knock_retard: Curve | Missing
    """[deg] As logged, worst cylinder, positive = retarded."""
    ignition_timing: Curve | Missing
    """[deg] As logged, before top dead centre."""
    turbo_speed: Curve | Missing
    """[rpm] As logged."""
    cautions: tuple[str, ...]

    @property
    def curves(self) -> Mapping[str, Curve]:
        """All that is known, by name, in the order of the air's way."""
        return MappingProxyType({name: part for name, part in self._parts() if isinstance(part, Curve)})

    @property
    def missing(self) -> Mapping[str, Missing]:
        """All that is not shown, by name, with reason and advice."""
        return MappingProxyType({name: part for name, part in self._parts() if isinstance(part, Missing)})

    def corrected_flow_at(self, reference: ReferenceState) -> Curve | Missing:
        """Corrected flow [g/s] referred to another state, such as a compressor map's own."""
        if isinstance(self.corrected_flow, Missing):
            return self.corrected_flow
        return refer_flow(self.corrected_flow, self.reference, reference)

    def _parts(self) -> list[tuple[str, object]]:
        return [(field.name, getattr(self, field.name)) for field in fields(self)]


def refer_flow(flow: Curve, given: ReferenceState, wanted: ReferenceState) -> Curve:
    """The same corrected flow referred to another state.

    Corrected flow is m sqrt(T/T_r)/(p/p_r), so between two references only sqrt(T_r) and p_r change: exact.
    """
    factor = np.sqrt(given.temperature / wanted.temperature) * (wanted.pressure / given.pressure)
    scaled = {name: getattr(flow, name) * factor for name in ("value", "lower", "upper")}
    return Curve(
        flow.name, flow.label, flow.unit, flow.rpm, **scaled, source=flow.source, doubts=flow.doubts, level=flow.level
    )
