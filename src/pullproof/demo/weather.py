"""The air of a test day."""

from dataclasses import dataclass

from pullproof.physics import moist_air

__all__ = ["Weather"]


@dataclass(frozen=True, slots=True)
class Weather:
    """Ambient air as a good instrument at the roadside would show it."""

    temperature_c: float
    pressure_kpa: float
    humidity_pct: float = 50.0
    headwind: float = 0.0
    """Mean wind against the car on the pull stretch. [m/s]"""

    @property
    def temperature(self) -> float:
        """Air temperature. [K]"""
        return self.temperature_c + 273.15

    @property
    def pressure(self) -> float:
        """Barometric pressure at the place. [Pa]"""
        return self.pressure_kpa * 1e3

    @property
    def density(self) -> float:
        """Density of the moist air. [kg/m3]"""
        return float(moist_air.density(self.pressure, self.temperature, self.humidity_pct / 100.0))

    @property
    def dry_share(self) -> float:
        """Mass of dry air in a unit mass of moist air. [1]"""
        mixing = moist_air.humidity_ratio(self.pressure, self.temperature, self.humidity_pct / 100.0)
        return 1.0 / (1.0 + float(mixing))
