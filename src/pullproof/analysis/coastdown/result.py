"""What coast-downs say of a car, as plain data."""

from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.coastdown.runs import Run
from pullproof.arrays import Array
from pullproof.tractive_power import Given

__all__ = ["CoastDown", "ConditionCheck", "Estimate"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value and its interval."""

    value: float
    lower: float
    upper: float
    level: float
    unit: str

    @property
    def half_width(self) -> float:
        """Half of the interval, in `unit`."""
        return 0.5 * (self.upper - self.lower)


@dataclass(frozen=True, slots=True)
class ConditionCheck:
    """One condition that the standards set for a coast-down."""

    id: str
    status: Literal["pass", "fail", "not known"]
    detail: str
    source: str


@dataclass(frozen=True, slots=True)
class CoastDown:
    """Rolling resistance and drag area of a car, as measured on the day."""

    rolling_resistance: Estimate
    drag_area_m2: Estimate
    correlation: float
    """Of the two estimates: negative, because more of one explains less of the other."""
    rolling_resistance_at_20_c: float | None
    """By the standard's change of 0.86 % per kelvin; None where the day's temperature is not known."""
    constant_force_n: float
    quadratic_force_n: float
    """Road load in still air of the day is constant + quadratic (v / 100 km/h)^2. [N]"""
    wind_m_s: float | None
    """Along the road on the way out, positive against the car; None where all runs go one way."""
    gradient: float | None
    """Of the way out; None where all runs go one way."""
    speed_range_kmh: tuple[float, float]
    runs: tuple[Run, ...]
    """Used and refused ones."""
    checks: tuple[ConditionCheck, ...]
    inputs: tuple[Given, ...]
    doubts: tuple[str, ...]

    def force(self, speed_kmh: Array) -> Array:
        """Road load at a speed [km/h], in still air of the day. [N]"""
        return self.constant_force_n + self.quadratic_force_n * (np.asarray(speed_kmh) / 100.0) ** 2
