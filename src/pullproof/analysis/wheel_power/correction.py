"""The factor of a standard for one pull, or why there is none."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal, TypeAlias

from pullproof.analysis.wheel_power.diesel import diesel_factor, diesel_warnings
from pullproof.car import Car
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer
from pullproof.physics import corrections, moist_air

__all__ = ["PowerCorrection", "Standard", "correction_for"]

Standard = Literal["sae-j1349", "iso-1585", "none"]
Factor: TypeAlias = Callable[[float, float], corrections.Correction]
"""From pressure of the dry air [Pa] and its temperature [K]."""

_SPARK_IGNITION: dict[str, Factor] = {
    "sae-j1349": corrections.sae_j1349,
    "iso-1585": corrections.iso_1585_spark_ignition,
}
_NAMES = {"sae-j1349": "SAE J1349", "iso-1585": "ISO 1585"}

USUAL_HUMIDITY_PCT = 50.0


@dataclass(frozen=True, slots=True)
class PowerCorrection:
    """What a standard says of the day's air."""

    standard: Standard
    factor: float | None
    """Corrected over measured crankshaft power; None where it is refused. [1]"""
    within_limits: bool
    reason: str
    """Why there is no factor, or which limit was overruled; empty where neither."""
    doubts: tuple[str, ...] = ()


def correction_for(
    standard: Standard, air: Air, car: Car, *, outside_limits: bool, boost_ratio: float | None = None
) -> PowerCorrection:
    """Factor of a standard in this air.

    Parameters
    ----------
    standard : str
        `sae-j1349`, `iso-1585` or `none`.
    air : Air
        Temperature and pressure are needed; without humidity 50 % stand in, and a doubt says what that may cost.
    car : Car
        Its fuel decides which formula applies; a diesel also needs its fuel per cycle.
    outside_limits : bool
        Give the factor also where the standard's own limits are passed.
    boost_ratio : float, optional
        Absolute charge pressure over ambient pressure as logged; only a diesel's factor needs it. [1]
    """
    if standard == "none":
        return PowerCorrection(standard, None, within_limits=True, reason="")
    name = _NAMES[standard]
    if air.temperature_c is None or air.pressure_kpa is None:
        missing = "air_temperature_c" if air.temperature_c is None else "air_pressure_kpa"
        reason = f"{name} needs temperature and pressure of the air: add {missing} to the conditions file"
        return PowerCorrection(standard, None, within_limits=False, reason=reason)
    diesel = car.engine.fuel == "diesel"
    try:
        formula = diesel_factor(name, car, boost_ratio) if diesel else _SPARK_IGNITION[standard]
    except CannotAnswer as error:
        return PowerCorrection(standard, None, within_limits=False, reason=str(error).rstrip("."))

    def factor_at(humidity_pct: float) -> corrections.Correction:
        kelvin = float(air.temperature_c or 0.0) + 273.15
        dry = moist_air.dry_air_pressure(1e3 * float(air.pressure_kpa or 0.0), kelvin, humidity_pct / 100.0)
        return formula(float(dry), kelvin)

    humidity = USUAL_HUMIDITY_PCT if air.relative_humidity_pct is None else air.relative_humidity_pct
    found = factor_at(humidity)
    within, reason = bool(found.within_limits), str(found.reason)
    if not within and not outside_limits:
        refused = f"{name} does not hold here: {reason}. The factor would be {float(found.factor):.3f}"
        return PowerCorrection(standard, None, within_limits=False, reason=refused)
    doubts = [*_warnings(name, car), *(diesel_warnings(name, car) if diesel else ())]
    if air.relative_humidity_pct is None:
        most = abs(float(factor_at(100.0).factor) - float(factor_at(0.0).factor)) / 2.0
        doubts.append(f"humidity is not stated: 50 % is taken, which may be {100 * most:.1f} % off the factor")
    return PowerCorrection(standard, float(found.factor), within_limits=within, reason=reason, doubts=tuple(doubts))


def _warnings(name: str, car: Car) -> tuple[str, ...]:
    lines = [f"{name} is made for crankshaft power; losses of driveline and tyres do not change with the air"]
    if car.engine.aspiration != "none":
        lines.append(
            f"{name} assumes that power follows the density of the air; an engine whose boost control makes up for "
            "weather is overcorrected, at high altitude by a fifth"
        )
    return tuple(lines)
