"""What an air path's analysis says, as plain data in the contract's units (kPa, g/s, degC, rpm, l, mm)."""

from dataclasses import dataclass

from pullproof.analysis.airpath.flow_curve import FlowCurve
from pullproof.arrays import Array

__all__ = ["Band", "Effect", "ElementResult", "PathComparison", "PathResult"]


@dataclass(frozen=True, slots=True)
class Band:
    """A curve over engine speed with its interval at each speed, shape (n,); NaN where it is not known."""

    unit: str
    estimate: Array
    lower: Array
    upper: Array
    level: float


@dataclass(frozen=True, slots=True)
class Effect:
    """One number with its interval, and in a sentence what it rests on."""

    unit: str
    estimate: float
    interval: tuple[float, float]
    level: float
    basis: str


@dataclass(frozen=True, slots=True)
class ElementResult:
    """One element of a path. `mach` is the largest Mach number in it at each engine speed, `velocity_ms` in m/s."""

    number: int
    label: str
    loss: Band
    mach: Array
    velocity_ms: Array
    share: float
    """Of the path's loss, at the largest flow. [1]"""
    volume_l: float
    length_mm: float


@dataclass(frozen=True, slots=True)
class PathResult:
    """Pressure loss of one path over the car's own flow."""

    name: str
    flow: FlowCurve
    elements: tuple[ElementResult, ...]
    total: Band
    largest_mach: float
    volume_l: float
    length_mm: float
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PathComparison:
    """What another path would change, over the same flow. Curves are over `before.flow.rpm`.

    `saved` is the pressure loss before minus after. `charge_pressure_gain` is what that gives at the throttle if the
    compressor takes the same power; the pressure ratios and outlet temperatures are at equal boost instead: a car has
    one or the other, not both. Nothing here is measured: it says what a measurement should find.
    """

    before: PathResult
    after: PathResult
    saved: Band
    charge_pressure_gain: Band
    pressure_ratio_before: Array
    pressure_ratio_after: Array
    outlet_temperature_before_c: Array
    outlet_temperature_after_c: Array
    compressor_power_change: Band
    """At equal boost and flow, per cent."""
    mean_saved: Effect
    mean_charge_pressure_gain: Effect
    mean_outlet_temperature_change: Effect
    wastegate_duty_change: Effect
    """Expected change of `wastegate_duty.mean` at equal boost, percentage points; lower duty is more margin."""
    spool_delay_seconds: Effect
    spool_delay_rpm: Effect
    volume_change_l: float
    sentence: str
    assumptions: tuple[str, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]
