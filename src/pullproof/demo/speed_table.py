"""A curve over engine speed that is quick to read one number at a time."""

import numpy as np

from pullproof.demo.car import Curve

__all__ = ["SpeedTable"]

STEP = 50.0
"""Distance between entries. [rpm]"""
ENTRIES = 180


class SpeedTable:
    """Straight lines between the points of a curve, level outside, on entries 50 rpm apart."""

    def __init__(self, curve: Curve) -> None:
        speed, value = np.asarray(curve, dtype=np.float64).T
        self._values: list[float] = np.interp(np.arange(ENTRIES + 1) * STEP, speed, value).tolist()

    def __call__(self, engine_speed: float) -> float:
        """The curve's value at an engine speed [rpm]."""
        place = min(max(engine_speed / STEP, 0.0), ENTRIES - 1.0)
        index = int(place)
        low = self._values[index]
        return low + (place - index) * (self._values[index + 1] - low)
