"""Power at the wheels of several pulls taken together: one absolute curve with what is in doubt about it.

What car, road and air leave in doubt is the same in all pulls of a car, so it does not average out; the noise of each
log does, and so does what the pulls scatter by. How well the latter is known is counted in degrees of freedom: two
pulls that happen to agree prove little. An out and a back run are paired first, so that grade and wind cancel.
"""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.analysis.wheel_power import PowerCurve, half_width, pair_power, torque
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer, PullproofError

__all__ = ["MeanPower", "mean_power", "paired"]

LEVEL = 0.95


@dataclass(frozen=True, slots=True)
class MeanPower:
    """Mean power at the wheels over engine speed, with its interval at each; arrays are (k,)."""

    rpm: Array
    power_kw: Array
    lower_kw: Array
    upper_kw: Array
    level: float
    pulls: int
    curves: tuple[PowerCurve, ...]
    """What the mean is made of; an out and a back run that were paired count as one."""

    @property
    def torque_nm(self) -> Array:
        """Wheel power over engine speed, as a dynamometer sheet prints it, (k,). [N m]"""
        return torque(self.power_kw, self.rpm)

    @property
    def peak(self) -> int:
        """Index of the largest power."""
        return int(np.argmax(self.power_kw))


def paired(curves: Sequence[PowerCurve]) -> tuple[PowerCurve, ...]:
    """Out and back runs put together where there are both, in the order they were driven; the others as they are."""
    out = [curve for curve in curves if curve.direction == "out"]
    back = [curve for curve in curves if curve.direction == "back"]
    rest = [curve for curve in curves if curve.direction not in ("out", "back")]
    made: list[PowerCurve] = []
    for one, other in itertools.zip_longest(out, back):
        if one is None or other is None:
            rest.append(one or other)
            continue
        try:
            made.append(pair_power(one, other))
        except PullproofError:  # different gears, or no engine speed in common
            rest += [one, other]
    return (*made, *rest)


def mean_power(curves: Sequence[PowerCurve]) -> MeanPower:
    """Mean of the pulls of one build, over the engine speeds that all of them pass.

    Parameters
    ----------
    curves : sequence of PowerCurve
        Of one car, one for each pull.

    Raises
    ------
    CannotAnswer
        There is no curve, or no engine speed that all pass.
    """
    together = paired(curves)
    if not together:
        raise CannotAnswer("no pull gives a power curve", advice="See what each pull lacks.")
    rpm = together[0].rpm
    for curve in together[1:]:
        rpm = np.intersect1d(rpm, curve.rpm)
    if rpm.size < 2:
        raise CannotAnswer(
            "the pulls have no engine speeds in common", advice="Give pulls over one range of engine speed."
        )
    inside = [np.isin(curve.rpm, rpm) for curve in together]
    powers = np.array([curve.wheel_power_kw[at] for curve, at in zip(together, inside, strict=True)])
    own = np.array([curve.evidence.own_doubt_kw[at] for curve, at in zip(together, inside, strict=True)])
    shared = _shared(together, inside)
    number = len(together)
    scatter = powers.std(axis=0, ddof=1) if number > 1 else np.zeros(rpm.shape)
    noise = np.sqrt(np.mean(own**2, axis=0))
    single = np.maximum(noise, scatter) / np.sqrt(number)
    freedom = np.where(scatter > noise, number - 1.0, sum(curve.evidence.freedom for curve in together))
    mean, half = powers.mean(axis=0), half_width(single, freedom, shared, LEVEL)
    return MeanPower(
        rpm=rpm,
        power_kw=mean,
        lower_kw=mean - half,
        upper_kw=mean + half,
        level=LEVEL,
        pulls=sum(len(curve.pulls) for curve in together),
        curves=together,
    )


def _shared(curves: Sequence[PowerCurve], inside: Sequence[np.ndarray]) -> Array:
    """Standard doubt that all curves have in common: each input moves all of them together. [kW]"""
    names = dict.fromkeys(name for curve in curves for name in curve.evidence.effect_kw)
    squares = np.zeros(int(np.count_nonzero(inside[0])))
    for name in names:
        effects = [
            curve.evidence.effect_kw[name][at] if name in curve.evidence.effect_kw else np.zeros(squares.shape)
            for curve, at in zip(curves, inside, strict=True)
        ]
        squares += np.mean(effects, axis=0) ** 2
    return np.sqrt(squares)
