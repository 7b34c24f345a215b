"""Does duty creep up from test day to test day? A leak that grows, or anything else that wears."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.analysis.air_system.leak import ALSO, DUTY, NEXT, Suspicion
from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison.adjustments import effects
from pullproof.analysis.comparison.design import PullSet, gather, model
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.window import choose_window
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import read_measure
from pullproof.stats.mixed_model import fit
from pullproof.stats.mixture import NormalMixture

__all__ = ["DutyDrift", "duty_drift"]

FEWEST_DAYS = 3
PINNED = "at its stop"
ROUNDING = 1e-9
"""A circumstance that differs by less between pulls, in any unit, does not differ: left in it would upset the fit."""


@dataclass(frozen=True, slots=True)
class DutyDrift:
    """Duty over a row of test days, weather and boost accounted for."""

    suspicion: Suspicion
    statement: str
    drift: float
    """From the first to the last day, on a straight line through all days. [%]"""
    interval: tuple[float, float]
    level: float
    days: tuple[str, ...]
    pulls: int
    other_reasons: tuple[str, ...]
    next_steps: tuple[str, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]


def duty_drift(
    records: Sequence[PullRecord],
    days: Sequence[str],
    car: Car,
    *,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    moments: Mapping[str, datetime.datetime] | None = None,
) -> DutyDrift:
    """Does duty rise from test day to test day, for the same flow and boost?

    Parameters
    ----------
    records : sequence of PullRecord
        Pulls of one build on three test days or more.
    days : sequence of str
        The labels of the test days in the order in which they came; the days count as equally far apart.
    car : Car
    window : (float, float), optional
        As in a comparison. [rpm]
    level : float
        Probability that the interval holds the truth. [1]
    moments : mapping of file to datetime, optional
        When each log was started: a session's warming is then taken out too.

    Raises
    ------
    CannotAnswer
        Fewer than three days have pulls with wastegate duty that is free to move, or the pulls share no window.
    WrongUse
        The window makes no sense.
    """
    listed = [record for record in records if record.day in days]
    chosen = choose_window(listed, listed, car, window)
    read = {id(record): _duty(record, chosen.window) for record in chosen.before}
    free = [record for record in chosen.before if isinstance(read[id(record)], float)]
    pinned = sum(value == PINNED for value in read.values())
    seen = [day for day in dict.fromkeys(days) if any(record.day == day for record in free)]
    if len(seen) < FEWEST_DAYS:
        raise CannotAnswer(
            f"wastegate duty that is free to move was logged on {len(seen)} of the test days, and a trend needs three",
            advice="Record more days, or compare two sets of pulls.",
        )
    first = [record for record in free if record.day == seen[0]]
    pulls = gather(first, [record for record in free if record.day != seen[0]], car, chosen.window, moments or {})
    duty = np.array([read[id(record)] for record in pulls.records], dtype=np.float64)
    slope = _slope(pulls, duty, seen)
    steps = float(len(seen) - 1)
    drift, (lower, upper) = steps * float(slope.mean()[0]), slope.interval(level)
    interval = (steps * float(lower[0]), steps * float(upper[0]))
    suspicion: Suspicion = "suspected" if interval[0] > 0.0 else "not shown"
    return DutyDrift(
        suspicion=suspicion,
        statement=_statement(suspicion, drift, interval, level, len(seen)),
        drift=drift,
        interval=interval,
        level=level,
        days=tuple(seen),
        pulls=len(free),
        other_reasons=ALSO,
        next_steps=NEXT,
        doubts=(*chosen.doubts, *_doubts(pulls, pinned)),
        cautions=CAUTIONS,
    )


def _duty(record: PullRecord, window: tuple[float, float]) -> float | str | None:
    """Mean duty [%], or that it is at its stop; None where it cannot be read."""
    try:
        reading = read_measure(DUTY, record, window)
    except CannotAnswer:
        return None
    return PINNED if reading.censored else reading.value


def _slope(pulls: PullSet, duty: Array, days: Sequence[str]) -> NormalMixture:
    """Rise of duty from one test day to the next, in the model of every comparison.

    The place in the row of days stands where before and after stand there.
    """
    prior = load_priors().measures[DUTY]
    typical = float(np.mean(duty))
    rows = np.arange(duty.size, dtype=np.intp)
    known = model(pulls, rows, prior, effects(DUTY, prior, pulls.covariates.state, typical), typical)
    order = np.array([days.index(record.day) for record in pulls.records], dtype=np.float64)
    columns = np.where(np.ptp(known.design.columns, axis=0) > ROUNDING, known.design.columns, 0.0)
    columns[:, 0] = 1.0
    columns[:, 1] = order - order.mean()
    posterior = fit(duty, replace(known.design, columns=columns), known.day_scatter, known.run_scatter)
    return posterior.contrast(known.change)


def _doubts(pulls: PullSet, pinned: int) -> list[str]:
    covariates = load_priors().covariates
    doubts = [
        f"{covariates[name].label} is not known of {where}, so not taken out; the interval is wider for it"
        for name, where in pulls.covariates.missing.items()
        if covariates[name].day > 0.0
    ]
    if pinned:
        doubts.append(f"{pinned} pulls had their duty at its stop and are left out: look at their boost instead")
    return doubts


def _statement(suspicion: Suspicion, drift: float, interval: tuple[float, float], level: float, days: int) -> str:
    text = (
        f"Over {days} test days mean wastegate duty changed by {drift:+.1f} percentage points at equal boost and "
        f"weather ({100.0 * level:g} % interval {interval[0]:+.1f} to {interval[1]:+.1f})"
    )
    if suspicion == "suspected":
        return f"{text}: it rises; air may be lost, or one of the other reasons holds."
    return f"{text}: no rise shows."
