"""Each measure and each curve: before, after, and what the change did."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.adjustments import effects
from pullproof.analysis.comparison.design import Model, PullSet, model
from pullproof.analysis.comparison.priors import CurvePrior, load_priors
from pullproof.analysis.comparison.reading_limits import expected
from pullproof.analysis.comparison.readings import Readings, read_pulls
from pullproof.analysis.comparison.result import CurveDifference, LeftOut, MeasureDifference, Verdict
from pullproof.arrays import Array
from pullproof.curves import curve, rpm_grid
from pullproof.errors import CannotAnswer
from pullproof.measures import MEASURES
from pullproof.stats.bands import change_length, pointwise_level
from pullproof.stats.mixed_model import Posterior, fit

__all__ = ["curve_difference", "measure_difference"]

SURPRISING = 0.002
"""A pull that lies this far from all the others by chance only once in 500 is named."""

CHANGE_RPM = 400.0
"""Engine speed over which the noise of a curve changes by its own size. Common practice, no source."""

LEAST_POINTS = 5


def measure_difference(measure: str, pulls: PullSet, level: float) -> MeasureDifference | LeftOut:
    """Difference of one measure at the mean conditions of all pulls, or why there is none."""
    readings = read_pulls(measure, pulls.records, pulls.window)
    after = pulls.after[readings.rows]
    if after.all() or not after.any():
        return LeftOut(measure, "; ".join(dict.fromkeys(readings.refusals)))
    prior = load_priors().measures[measure]
    values, typical = readings.values, readings.typical
    if prior.relative and typical == 0.0:
        return LeftOut(measure, "it reads zero in every pull")
    prior, found = expected(measure, readings.rows, typical, readings.sharpness, pulls.covariates, pulls.window)
    known = model(pulls, readings.rows, prior, found, typical)
    posterior = fit(values, known.design, known.day_scatter, known.run_scatter)
    mixture = posterior.contrast(known.change)
    before_mean, after_mean = float(values[~after].mean()), float(values[after].mean())
    difference, (lower, upper) = float(mixture.mean()[0]), mixture.interval(level)
    interval = (float(lower[0]), float(upper[0]))
    smallest = prior.in_unit(prior.smallest, typical)
    raw = after_mean - before_mean
    return MeasureDifference(
        id=measure,
        unit=MEASURES[measure].unit,
        before=before_mean,
        after=after_mean,
        raw_difference=raw,
        adjustment=difference - raw,
        difference=difference,
        interval=interval,
        level=level,
        smallest_worth_having=smallest,
        verdict=_verdict(interval, smallest, readings.censored),
        pulls_before=int(np.count_nonzero(~after)),
        pulls_after=int(np.count_nonzero(after)),
        days_before=pulls.days(readings.rows, after=False),
        days_after=pulls.days(readings.rows, after=True),
        censored=bool(readings.censored.all()),
        adjusted_for=_shares(known, posterior, difference - raw),
        run_to_run=float(posterior.unit_scatter()[0]),
        day_to_day=float(posterior.group_scatter()[0]),
        doubts=(*readings.doubts, *_censoring(readings, after), *_surprises(pulls, readings, posterior)),
    )


def curve_difference(channel: str, pulls: PullSet, level: float) -> CurveDifference | None:
    """A channel over engine speed with a band that holds the whole curve; None where it is not logged throughout."""
    prior, rows = load_priors().curves[channel], np.arange(len(pulls.records))
    rpm = rpm_grid(*pulls.window)
    try:
        values = np.array([curve(record, channel, rpm) for record in pulls.records])
    except CannotAnswer:
        return None
    complete = np.isfinite(values).all(axis=0)
    if np.count_nonzero(complete) < LEAST_POINTS:
        return None
    rpm, values = rpm[complete], values[:, complete]
    if not values.any():
        return None
    known = _curve_model(prior, pulls, rows, float(np.mean(np.abs(values))))
    points, step = len(rpm), float(np.median(np.diff(rpm)))
    residuals, freedom = _within_cells(values, pulls)
    each = pointwise_level(level, points, rpm[-1] - rpm[0], change_length(residuals, freedom, step, CHANGE_RPM))
    mixture = fit(values, known.design, known.day_scatter, known.run_scatter).contrast(known.change)
    lower, upper = mixture.interval(each)
    measure = MEASURES[prior.measure]
    return CurveDifference(
        channel=channel,
        unit=measure.unit,
        rpm=rpm,
        before=values[~pulls.after].mean(axis=0),
        after=values[pulls.after].mean(axis=0),
        difference=mixture.mean(),
        lower=lower,
        upper=upper,
    )


def _curve_model(prior: CurvePrior, pulls: PullSet, rows: NDArray[np.intp], typical: float) -> Model:
    measure = load_priors().measures[prior.measure].widened(prior.wider)
    return model(pulls, rows, measure, effects(prior.measure, measure, pulls.covariates.state, typical), typical)


def _verdict(interval: tuple[float, float], smallest: float, censored: NDArray[np.bool_]) -> Verdict:
    """The contract's rule; what sat at its stop in all pulls proves nothing, and in some no sameness."""
    lower, upper = interval
    if censored.all():
        return "unclear"
    if upper < 0.0:
        return "lower"
    if lower > 0.0:
        return "higher"
    return "same" if -smallest <= lower and upper <= smallest and not censored.any() else "unclear"


def _shares(known: Model, posterior: Posterior, adjustment: float) -> tuple[tuple[str, float], ...]:
    """What each covariate's part of the adjustment is; what is left comes from days that count unequally."""
    per_unit = posterior.coefficient_means()[2:, 0]
    shares = [(name, float(-amount)) for name, amount in zip(known.names, per_unit * known.moved, strict=True)]
    left = adjustment - sum(amount for _, amount in shares)
    return (*shares, ("unequal days", left)) if abs(left) > 1e-4 * posterior.unit_scatter()[0] else tuple(shares)


def _censoring(readings: Readings, after: NDArray[np.bool_]) -> tuple[str, ...]:
    """A side that sat at its stop hides part of the difference; where both did, nobody knows which way."""
    if readings.censored.all() or not readings.censored.any():
        return ()
    before, late = readings.censored[~after], readings.censored[after]
    where = f"{before.sum()} of {len(before)} pulls before and {late.sum()} of {len(late)} after"
    if before.any() and late.any():
        return (f"at the stop in {where}: the true difference may be another than the one shown",)
    return (f"at the stop in {where}: the true difference is larger than the one shown",)


def _surprises(pulls: PullSet, readings: Readings, posterior: Posterior) -> Sequence[str]:
    surprise = posterior.surprise()[:, 0]
    found = []
    for row, value, chance in zip(readings.rows, readings.values, surprise, strict=True):
        if np.isfinite(chance) and chance < SURPRISING:
            pull = pulls.records[row].pull
            found.append(
                f"the pull of {pull.log} at {pull.start_s:.1f} s stands out from the others with {value:.4g}: "
                "look at it before you trust the difference, and leave it in unless the log shows a reason"
            )
    return found


def _within_cells(values: Array, pulls: PullSet) -> tuple[Array, float]:
    """Curves less the mean of their side and day, and how many independent curves that leaves."""
    cell = np.unique(2 * pulls.day + pulls.after, return_inverse=True)[1]
    residuals = values.copy()
    for number in range(cell.max() + 1):
        residuals[cell == number] -= values[cell == number].mean(axis=0)
    return residuals, float(len(values) - (cell.max() + 1))
