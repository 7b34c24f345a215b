"""Whether 100 % of a wastegate duty means held closed or held open.

Loggers differ; here 100 is held closed. A log tells by what the controller does when it wants boost: at full load with
the pressure still well short of its target it closes the gate as far as it may. Which way the duty moves from light
load to there, or from there to where the pressure stands, is the closed end. (Common practice, no source. What a duty
is worth in boost varies with engine speed and controller, so a plain correlation of the two says nothing.)
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array

__all__ = ["Sense", "duty_sense"]

FULL_PEDAL, LIGHT_PEDAL = 85.0, 20.0
SHORT_KPA, MET_KPA = 15.0, 7.0
FEWEST = 5


@dataclass(frozen=True, slots=True)
class Sense:
    """`reversed` is True where 0 % means held closed, None where the log does not tell."""

    reversed: bool | None
    evidence: str


def duty_sense(
    duty: Array, pedal: Array | None, pressure: Array | None, target: Array | None, engine_speed: Array | None
) -> Sense:
    """Infer the sense from samples, (k,) each.

    Parameters
    ----------
    duty : (k,)
        Logged duty. [%]
    pedal : (k,) or None
        Pedal, or throttle. [%]
    pressure, target : (k,) or None
        Charge or manifold pressure and its target, on one reference. [kPa]
    engine_speed : (k,) or None
        Engine speed. [rpm]
    """
    if pedal is None or pressure is None:
        return Sense(None, "pedal (or throttle) and charge pressure would be needed to infer its sense")
    running = ~np.isnan(duty) & ~np.isnan(pressure)
    full = running & (pedal > FULL_PEDAL)
    if engine_speed is not None:
        full &= engine_speed > 1500
    short, met = _short_and_met(pressure, target, full)
    light = _middle(duty, running & (pedal < LIGHT_PEDAL))
    building, standing = _middle(duty, short), _middle(duty, met)
    if building is None:
        return Sense(None, "at full load the pressure is never well short of where it ends up")
    wanted = f"it reads {building:.0f} % at full load while pressure builds up"
    if light is not None and abs(building - light) > 15:
        return Sense(building < light, f"{wanted} and {light:.0f} % at light load")
    if standing is not None and abs(building - standing) > 5:
        return Sense(building < standing, f"{wanted} and {standing:.0f} % once it stands")
    if building > 90:
        return Sense(reversed=False, evidence=f"{wanted}, as it does everywhere")
    return Sense(None, f"{wanted} and about the same elsewhere")


def _middle(duty: Array, rows: np.ndarray) -> float | None:
    return float(np.median(duty[rows])) if np.count_nonzero(rows) >= FEWEST else None


def _short_and_met(pressure: Array, target: Array | None, full: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Samples at full load where pressure is still well short, and those where it has come about."""
    if target is not None:
        error = target - pressure
        return full & (error > SHORT_KPA), full & (np.abs(error) <= MET_KPA)
    if np.count_nonzero(full) < 2 * FEWEST:
        return np.zeros_like(full), np.zeros_like(full)
    low, high = np.quantile(pressure[full], [0.02, 0.95])
    if high - low < 2 * SHORT_KPA:
        return np.zeros_like(full), full
    return full & (pressure < low + 0.6 * (high - low)), full & (pressure > low + 0.9 * (high - low))
