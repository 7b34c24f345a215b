"""Compressor and turbine: pure functions of the shaft's speed and the gas.

The compressor map is a head coefficient that falls with the cube of the flow between surge and choke, with an
efficiency island around one flow coefficient and one tip Mach number. The turbine swallows as a chain of two nozzles
does and converts best at one blade speed ratio.
"""

from typing import NamedTuple

import numpy as np

from validation.batches import Array
from validation.cars import Turbocharger

__all__ = ["CP_AIR", "CP_EXHAUST", "R_EXHAUST", "Compression", "Expansion", "compress", "expand", "nozzle", "swallow"]

CP_AIR = 1006.0
CP_EXHAUST = 1180.0
R_EXHAUST = 288.0
EXPANSION = R_EXHAUST / CP_EXHAUST


class Compression(NamedTuple):
    """Ratio of pressures [1], its slope over flow [s/kg], outlet temperature [K], power [W], efficiency [1]."""

    ratio: Array
    slope: Array
    temperature: Array
    power: Array
    efficiency: Array


class Expansion(NamedTuple):
    """Flow through the wheel [kg/s], its slope over inlet pressure [kg/(s Pa)], power [W]."""

    flow: Array
    slope: Array
    power: Array


def compress(
    turbo: Turbocharger, shaft: Array, flow: Array, pressure: Array, temperature: Array, gas: Array
) -> Compression:
    """Compress `flow` [kg/s] from `pressure` [Pa] and `temperature` [K] at `shaft` [rad/s]; `gas` in J/(kg K)."""
    tip = shaft * turbo.radius
    mach = tip / np.sqrt(1.4 * gas * temperature)
    swept = pressure / (gas * temperature) * np.pi * turbo.radius**2 * tip
    coefficient = flow / swept
    choke = turbo.flow_choke * (1.3 - 0.25 * mach)
    span = choke - turbo.flow_surge
    along = np.clip((coefficient - turbo.flow_surge) / span, 0.0, 1.3)
    head = turbo.head * (1.0 - along**3)
    rise = tip**2 / (CP_AIR * temperature)
    base = 1.0 + head * rise
    ratio = base**3.5
    slope = -3.5 * ratio / base * rise * 3.0 * turbo.head * along**2 / (span * swept)
    off_flow = coefficient / turbo.flow_best - 1.0
    efficiency = turbo.efficiency * (
        1.0 - turbo.efficiency_flow * off_flow**2 - turbo.efficiency_mach * (mach - turbo.mach_best) ** 2
    )
    efficiency = np.maximum(efficiency, 0.3)
    work = np.maximum(head, 0.02 * turbo.head) * tip**2 / efficiency
    return Compression(ratio, slope, temperature + work / CP_AIR, np.maximum(flow, 0.0) * work, efficiency)


def nozzle(ratio: Array) -> Array:
    """Flow function of a plain opening for outlet over inlet pressure, choked below one half. [1]"""
    held = np.clip(ratio, 0.5, 1.0)
    return np.sqrt(2.0 * held * (1.0 - held))


def swallow(ratio: Array) -> Array:
    """Flow function of a turbine for outlet over inlet pressure. [1]"""
    return np.sqrt(np.maximum(1.0 - ratio**1.6, 1e-6))


def expand(turbo: Turbocharger, shaft: Array, pressure: Array, outlet: Array, temperature: Array) -> Expansion:
    """Expand exhaust gas through the wheel from `pressure` to `outlet` [Pa] at `temperature` [K]."""
    ratio = np.minimum(outlet / pressure, 0.9999)
    capacity = swallow(ratio)
    flow = turbo.turbine_area * pressure / np.sqrt(R_EXHAUST * temperature) * capacity
    slope = flow / pressure * (1.0 + 0.8 * (1.0 / capacity**2 - 1.0))
    drop = CP_EXHAUST * temperature * (1.0 - ratio**EXPANSION)
    speed_ratio = shaft * turbo.turbine_radius / np.sqrt(2.0 * drop)
    efficiency = turbo.turbine_efficiency * (1.0 - ((speed_ratio - 0.65) / 0.75) ** 2)
    return Expansion(flow, slope, flow * drop * np.maximum(efficiency, 0.05))
