"""What the owner knows of the air's way besides the log: measured losses, extra pressure taps, a learned filling."""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.air_system.doubt import Known, Origin, known
from pullproof.arrays import Array
from pullproof.errors import WrongUse
from pullproof.units import Unit, parse_unit

__all__ = ["Filling", "Fitted", "LossPoint", "Tap"]

LEARNED = Origin("learned volumetric efficiency", assumed=True)

LOSS_EXPONENT_BAND = 0.1
"""Loss grows with flow to the power 1.8, give or take this [1]. Source: from memory, between 1.7 and 1.9."""


@dataclass(frozen=True, slots=True)
class LossPoint:
    """A pressure loss that was measured at one flow.

    Raises
    ------
    WrongUse
        A loss, flow or doubt that is not above zero.
    """

    loss_kpa: float
    at_air_mass_flow_gs: float
    doubt_pct: float = 20.0
    """Half width of the interval that holds 95 %, in per cent of the loss."""

    def __post_init__(self) -> None:
        if not min(self.loss_kpa, self.at_air_mass_flow_gs, self.doubt_pct) > 0.0:
            raise WrongUse(
                f"a loss of {self.loss_kpa:g} kPa at {self.at_air_mass_flow_gs:g} g/s, {self.doubt_pct:g} % in doubt",
                advice="Give a loss, a flow and a doubt above zero.",
            )

    def at(self, air_mass_flow: Array, origin: Origin) -> Known:
        """Loss [Pa] at other flows [kg/s], by the power law of cores and pipes; density is taken as unchanged."""
        ratio = air_mass_flow / (1e-3 * self.at_air_mass_flow_gs)
        loss = 1e3 * self.loss_kpa * ratio**1.8
        doubt = loss * np.hypot(self.doubt_pct / 100.0, LOSS_EXPONENT_BAND * np.log(ratio))
        far = np.nanmax(ratio) > 2.0
        said = (f"the loss was measured at half the flow of this pull or less: {self.at_air_mass_flow_gs:g} g/s",)
        return known(loss, doubt, doubt, "computed", *(said if far else ()), origin=origin)


@dataclass(frozen=True, slots=True)
class Tap:
    """A pressure in the log that no channel stands for: its column header and its unit, reference included.

    Raises
    ------
    WrongUse
        The unit is no pressure, or does not say whether it is gauge or absolute.
    """

    column: str
    unit: str

    def __post_init__(self) -> None:
        found = parse_unit(self.unit)
        if found is None or not found.reference:
            raise WrongUse(
                f'the unit "{self.unit}" is no pressure with its reference',
                where=f'column "{self.column}"',
                advice='Write it as "kPa absolute" or "psi gauge".',
            )

    @property
    def parsed(self) -> Unit:
        """The unit as the package knows it."""
        found = parse_unit(self.unit)
        assert found is not None  # noqa: S101  checked when the tap was made
        return found


@dataclass(frozen=True, slots=True)
class Filling:
    """Volumetric efficiency at full load over engine speed, referred to the manifold, as this car's logs tell it.

    Arrays are (k,), engine speed rising; `lower` to `upper` holds 95 %.
    """

    rpm: Array
    """[rpm]"""
    value: Array
    """[1]"""
    lower: Array
    upper: Array
    pressure_channel: str
    """`manifold_pressure`, or `charge_pressure` where the throttle's loss is part of it."""
    pulls: int
    days: int
    logs: tuple[str, ...]
    doubts: tuple[str, ...] = ()
    level: float = 0.95

    def at(self, rpm: Array) -> Known:
        """Between the engine speeds it was learned at; NaN outside, where nothing was learned. [1]"""
        value, lower, upper = (
            np.interp(rpm, self.rpm, values, left=np.nan, right=np.nan)
            for values in (self.value, self.lower, self.upper)
        )
        basis = f"volumetric efficiency learned from the air meter in {self.pulls} pulls of {', '.join(self.logs)}"
        return Known(value, {LEARNED: (lower, upper)}, "computed", (basis,))


@dataclass(frozen=True, slots=True)
class Fitted:
    """What is known besides the log; all may be left out, and what then stands in is said with the results."""

    inlet_loss: LossPoint | None = None
    """Of filter and inlet pipe."""
    charge_path_loss: LossPoint | None = None
    """Of cooler and pipes, from compressor outlet to charge pressure sensor."""
    inlet_tap: Tap | None = None
    """Pressure before the compressor."""
    outlet_tap: Tap | None = None
    """Pressure behind the compressor."""
    filling: Filling | None = None
    """From `learn_volumetric_efficiency`."""
