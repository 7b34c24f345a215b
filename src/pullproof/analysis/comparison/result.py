"""What a comparison says, as plain data."""

from dataclasses import dataclass, field
from typing import Literal

from pullproof.arrays import Array
from pullproof.pulls import Pull

__all__ = ["Comparison", "CurveDifference", "FairnessCheck", "LeftOut", "MeasureDifference", "Verdict"]

Verdict = Literal["lower", "higher", "same", "unclear"]


@dataclass(frozen=True, slots=True)
class MeasureDifference:
    """After minus before for one measure, at the mean conditions of all the pulls compared."""

    id: str
    unit: str
    before: float
    after: float
    raw_difference: float
    adjustment: float
    difference: float
    """`raw_difference + adjustment`: what the change did, other recorded differences accounted for."""
    interval: tuple[float, float]
    level: float
    smallest_worth_having: float
    verdict: Verdict
    pulls_before: int
    pulls_after: int
    days_before: int
    days_after: int
    censored: bool
    adjusted_for: tuple[tuple[str, float], ...] = ()
    """What the adjustment is made of: covariate and its share, in `unit`."""
    run_to_run: float = float("nan")
    """Posterior mean of the standard deviation between pulls of one day, in `unit`."""
    day_to_day: float = float("nan")
    """Posterior mean of the standard deviation between days, in `unit`."""
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class CurveDifference:
    """A channel over engine speed before and after, with the difference and its simultaneous band."""

    channel: str
    unit: str
    rpm: Array
    before: Array
    after: Array
    difference: Array
    lower: Array
    upper: Array


@dataclass(frozen=True, slots=True)
class FairnessCheck:
    """Something other than the change that could explain the difference."""

    id: str
    status: Literal["pass", "warn", "fail"]
    detail: str
    could_explain: dict[str, float] = field(default_factory=dict)
    """Measure id and how much of its difference this could make, in the measure's unit."""
    accounted_for: bool = False
    """The model has taken it out of the difference, doubt included."""
    incomparable: bool = False
    """The sides cannot be compared at all, whatever the figures say."""


@dataclass(frozen=True, slots=True)
class LeftOut:
    """A measure that could not be taken, and why."""

    measure: str
    reason: str


@dataclass(frozen=True, slots=True)
class Comparison:
    """Two sets of pulls, the difference of every measure, and what stands against it."""

    window_rpm: tuple[float, float]
    level: float
    main: str
    sentence: str
    before: tuple[Pull, ...]
    after: tuple[Pull, ...]
    measures: tuple[MeasureDifference, ...]
    curves: tuple[CurveDifference, ...]
    checks: tuple[FairnessCheck, ...]
    left_out: tuple[LeftOut, ...]
    cautions: tuple[str, ...]
    next_steps: tuple[str, ...]
    doubts: tuple[str, ...]
