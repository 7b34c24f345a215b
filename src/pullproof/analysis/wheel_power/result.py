"""Power over engine speed as a result: estimate, interval, and what each input contributes to it."""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from scipy.special import stdtrit

from pullproof.analysis.wheel_power.correction import PowerCorrection
from pullproof.arrays import Array, Numbers
from pullproof.car import Car
from pullproof.pulls import Pull
from pullproof.tractive_power import Given

__all__ = [
    "CrankEstimate",
    "Efficiency",
    "Evidence",
    "InputShare",
    "PowerCurve",
    "assemble",
    "efficiency_of",
    "half_width",
    "torque",
]

LEVEL = 0.95

USUAL_EFFICIENCY, USUAL_EFFICIENCY_BAND = 0.85, 0.07
"""A driveline loses 8 to 15 % with two driven wheels, 12 to 22 % with four (common practice, no source)."""

STATED_EFFICIENCY_BAND = 0.03
"""Half width about an efficiency of the car sheet: nobody measures it under load (common practice, no source)."""


def half_width(own: Array, freedom: Numbers, shared: Array, level: float) -> Array:
    """Half width of an interval from a doubt that was estimated and one that is taken as known.

    Parameters
    ----------
    own : (k,)
        Standard doubt that was estimated. [kW]
    freedom : scalar or (k,)
        Degrees of freedom behind it. [1]
    shared : (k,)
        Standard doubt that is taken as known. [kW]
    level : float
        Probability that the interval holds the truth. [1]

    Source: effective degrees of freedom of Welch and Satterthwaite, [GUM] G.4.1.
    """
    total = np.hypot(own, shared)
    own_share = np.maximum(own / np.maximum(total, 1e-12), 1e-3)
    return np.asarray(stdtrit(freedom / own_share**4, 0.5 + 0.5 * level) * total)


def torque(power_kw: Array, rpm: Array) -> Array:
    """Power over engine speed, both (k,). [N m]"""
    return np.asarray(1e3 * power_kw / (2.0 * np.pi / 60.0 * rpm))


@dataclass(frozen=True, slots=True)
class InputShare:
    """A number that the power rests on, and what its doubt does."""

    given: Given
    share: float
    """Of the squared standard doubt of the curve, on average over engine speed; all shares add up to 1."""
    effect_pct: float
    """What one standard doubt of it moves the power by, in per cent of the mean power."""


@dataclass(frozen=True, slots=True)
class Efficiency:
    """Power at the wheels over power at the crank, as a band."""

    value: float
    half_width: float
    origin: str


@dataclass(frozen=True, slots=True)
class CrankEstimate:
    """An estimate of crankshaft power and torque: nobody measured the efficiency that it rests on; arrays are (k,).

    `lower_kw` to `upper_kw` holds the doubt of wheel power and the band of the efficiency together.
    """

    power_kw: Array
    lower_kw: Array
    upper_kw: Array
    torque_nm: Array
    efficiency: Efficiency
    label: str = "estimate"


@dataclass(frozen=True, slots=True)
class Evidence:
    """What an interval is made of; arrays are (k,)."""

    own_doubt_kw: Array
    """Standard doubt from this log's noise and its smoothing."""
    freedom: float
    """Degrees of freedom behind it."""
    effect_kw: Mapping[str, Array]
    """Name of an input to the change of power by one standard doubt of it."""
    given: tuple[Given, ...]
    """The inputs."""
    time_constant_s: float
    """Of the smoothing."""
    source: str
    """Channel that speed and acceleration come from."""

    @property
    def shared_doubt_kw(self) -> Array:
        """Standard doubt from the numbers of car, road and air, (k,)."""
        return np.sqrt(sum((change**2 for change in self.effect_kw.values()), np.zeros_like(self.own_doubt_kw)))

    @property
    def half_width_kw(self) -> Array:
        """Half width of the interval from both kinds of doubt, (k,).

        The own doubt is itself an estimate from few samples.
        """
        return half_width(self.own_doubt_kw, self.freedom, self.shared_doubt_kw, LEVEL)


