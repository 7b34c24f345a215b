"""How large a leak would explain a rise of duty: a check whether the suspicion makes sense, not a measurement."""

from dataclasses import dataclass

import numpy as np

from pullproof.analysis.airpath import prior_response
from pullproof.arrays import Array
from pullproof.physics.orifices import orifice_mass_flow

__all__ = ["LeakSize", "leak_size", "most_duty"]

DISCHARGE = 0.7
"""Of a hole or a slit with sharp edges, 0.6 to 0.85 [1]. Source: from memory."""

CHARGE_KELVIN = 350.0
"""Hotter before the cooler, colder behind it; the hole goes with its fourth root. Common practice, no source. [K]"""

AMBIENT_PASCAL = 100_000.0


@dataclass(frozen=True, slots=True)
class LeakSize:
    """The leak that would make the whole of a rise of duty, and the round hole that loses as much."""

    share_pct: float
    """Of the compressor's flow."""
    interval_pct: tuple[float, float]
    hole_mm: float | None
    """Diameter; None where flow or boost is not known."""
    hole_interval_mm: tuple[float, float] | None
    statement: str


def leak_size(
    duty_points: float, interval: tuple[float, float], flow_gs: float | None, boost_kpa: float | None
) -> LeakSize:
    """Size of a leak from the rise of duty that it would explain.

    Parameters
    ----------
    duty_points : float
        Rise of mean duty. [percentage points]
    interval : (float, float)
        Of the rise.
    flow_gs, boost_kpa : float or None
        Mean air flow [g/s] and boost over ambient [kPa] where they are known.

    A leak of one per cent is one per cent more compressor work at the same exhaust flow. How many points of duty that
    is worth is known to a half at best (shaft balance at a worked point and a usual actuator), which outweighs all
    else here.
    """
    response = prior_response()
    share = duty_points / response.slope
    # A ratio of two uncertain numbers: relative doubts add up in squares, and no leak is less than none.
    rise = (interval[1] - interval[0]) / (2.0 * duty_points)
    doubt = float(np.hypot(rise, 1.96 * response.doubt / response.slope))
    shares = (100.0 * max(share * (1.0 - doubt), 0.0), 100.0 * share * (1.0 + doubt))
    text = f"A leak would have to take about {100.0 * share:.1f} % of the flow ({shares[0]:.1f} to {shares[1]:.1f} %)"
    if flow_gs is None or boost_kpa is None or boost_kpa <= 0.0:
        return LeakSize(100.0 * share, shares, None, None, f"{text} to explain it.")
    diameters = _diameter(1e-5 * flow_gs * np.array([100.0 * share, *shares]), AMBIENT_PASCAL + 1e3 * boost_kpa)
    hole, low, high = (1e3 * float(one) for one in diameters)
    statement = f"{text}, a hole of about {hole:.0f} mm ({low:.0f} to {high:.0f} mm), to explain it."
    return LeakSize(100.0 * share, shares, hole, (low, high), statement)


def most_duty(share_pct: float) -> float:
    """Most points of duty that a leak of a share of the flow may cost [%]; a share below zero counts as none."""
    response = prior_response()
    return 0.01 * max(share_pct, 0.0) * (response.slope + 1.96 * response.doubt)


def _diameter(mass_flow: Array, pressure: float) -> Array:
    """Diameter of the round hole [m] that loses a flow [kg/s] to the open."""
    per_area = orifice_mass_flow(1.0, DISCHARGE, pressure, AMBIENT_PASCAL, CHARGE_KELVIN)
    return np.sqrt(4.0 / np.pi * mass_flow / per_area)
