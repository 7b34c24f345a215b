"""The slope of the road under a pull, from the log's altitude."""

from collections.abc import Mapping

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.stats.local_linear import local_polynomial
from pullproof.tractive_power.given import LEVEL_ROAD, Given

__all__ = ["gradient_of"]

REACH_M = 150.0
"""The slope at a place is taken over so far to either side: satellite altitude is too noisy for less. [m]"""

DRIFT_M = 0.7
"""Satellite altitude wanders by so much over the seconds of a pull (common practice, no source). [m]"""

_LEAST_SAMPLES = 5


def gradient_of(traces: Mapping[str, Trace], time: Array, speed: Array) -> tuple[Array, Given]:
    """Gradient of the road over the times of a pull, and what is known of it as a whole.

    Parameters
    ----------
    traces : mapping of str to Trace
        With `altitude` [m], on the log's clock.
    time : (m,)
        Rising. [s]
    speed : (m,)
        Road speed at those times. [m/s]

    Returns
    -------
    (m,), Given
        Sine of the angle, and its mean with the standard doubt. A slope that cannot be told from level, at two
        standard doubts, counts as level: correcting it would add noise to a comparison and no truth.

    Distances outside the pull are reckoned with the speed at its ends.
    """
    altitude = traces.get("altitude")
    level = np.zeros_like(time)
    if altitude is None:
        return level, LEVEL_ROAD
    distance = np.concatenate(([0.0], np.cumsum(0.5 * (speed[1:] + speed[:-1]) * np.diff(time))))
    near = np.isfinite(altitude.values)
    near &= (altitude.time > time[0] - REACH_M / speed[0]) & (altitude.time < time[-1] + REACH_M / speed[-1])
    at, height = altitude.time[near], altitude.values[near]
    inside = np.interp(at, time, distance)
    place = inside + speed[0] * np.minimum(at - time[0], 0.0) + speed[-1] * np.maximum(at - time[-1], 0.0)
    if place.size < _LEAST_SAMPLES or place[-1] - place[0] < REACH_M:
        return level, LEVEL_ROAD
    fit = local_polynomial(place, height, distance, REACH_M, degree=1)
    known = np.isfinite(fit.slope)
    if not known.all():
        return level, LEVEL_ROAD
    about = np.polynomial.Polynomial.fit(place, height, min(2, place.size - 3))(place)
    scatter = np.sqrt(np.sum((height - about) ** 2) / (place.size - 3))
    noise = scatter * np.sqrt(float(np.mean(fit.slope_variance)))
    doubt = float(np.hypot(noise, DRIFT_M / min(2.0 * REACH_M, place[-1] - place[0])))
    mean = float(np.mean(fit.slope))
    if abs(mean) < 2.0 * doubt:
        return level, Given("grade", 0.0, min(doubt, LEVEL_ROAD.doubt), "1", "altitude channel: not told from level")
    return fit.slope, Given("grade", mean, doubt, "1", "altitude channel")