@dataclass(frozen=True, slots=True)
class PowerCurve:
    """Power and torque at the wheels over engine speed; all arrays are (k,).

    `lower_kw` to `upper_kw` is the interval, at each engine speed, for the *absolute* power. Most of it is shared by
    all curves of one car on one day (`evidence.shared_doubt_kw`): a difference between two sets is known better, by
    `evidence.own_doubt_kw` and by how the days differ.
    """

    pulls: tuple[Pull, ...]
    """One, or an out and a back run."""
    direction: str | None
    rpm: Array
    speed_kmh: Array
    wheel_power_kw: Array
    lower_kw: Array
    upper_kw: Array
    level: float
    wheel_torque_nm: Array
    """Wheel power over engine speed, as a dynamometer sheet prints it."""
    axle_torque_nm: Array
    """Torque at the driven wheels themselves, the gearing times as much."""
    crank: CrankEstimate
    correction: PowerCorrection
    inputs: tuple[InputShare, ...]
    """Largest share first; the log's own noise and smoothing is among them as `differentiation`."""
    evidence: Evidence
    overall_ratio: float
    doubts: tuple[str, ...]

    @property
    def corrected_kw(self) -> Array | None:
        """Wheel power times the factor of the standard; None without a factor."""
        return None if self.correction.factor is None else self.wheel_power_kw * self.correction.factor


def assemble(
    pulls: tuple[Pull, ...],
    direction: str | None,
    rpm: Array,
    speed_kmh: Array,
    power_kw: Array,
    evidence: Evidence,
    *,
    overall_ratio: float,
    efficiency: Efficiency,
    correction: PowerCorrection,
    doubts: tuple[str, ...],
) -> PowerCurve:
    """Interval, torque, crank estimate and shares that follow from a power and the evidence for it."""
    half = evidence.half_width_kw
    turning = torque(power_kw, rpm)
    return PowerCurve(
        pulls=pulls,
        direction=direction,
        rpm=rpm,
        speed_kmh=speed_kmh,
        wheel_power_kw=power_kw,
        lower_kw=power_kw - half,
        upper_kw=power_kw + half,
        level=LEVEL,
        wheel_torque_nm=turning,
        axle_torque_nm=turning * overall_ratio,
        crank=_crank_estimate(power_kw, half, turning, efficiency),
        correction=correction,
        inputs=_shares(evidence, power_kw),
        evidence=evidence,
        overall_ratio=overall_ratio,
        doubts=doubts,
    )


def efficiency_of(car: Car) -> Efficiency:
    """Driveline efficiency of the car sheet with its band, or the usual band."""
    if car.driveline_efficiency is None:
        origin = "8 to 22 % loss is usual, common practice without source; add driveline_efficiency"
        return Efficiency(USUAL_EFFICIENCY, USUAL_EFFICIENCY_BAND, origin)
    band = car.doubts.get("driveline_efficiency", STATED_EFFICIENCY_BAND)
    return Efficiency(car.driveline_efficiency, band, "car sheet")


def _crank_estimate(power: Array, half_width: Array, torque: Array, efficiency: Efficiency) -> CrankEstimate:
    estimate = power / efficiency.value
    half = np.hypot(half_width, power * efficiency.half_width / efficiency.value) / efficiency.value
    return CrankEstimate(estimate, estimate - half, estimate + half, torque / efficiency.value, efficiency)


def _shares(evidence: Evidence, power: Array) -> tuple[InputShare, ...]:
    own = np.sqrt(np.mean(evidence.own_doubt_kw**2))
    entries = [(number, np.sqrt(np.mean(evidence.effect_kw[number.name] ** 2))) for number in evidence.given]
    entries.append((Given("differentiation", 0.0, float(own), "kW", "noise of this log and its smoothing"), own))
    total = sum(effect**2 for _, effect in entries)
    typical = float(np.mean(np.abs(power)))
    shares = [InputShare(number, float(effect**2 / total), float(100 * effect / typical)) for number, effect in entries]
    return tuple(sorted(shares, key=lambda entry: -entry.share))
