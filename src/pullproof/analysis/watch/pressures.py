"""Oil pressure against engine speed, and fuel pressure against flow: simple rules, each written down where it stands.

None of them knows the engine. They say where a pressure behaves otherwise than it does in the rest of the same log.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.watch.scene import Scene, Signal
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer

__all__ = ["fuel_pressure_sag", "oil_pressure_fall", "oil_pressure_per_speed", "rail_fall"]

OIL_FROM_RPM = 2000.0
"""Below it pressure depends on the idle and the wear of the pump's drive. Common practice. [rpm]"""

RELIEF_RPM = 5000.0
"""Beyond it the relief valve holds the pressure, so that the figure of this speed stands. Common practice. [rpm]"""

MEDIAN_OF = 3
"""Samples of which the middle one counts where a fall is looked for: one bad sample makes none."""

LOW_FLOW, HIGH_FLOW = (0.1, 0.5), 0.5
"""Shares of the log's highest flow that are called low and high."""

FOLLOWS = 0.5
"""Kilopascal of fuel pressure per kilopascal of manifold pressure, at low flow, above which the regulator is taken to
follow the manifold."""

LEAST_RAIL_KPA = 100.0
"""No rail at full load holds less: a fall is never counted in per cent of next to nothing. [kPa]"""

LEAST_SAMPLES = 20
"""At low flow, for a level to be known."""


def oil_pressure_per_speed(scene: Scene) -> tuple[Signal, ...]:
    """Oil pressure over thousands of revolutions, from 2000 rpm; beyond 5000 rpm over five. [kPa]"""
    signal = _logged(scene, "oil_pressure", "oil pressure")
    if not scene.has("engine_speed"):
        raise CannotAnswer("engine speed is not logged", advice="Log engine speed.")
    turning = scene.running(signal, OIL_FROM_RPM)
    speed = np.minimum(scene.at("engine_speed", turning.time), RELIEF_RPM)
    return (replace(turning, values=turning.values / (speed / 1000.0)),)


def oil_pressure_fall(scene: Scene) -> tuple[Signal, ...]:
    """How far oil pressure lies below the highest so far in the same stretch of full load. [kPa]"""
    return (_fallen(scene, _logged(scene, "oil_pressure", "oil pressure"), relative=False),)


def rail_fall(scene: Scene) -> tuple[Signal, ...]:
    """How far fuel rail pressure lies below the highest so far in the same stretch of full load. [%]"""
    return (_fallen(scene, _logged(scene, "fuel_rail_pressure", "fuel rail pressure"), relative=True),)


def fuel_pressure_sag(scene: Scene) -> tuple[Signal, ...]:
    """How far fuel pressure at full load and high flow lies below what it is at low flow in the same log. [%]

    A regulator that follows the manifold keeps the difference of the two pressures, one that does not keeps the
    pressure itself. Which of them it is shows at low flow. The level is the median at low flow.
    """
    signal = scene.running(_logged(scene, "fuel_pressure", "fuel pressure"))
    if not len(scene.load):
        raise CannotAnswer("there is no full load in the log", advice="Log a pull, with pedal or throttle.")
    flow, what = _flow(scene, signal.time)
    most = float(np.max(flow[np.isfinite(flow)], initial=0.0))
    if most <= 0.0:
        raise CannotAnswer(f"{what} never moves beside fuel pressure", advice="Look at its column.")
    share = flow / most
    low = (share > LOW_FLOW[0]) & (share < LOW_FLOW[1]) & np.isfinite(signal.values)
    if np.count_nonzero(low) < LEAST_SAMPLES:
        raise CannotAnswer(
            f"only {np.count_nonzero(low)} samples of fuel pressure at low flow: its level is not known",
            advice="Log the gentle driving between the pulls as well.",
        )
    manifold = scene.at("manifold_pressure", signal.time)
    over, kind = _over_manifold(signal.values, manifold, low)
    level = float(np.median(over[low & np.isfinite(over)]))
    if level <= 0.0:
        raise CannotAnswer("fuel pressure is not above zero at low flow", advice="Look at its column and unit.")
    sag = replace(signal, values=100.0 * (level - over) / level, doubts=(f"flow is taken from {what}; {kind}",))
    return (scene.at_load(sag.where((share >= HIGH_FLOW) & np.isfinite(sag.values))),)


def _logged(scene: Scene, channel: str, words: str) -> Signal:
    if not scene.has(channel):
        raise CannotAnswer(f"{words} is not logged", advice=f"Log {words}.")
    return scene.signal(channel)


def _fallen(scene: Scene, signal: Signal, *, relative: bool) -> Signal:
    if not len(scene.load):
        raise CannotAnswer("there is no full load in the log", advice="Log a pull, with pedal or throttle.")
    loaded = scene.at_load(signal)
    fall = np.zeros(loaded.values.shape)
    for number in np.unique(loaded.segment):
        part = loaded.segment == number
        middle = _running_median(loaded.values[part])
        highest = np.maximum.accumulate(middle)
        below = highest - middle
        fall[part] = 100.0 * below / np.maximum(highest, LEAST_RAIL_KPA) if relative else below
    return replace(loaded, values=fall)


def _running_median(values: Array) -> Array:
    """Middle of three samples; the ends repeat their neighbour's."""
    if values.size < MEDIAN_OF:
        return np.full(values.shape, np.median(values))
    inner = np.median(np.lib.stride_tricks.sliding_window_view(values, MEDIAN_OF), axis=1)
    return np.concatenate((inner[:1], inner, inner[-1:]))


def _flow(scene: Scene, time: Array) -> tuple[Array, str]:
    for channel, words in (("air_mass_flow", "air mass flow"), ("injector_duty", "injector duty")):
        if scene.has(channel):
            return scene.at(channel, time), words
    if scene.has("manifold_pressure") and scene.has("engine_speed"):
        return scene.at("manifold_pressure", time) * scene.at("engine_speed", time), "manifold pressure times speed"
    raise CannotAnswer(
        "fuel pressure is logged, but nothing that goes with the flow of fuel",
        advice="Log air mass flow, injector duty, or manifold pressure with engine speed.",
    )


def _over_manifold(pressure: Array, manifold: Array, low: NDArray[np.bool_]) -> tuple[Array, str]:
    """Fuel pressure less what the regulator adds for the manifold, and which kind it is taken for."""
    known = low & np.isfinite(manifold)
    if np.count_nonzero(known) < LEAST_SAMPLES or np.ptp(manifold[known]) < 10.0:
        return pressure, "whether the regulator follows the manifold is not known: it is taken not to"
    slope = np.polynomial.Polynomial.fit(manifold[known], pressure[known], 1).convert().coef[-1]
    if slope > FOLLOWS:
        return pressure - manifold, "the regulator follows the manifold, so the difference of the two is watched"
    return pressure, "the regulator does not follow the manifold, so the pressure itself is watched"
