"""Does the worst reading of a pull creep from test day to test day? The model of the verdict, asked of days.

    worst_i = level + change * progress_i + per_kelvin * (air_i - mean air) + u_day + e_i

`progress` runs from 0 on the first day to 1 on the last, by date where all dates are known, else in the order of the
days. Because days differ for no reason, two days give a wide interval, and rightly so.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.watch.limits import TrendPrior, trend_priors
from pullproof.analysis.watch.result import Trend
from pullproof.arrays import Array
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import TypicalScatter

__all__ = ["PullReading", "trends_of"]

SCATTER_DOUBT = 0.5
"""Spread of the logarithm of the usual scatters between cars. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class PullReading:
    """The worst reading of one pull. `air_c` is None where nobody knows, `when` where no date was given."""

    rule: str
    label: str
    unit: str
    value: float
    day: str
    air_c: float | None
    when: datetime.datetime | None


def trends_of(readings: Sequence[PullReading], level: float = 0.95) -> tuple[Trend, ...]:
    """Every trend that two days or more can show, in the order of the table.

    Parameters
    ----------
    readings : sequence of PullReading
        Of all rules and logs, in the order in which the logs were given.
    level : float
        Probability that an interval holds the truth. [1]
    """
    found = []
    for rule, prior in trend_priors().items():
        own = [reading for reading in readings if reading.rule == rule]
        if len({reading.day for reading in own}) > 1:
            found.append(_trend(own, prior, level))
    return tuple(found)


def _trend(own: Sequence[PullReading], prior: TrendPrior, level: float) -> Trend:
    days, dated = _days_in_order(own)
    day = np.array([list(days).index(reading.day) for reading in own], dtype=np.intp)
    values = np.array([reading.value for reading in own])
    design, air = _design(own, day, _progress(days, dated), prior)
    scatter = TypicalScatter(prior.day, SCATTER_DOUBT), TypicalScatter(prior.run, SCATTER_DOUBT)
    contrast = np.zeros(design.columns.shape[1])
    contrast[1] = 1.0
    mixture = fit(values, design, *scatter).contrast(contrast)
    lower, upper = mixture.interval(level)
    interval = (float(lower[0]), float(upper[0]))
    order = "by date" if dated is not None else "in the order in which the logs were given, for lack of dates"
    weather = "air temperature taken out" if air else "air temperature not taken out, because it is not known of all"
    return Trend(
        rule=own[0].rule,
        label=own[0].label,
        unit=own[0].unit,
        days=days,
        day_means=tuple(float(values[day == number].mean()) for number in range(len(days))),
        pulls=len(own),
        difference=float(mixture.mean()[0]),
        interval=interval,
        level=level,
        verdict=_verdict(interval, prior.worse),
        detail=f"days {order}; {weather}",
    )


def _days_in_order(own: Sequence[PullReading]) -> tuple[tuple[str, ...], Mapping[str, datetime.datetime] | None]:
    """Days as they came, and when each was where that is known of all."""
    given = tuple(dict.fromkeys(reading.day for reading in own))
    moments: dict[str, datetime.datetime] = {}
    for reading in own:
        if reading.when is not None:
            moments[reading.day] = min(reading.when, moments.get(reading.day, reading.when))
    if len(moments) < len(given):
        return given, None
    return tuple(sorted(given, key=lambda day: moments[day])), moments


def _progress(days: Sequence[str], dated: Mapping[str, datetime.datetime] | None) -> Array:
    """From 0 on the first day to 1 on the last. [1]"""
    if dated is None:
        return np.linspace(0.0, 1.0, len(days))
    seconds = np.array([(dated[day] - dated[days[0]]).total_seconds() for day in days])
    return seconds / seconds[-1] if seconds[-1] > 0.0 else np.linspace(0.0, 1.0, len(days))


def _design(
    own: Sequence[PullReading], day: NDArray[np.intp], progress: Array, prior: TrendPrior
) -> tuple[Design, bool]:
    """Level, change, and air temperature where all pulls know it and it differs."""
    columns, mean, doubt = [np.ones(len(own)), progress[day]], [0.0, 0.0], [np.inf, np.inf]
    known = [reading.air_c for reading in own if reading.air_c is not None]
    air = len(known) == len(own)
    if air and np.ptp(known) > 0.0:
        columns.append(np.array(known) - np.mean(known))
        mean.append(prior.air_mean)
        doubt.append(prior.air_doubt)
    return Design(np.column_stack(columns), day, np.array(mean), np.array(doubt)), air


def _verdict(interval: tuple[float, float], worse: str) -> Literal["worse", "better", "no clear change"]:
    lower, upper = interval
    if lower <= 0.0 <= upper:
        return "no clear change"
    return "worse" if (lower > 0.0) == (worse == "up") else "better"
