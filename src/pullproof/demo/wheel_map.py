"""The map of the invented compressor, as a person would type it: points along lines of equal corrected speed."""

import math

from pullproof.demo.car import Compressor

__all__ = ["compressor_map"]

SPEEDS = (70_000, 90_000, 110_000, 125_000, 140_000, 155_000, 165_000, 175_000)
"""Corrected shaft speeds of the lines. [rpm]"""
POINTS = 8
KELVIN, HEAT_CAPACITY, EXPONENT = 298.0, 1005.0, 2.0 / 7.0
LOWEST_RATIO, LOWEST_SHARE, LOWEST_EFFICIENCY = 1.05, 0.45, 0.45
"""Where a line ends: at this pressure ratio, or this share of the largest one of its speed."""


def compressor_map(wheel: Compressor) -> str:
    """CSV of the wheel's map in the project's own layout."""
    rows = [
        f"{speed},{flow:.1f},{ratio:.3f},{efficiency:.3f}"
        for speed in SPEEDS
        for flow, ratio, efficiency in _line(wheel, speed)
    ]
    return "\n".join(
        [
            "# An invented wheel: no maker's map. Made from the formula of the demonstration car's own compressor.",
            "setting,value,unit",
            "name,invented 53 mm wheel,",
            "origin,invented for the demonstration car,",
            f"reference_temperature,{KELVIN:g},K",
            "reference_pressure,100,kPa",
            "corrected_speed,corrected_flow,pressure_ratio,efficiency",
            "rpm,g/s,1,1",
            *rows,
            "",
        ]
    )


def _line(wheel: Compressor, speed: int) -> list[tuple[float, float, float]]:
    """Flow [g/s], pressure ratio and efficiency from the surge limit to the end of the line."""
    tip = speed * math.pi / 30.0 * wheel.tip_radius
    highest = (1.0 + wheel.head * tip * tip / (HEAT_CAPACITY * KELVIN)) ** (1.0 / EXPONENT)
    surge = 0.23 + 1e-6 * speed
    end = math.sqrt(1.0 - max(LOWEST_SHARE, LOWEST_RATIO / highest) ** 2)
    found = []
    for number in range(POINTS):
        share = surge + (end - surge) * number / (POINTS - 1)
        flow, ratio = wheel.widest_flow * tip * share, highest * math.sqrt(1.0 - share * share)
        found.append((1e3 * flow, ratio, _efficiency(wheel, flow, ratio)))
    return found


def _efficiency(wheel: Compressor, flow: float, ratio: float) -> float:
    off_flow, off_rise = flow - wheel.best_flow, ratio - 1.0 - wheel.best_rise
    fallen = wheel.flow_fall * off_flow**2 + wheel.rise_fall * off_rise**2
    return max(wheel.best_efficiency - fallen, LOWEST_EFFICIENCY)
