"""What compressor and cooler do to the air, as far as temperatures can tell, and why they often cannot."""

import numpy as np

from pullproof.analysis.air_system.assumptions import (
    COMPRESSOR_EFFICIENCY,
    COOLANT_RISE,
    EFFICIENCY_RANGE,
    LAG,
    LEAST_RATIO,
    STEADY_KELVIN,
)
from pullproof.analysis.air_system.doubt import Known, between, propagate, within
from pullproof.analysis.air_system.scene import Scene
from pullproof.analysis.air_system.states import ambient_temperature, band
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.physics import charge_cooler, compressor

__all__ = ["cooler_effectiveness", "isentropic_efficiency", "outlet_temperature"]

BEHIND = "compressor_outlet_temperature"

FOLLOWED = 0.15
"""A sensor that may be short of its rise by more than this share has not settled. [1]"""
STRAY = 0.2
"""Share of readings outside what a wheel can do, beyond which none is shown. [1]"""
FEWEST = 3
"""Points of a curve below which there is no curve."""
INLET_STEADY = 5.0
"""Fastest change of the cooler's inlet temperature that counts as steady. [K/s]"""


def outlet_temperature(scene: Scene, inlet: Known, ratio: Known) -> Known:
    """Behind the compressor: measured, else from the pressure ratio and a usual efficiency. [K]"""
    try:
        return scene.temperature(BEHIND)
    except CannotAnswer:
        low, usual, high = COMPRESSOR_EFFICIENCY
    doubt = f"temperature behind the compressor is not logged: an efficiency of {usual:g} ({low:g} to {high:g}) assumed"
    efficiency = band(scene, COMPRESSOR_EFFICIENCY, "compressor efficiency", doubt)
    return propagate(compressor.outlet_temperature, [inlet, ratio, efficiency], "estimated")


def isentropic_efficiency(scene: Scene, inlet: Known, ratio: Known) -> Known:
    """From measured temperatures. [1]

    Raises
    ------
    CannotAnswer
        The outlet temperature is not logged, has nowhere settled, or gives what no wheel does.
    """
    outlet = scene.temperature(BEHIND)
    rise = outlet.value - inlet.value
    settled = (rise > 0.0) & (np.abs(scene.rate(BEHIND)) * LAG < FOLLOWED * rise)
    judged = settled & (ratio.value >= LEAST_RATIO)
    if np.count_nonzero(judged) < FEWEST:
        raise CannotAnswer(
            f"the temperature behind the compressor nowhere settles at a pressure ratio above {LEAST_RATIO:g}",
            advice="A longer pull in a higher gear gives its sensor time.",
        )
    efficiency = between(propagate(compressor.isentropic_efficiency, [inlet, outlet, ratio]), 0.0, 1.0)
    low, high = EFFICIENCY_RANGE
    sound = judged & (efficiency.value >= low) & (efficiency.value <= high)
    astray = 1.0 - np.count_nonzero(sound) / np.count_nonzero(judged)
    if astray > STRAY:
        middle = float(np.nanmedian(efficiency.value[judged]))
        raise CannotAnswer(
            f"temperatures give an efficiency of {middle:.2f}; outside {low:.2f} to {high:.2f} it means a sensor, "
            "not a wheel",
            advice="A probe behind the compressor reads low by lag and conduction, one before it high by soak.",
        )
    return within(efficiency, sound)


def cooler_effectiveness(scene: Scene, outlet: Known, ratio: Known) -> Known:
    """Of the charge side, where temperatures are nearly steady. [1]

    Raises
    ------
    CannotAnswer
        A temperature is not logged, none is steady, or the answer is no effectiveness.
    """
    if not scene.has(BEHIND):
        raise CannotAnswer(
            "no compressor outlet temperature in the log",
            advice="Log the temperature behind the compressor together with that of the charge.",
        )
    charge = scene.temperature("charge_air_temperature")
    drift = np.abs(scene.rate("charge_air_temperature"))
    steady = (drift <= STEADY_KELVIN) & (np.abs(scene.rate(BEHIND)) <= INLET_STEADY) & (ratio.value >= LEAST_RATIO)
    if np.count_nonzero(steady) < FEWEST:
        boosted = drift[ratio.value >= LEAST_RATIO]
        found = f", it changes by {np.nanmedian(boosted):.1f} K/s" if np.any(np.isfinite(boosted)) else ""
        raise CannotAnswer(
            f"the temperature behind the cooler is nowhere steady{found}: the core itself takes up or gives heat",
            advice="A longer pull settles; for a short one compare the rise per pull at equal start temperature.",
        )
    doubt = "air at the cooler's face is taken 4 K warmer than ambient (0 to 15 K)"
    face = propagate(np.add, [ambient_temperature(scene), band(scene, COOLANT_RISE, "air at the cooler's face", doubt)])
    answer = within(propagate(_effectiveness, [outlet, charge, face]), steady)
    middle = float(np.nanmedian(answer.value))
    if not 0.0 < middle < 1.0:
        raise CannotAnswer(
            f"temperatures give an effectiveness of {middle:.2f}: the core is not in balance, or a sensor is off",
            advice="Check both sensors against each other with the engine cold.",
        )
    return between(answer.noting("holds for a cooler to the outside air; flow and road speed both move it"), 0.0, 1.0)


def _effectiveness(inlet: Array, outlet: Array, coolant: Array) -> Array:
    return charge_cooler.effectiveness(inlet, outlet, coolant)
