"""Scatter that is known before any repeat: how coarsely a pull was sampled, and where the window cuts the spool.

A logger that samples at 3 Hz tells the moment at which a gate opens only to the engine speed that passes between two
samples. And where the window begins before boost is there, what is read at its foot moves with the arrival of boost:
with its scatter, and with all that the weather does to it.
"""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.adjustments import AirState, effects
from pullproof.analysis.comparison.covariates import Covariates
from pullproof.analysis.comparison.priors import Effect, MeasurePrior, load_priors
from pullproof.arrays import Array
from pullproof.measures import Reading, Window

__all__ = ["Sharpness", "expected", "with_sharpness"]

ARRIVAL = "boost.reaches"

UNEVEN_START = 3000.0
"""Starts that differ by s rpm leave s^2 / this rpm of scatter in the arrival of boost that no straight line takes out:
the later the start, the more it costs. [rpm] Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Sharpness:
    """How sharply a measure could be read, mean of all the pulls that have it."""

    step: float = 0.0
    """Standard deviation of sampling. [unit of the measure]"""
    per_spool_rpm: float = 0.0
    """What one rpm of later boost does. [unit of the measure per rpm]"""

    @classmethod
    def of(cls, readings: Sequence[Reading]) -> "Sharpness":
        """Sharpness of some readings."""
        if not readings:
            return cls()
        return cls(
            float(np.sqrt(np.mean([reading.step**2 for reading in readings]))),
            float(np.mean([reading.per_spool_rpm for reading in readings])),
        )


def expected(
    measure: str, rows: NDArray[np.intp], typical: float, sharpness: Sharpness, covariates: Covariates, window: Window
) -> tuple[MeasurePrior, Mapping[str, Effect]]:
    """Usual scatter of a measure and effects of the circumstances, with what limits its reading.

    Parameters
    ----------
    measure : str
        Its id.
    rows : (n,)
        The pulls that have it.
    typical : float
        Mean of its size. [unit of the measure]
    sharpness : Sharpness
        Of those pulls.
    covariates : Covariates
        Of all pulls.
    window : (float, float)
        Engine speeds. [rpm]
    """
    prior = load_priors().measures[measure]
    found = effects(measure, prior, covariates.state, typical)
    if prior.relative:
        return prior, found
    starts = covariates.known.get("start_speed")
    starts = None if starts is None else starts[rows]
    return with_sharpness(prior, found, sharpness, covariates.state, window[0], starts)


def with_sharpness(
    prior: MeasurePrior,
    found: Mapping[str, Effect],
    sharpness: Sharpness,
    state: AirState,
    foot_rpm: float,
    starts: Array | None,
) -> tuple[MeasurePrior, Mapping[str, Effect]]:
    """Prior and effects of a measure with what limits its reading.

    Parameters
    ----------
    prior, found
        As the table and physics have them, for measures that are not relative.
    sharpness : Sharpness
    state : AirState
    foot_rpm : float
        Lower end of the window, where boost arrives if the window cuts the spool. [rpm]
    starts : (n,) or None
        Engine speed at which each pull began. [rpm]
    """
    run, day = prior.run.median**2 + sharpness.step**2, prior.day.median**2
    if prior.covers in ("spool", "gate") and starts is not None:
        run += (float(np.var(starts)) / UNEVEN_START) ** 2
    per_rpm = sharpness.per_spool_rpm
    if per_rpm != 0.0:
        arrival = load_priors().measures[ARRIVAL]
        run += (per_rpm * arrival.run.median) ** 2
        day += (per_rpm * arrival.day.median) ** 2
        later = effects(ARRIVAL, arrival, state, foot_rpm)
        found = {name: _joined(effect, later.get(name), per_rpm) for name, effect in found.items()}
    scattered = replace(
        prior,
        run=replace(prior.run, median=math.sqrt(run)),
        day=replace(prior.day, median=math.sqrt(day)),
    )
    return scattered, found


def _joined(effect: Effect, later: Effect | None, per_rpm: float) -> Effect:
    if later is None:
        return effect
    doubt = math.hypot(effect.doubt, per_rpm * later.doubt)
    return Effect(effect.mean + per_rpm * later.mean, doubt, effect.origin)
