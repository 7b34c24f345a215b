"""The air system before and after a change: each quantity, the difference, and an interval for it.

Two kinds of doubt meet in that interval. Pulls and days scatter, and the weather has to be taken out: that is the
model of every comparison, with the pull as the unit of evidence. And a number may rest on a sensor that is off or on
something assumed. A sensor that both sides share is off on both, which nearly cancels; what is assumed of a part may
be true of one side alone, because that part may be the one that was changed.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import NormalDist

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.air_system.doubt import Known, Origin, spread
from pullproof.analysis.air_system.fitted import Fitted
from pullproof.analysis.air_system.scatter import USUAL, prior_of
from pullproof.analysis.air_system.scene import look
from pullproof.analysis.air_system.system import AS_LOGGED, SHOWN, Found, find_all
from pullproof.analysis.comparison.adjustments import effects
from pullproof.analysis.comparison.design import Model, PullSet, model
from pullproof.analysis.comparison.result import CurveDifference
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import rpm_grid
from pullproof.errors import CannotAnswer
from pullproof.stats.bands import change_length, pointwise_level
from pullproof.stats.mixed_model import fit

__all__ = ["AirDifference", "NotCompared", "air_differences"]

LEAST_POINTS = 5
"""Engine speeds at which all the pulls have to know a quantity, for a mean over them."""

WHOLE = 0.95
"""Share of the window beyond which a mean counts as one over all of it. [1]"""

CHANGE_RPM = 400.0
"""Engine speed over which the noise of a curve changes by its own size. Common practice, no source."""

WIDER_AT_A_POINT = 1.5
"""How much more a curve scatters at one engine speed than its mean. Common practice, no source."""

ESTIMATES = ("estimated", "assumed", "speed-density")
"""Sources that are no measurement."""

ASSUMED = "no log tells it"
UNTOLD = {
    "inlet_loss": (
        "no pressure before the compressor is logged",
        "Log a pressure before the compressor, and name its column compressor_inlet_pressure in the car sheet.",
    ),
    "volumetric_efficiency": ("no air meter is logged", ""),
}
"""Reason and advice where a quantity is assumed as a whole."""


@dataclass(frozen=True, slots=True)
class AirDifference:
    """One quantity of the air system, after minus before, at the mean conditions of all the pulls.

    `interval` holds the true difference with a probability of `level`: scatter of days and runs, weather, sensors, and
    what was assumed.
    """

    id: str
    label: str
    unit: str
    before: float
    """Mean of the pulls as driven, over the engine speeds that all of them know it at."""
    after: float
    raw_difference: float
    adjustment: float
    difference: float
    """`raw_difference + adjustment`."""
    interval: tuple[float, float]
    level: float
    range_rpm: tuple[float, float]
    """Lowest and highest engine speed of the mean."""
    estimate: bool
    """Whether it rests on anything that nobody measured."""
    assumed: tuple[str, ...]
    """What was assumed, by name."""
    pulls_before: int
    pulls_after: int
    days_before: int
    days_after: int
    run_to_run: float
    day_to_day: float
    """Posterior mean of the standard deviations between pulls of a day and between days, in `unit`."""
    doubts: tuple[str, ...]
    curve: CurveDifference | None
    """Over engine speed, with a band that holds the whole curve; None where too little of it is known."""


@dataclass(frozen=True, slots=True)
class NotCompared:
    """A quantity that cannot be compared: why, and what to do about it."""

    id: str
    label: str
    reason: str
    advice: str = ""


@dataclass(frozen=True, slots=True)
class _Rows:
    """A quantity of the pulls `rows` that know it, in its own unit, at `rpm` where all of them do."""

    rows: NDArray[np.intp]
    rpm: Array
    values: Array
    """(n, m)"""
    parts: tuple[Known, ...]
    keep: NDArray[np.bool_]
    factor: float


def air_differences(pulls: PullSet, car: Car, level: float, fitted: Fitted) -> tuple[AirDifference | NotCompared, ...]:
    """Every quantity of the air system before and after, or why it cannot be compared.

    Parameters
    ----------
    pulls : PullSet
        From `comparison.design.gather`.
    car : Car
        Displacement and fuel are used.
    level : float
        Probability that an interval holds the true difference. [1]
    fitted : Fitted
        Measured losses, taps, and a learned volumetric efficiency.
    """
    rpm = rpm_grid(*pulls.window)
    found = [_of_one(record, car, rpm, fitted) for record in pulls.records]
    return tuple(_difference(name, [one[name] for one in found], rpm, pulls, level) for name in USUAL)


def _of_one(record: PullRecord, car: Car, rpm: Array, fitted: Fitted) -> dict[str, Found]:
    try:
        return find_all(look(record, car, rpm), fitted)
    except CannotAnswer as error:
        return dict.fromkeys(SHOWN, error)


def _difference(
    name: str, found: Sequence[Found], rpm: Array, pulls: PullSet, level: float
) -> AirDifference | NotCompared:
    label, unit, factor, offset = SHOWN[name]
    known = _gathered(found, rpm, pulls.after, factor, offset)
    if isinstance(known, CannotAnswer):
        reason, advice = UNTOLD.get(name, ("", "")) if known.what == ASSUMED else (known.what, known.advice)
        return NotCompared(name, label, reason or known.what, advice)
    after = pulls.after[known.rows]
    values = known.values.mean(axis=1)
    built = _model(name, pulls, known.rows, float(np.mean(np.abs(values))))
    posterior = fit(values, built.design, built.day_scatter, built.run_scatter)
    mixture = posterior.contrast(built.change)
    difference, (low, high) = float(mixture.mean()[0]), mixture.interval(level)
    less, more = _shared_doubt(known, after, level)
    ends = (
        difference - float(np.hypot(difference - low[0], less.mean())),
        difference + float(np.hypot(high[0] - difference, more.mean())),
    )
    before_mean, after_mean = float(values[~after].mean()), float(values[after].mean())
    assumed = tuple(dict.fromkeys(origin.name for part in known.parts for origin in _origins(part) if origin.assumed))
    return AirDifference(
        id=name,
        label=label,
        unit=unit,
        before=before_mean,
        after=after_mean,
        raw_difference=after_mean - before_mean,
        adjustment=difference - (after_mean - before_mean),
        difference=difference,
        interval=ends,
        level=level,
        range_rpm=(float(known.rpm[0]), float(known.rpm[-1])),
        estimate=bool(assumed) or any(part.source in ESTIMATES for part in known.parts),
        assumed=assumed,
        pulls_before=int(np.count_nonzero(~after)),
        pulls_after=int(np.count_nonzero(after)),
        days_before=pulls.days(known.rows, after=False),
        days_after=pulls.days(known.rows, after=True),
        run_to_run=float(posterior.unit_scatter()[0]),
        day_to_day=float(posterior.group_scatter()[0]),
        doubts=_doubts(label, known, found, rpm),
        curve=_curve(name, unit, known, pulls, level),
    )


def _gathered(
    found: Sequence[Found], rpm: Array, after: NDArray[np.bool_], factor: float, offset: float
) -> _Rows | CannotAnswer:
    """The pulls that know a quantity, at the engine speeds that they have in common; or why a side has none."""
    usable = [(row, one) for row, one in enumerate(found) if isinstance(one, Known) and _is_told(one)]
    rows, parts = np.array([row for row, _ in usable], dtype=np.intp), tuple(one for _, one in usable)
    for side in (False, True):
        if not np.any(after[rows] == side):
            return _why(found, after, side)
    keep = np.asarray(np.isfinite([part.value for part in parts]).all(axis=0), dtype=np.bool_)
    if np.count_nonzero(keep) < LEAST_POINTS:
        return CannotAnswer("the pulls know it at no engine speeds in common", advice="Log it in every pull.")
    values = np.array([part.value[keep] for part in parts]) * factor + offset
    if not values.any():
        return CannotAnswer("it reads zero all through", advice="See whether its sensor is connected.")
    return _Rows(rows, rpm[keep], values, parts, keep, factor)


def _is_told(part: Known) -> bool:
    """Whether the log tells anything of it: what is assumed as a whole has no difference."""
    return part.source != "assumed" and int(np.count_nonzero(np.isfinite(part.value))) >= LEAST_POINTS


def _why(found: Sequence[Found], after: NDArray[np.bool_], side: bool) -> CannotAnswer:
    """Why no pull of a side shows it."""
    reasons = [one for one, late in zip(found, after, strict=True) if late == side]
    refusal = next((one for one in reasons if isinstance(one, CannotAnswer)), None)
    if refusal is None:
        assumed = any(isinstance(one, Known) and one.source == "assumed" for one in reasons)
        return CannotAnswer(ASSUMED if assumed else "it is known nowhere in the window")
    both = all(isinstance(one, CannotAnswer) for one in found)
    where = "" if both else f"{'after' if side else 'before'} the change: "
    return CannotAnswer(f"{where}{refusal.what}", advice=refusal.advice)


def _model(name: str, pulls: PullSet, rows: NDArray[np.intp], typical: float, wider: float = 1.0) -> Model:
    prior = prior_of(name, pulls.covariates.state, typical, wider)
    return model(pulls, rows, prior, effects(name, prior, pulls.covariates.state, typical), typical)


def _shared_doubt(known: _Rows, after: NDArray[np.bool_], level: float) -> tuple[Array, Array]:
    """By how much the difference may be lower and higher for what sensors and assumptions do to it, (m,) each.

    A sensor moves both sides at once. What is assumed moves one side alone: the mean of one and the other, so that
    swapping the sides turns the interval round.
    """
    moved = []
    for origin in dict.fromkeys(origin for part in known.parts for origin in _origins(part)):
        shifts = np.array(
            [
                [part.moved.get(origin, (part.value,))[end][known.keep] - part.value[known.keep] for end in (0, -1)]
                for part in known.parts
            ]
        )
        before, late = shifts[~after].mean(axis=0), shifts[after].mean(axis=0)
        if origin.assumed:
            moved.append((0.5 * (late[0] - before[1]), 0.5 * (late[1] - before[0])))
        else:
            moved.append((late[0] - before[0], late[1] - before[1]))
    lower, upper = spread(np.zeros(known.rpm.shape), moved)
    scale = abs(known.factor) * NormalDist().inv_cdf(0.5 + 0.5 * level) / NormalDist().inv_cdf(0.975)
    return -scale * lower, scale * upper


def _origins(part: Known) -> list[Origin]:
    return [origin for origin in part.moved if isinstance(origin, Origin)]


def _curve(name: str, unit: str, known: _Rows, pulls: PullSet, level: float) -> CurveDifference | None:
    """The quantity over engine speed with a band for the whole of it; None where it has gaps."""
    step = float(np.median(np.diff(known.rpm)))
    if known.rpm.size < 2 * LEAST_POINTS or np.ptp(known.rpm) > 1.5 * step * (known.rpm.size - 1):
        return None
    after = pulls.after[known.rows]
    built = _model(name, pulls, known.rows, float(np.mean(np.abs(known.values))), WIDER_AT_A_POINT)
    residuals, freedom = _within_cells(known.values, 2 * pulls.day[known.rows] + after)
    length = change_length(residuals, freedom, step, CHANGE_RPM)
    each = pointwise_level(level, known.rpm.size, float(np.ptp(known.rpm)), length)
    mixture = fit(known.values, built.design, built.day_scatter, built.run_scatter).contrast(built.change)
    (low, high), middle = mixture.interval(each), mixture.mean()
    less, more = _shared_doubt(known, after, level)
    return CurveDifference(
        channel=name,
        unit=unit,
        rpm=known.rpm,
        before=known.values[~after].mean(axis=0),
        after=known.values[after].mean(axis=0),
        difference=middle,
        lower=middle - np.hypot(middle - low, less),
        upper=middle + np.hypot(high - middle, more),
    )


def _within_cells(values: Array, cell: NDArray[np.intp]) -> tuple[Array, float]:
    """Curves less the mean of their side and day, and how many independent curves that leaves."""
    residuals, numbers = values.copy(), np.unique(cell)
    for number in numbers:
        residuals[cell == number] -= values[cell == number].mean(axis=0)
    return residuals, float(len(values) - numbers.size)


def _doubts(label: str, known: _Rows, found: Sequence[Found], rpm: Array) -> tuple[str, ...]:
    # What is shown as logged has no interval of its own; its difference has, by what pulls and days scatter.
    said = list(dict.fromkeys(text for part in known.parts for text in part.doubts if text != AS_LOGGED))
    if known.rpm.size < WHOLE * rpm.size:
        said.append(f"{label}: all the pulls know it from {known.rpm[0]:.0f} to {known.rpm[-1]:.0f} rpm only")
    refusals = [one for one in found if isinstance(one, CannotAnswer)]
    if refusals:
        said.append(f"{label}: {len(refusals)} of {len(found)} pulls do not show it: {refusals[0].what}")
    return tuple(said)
