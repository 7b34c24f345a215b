"""What a picture of the season shows: every pull, every day's mean at mean conditions, and the weather's swing."""

import numpy as np

from pullproof.analysis.history.effects import WEATHER
from pullproof.analysis.history.gathering import SeasonPulls
from pullproof.analysis.history.model import Fitted, estimate_of
from pullproof.analysis.history.result import DayPoint, Estimate, PullPoint
from pullproof.arrays import Array
from pullproof.stats.mixture import NormalMixture

__all__ = ["day_points", "pull_points", "weather_swing"]

SURPRISING = 0.002
"""As for a comparison: a pull that lies this far off by chance only once in 500 is named."""


def pull_points(fitted: Fitted, pulls: SeasonPulls) -> tuple[PullPoint, ...]:
    """Every pull that has the measure, as driven and at the mean conditions of the season."""
    readings = fitted.readings
    surprise = fitted.posterior.surprise()[:, 0]
    at_mean = readings.values - _circumstances(fitted)
    found = []
    for place, row in enumerate(readings.rows):
        pull = pulls.pulls[row]
        found.append(
            PullPoint(
                day=pull.record.day,
                log=pull.record.log.file,
                start_s=pull.record.pull.start_s,
                when=pull.when or pulls.days[pulls.day[row]].when,
                build=pull.build,
                as_driven=float(readings.values[place]),
                at_mean_conditions=float(at_mean[place]),
                censored=bool(readings.censored[place]),
                stands_out=bool(np.isfinite(surprise[place]) and surprise[place] < SURPRISING),
            )
        )
    return tuple(found)


def day_points(fitted: Fitted, pulls: SeasonPulls) -> tuple[DayPoint, ...]:
    """One point for each build on each day, with the doubt of taking that day alone for the build."""
    readings, design, posterior = fitted.readings, fitted.design, fitted.posterior
    at_mean = readings.values - _circumstances(fitted)
    cells: dict[tuple[int, frozenset[str]], list[int]] = {}
    for place, row in enumerate(readings.rows):
        cells.setdefault((int(pulls.day[row]), pulls.pulls[row].build), []).append(place)
    found = []
    for (day, build), members in cells.items():
        rows = np.array(members)
        row = design.matrix[rows].mean(axis=0)
        moments = [pulls.pulls[readings.rows[place]].when for place in members]
        known = [moment for moment in moments if moment is not None]
        model = row.copy()
        model[design.circumstances] = 0.0
        found.append(
            DayPoint(
                day=pulls.days[day].label,
                when=min(known) if known else pulls.days[day].when,
                build=build,
                pulls=len(members),
                mean=_alone(fitted, float(at_mean[rows].mean()), row, len(members)),
                model=estimate_of(posterior.contrast(model), fitted.level),
            )
        )
    return tuple(found)


def weather_swing(fitted: Fitted, pulls: SeasonPulls) -> tuple[Estimate, tuple[str, str]]:
    """How far the weather alone moved the measure over the season, and between which days."""
    design = fitted.design
    by_day = pulls.day[fitted.readings.rows]
    present = np.unique(by_day)
    weather = np.zeros_like(design.matrix)
    for number, role in enumerate(design.acts_as):
        if role in WEATHER:
            column = design.circumstances.start + number
            weather[:, column] = design.matrix[:, column]
    means = np.array([weather[by_day == day].mean(axis=0) for day in present])
    made = means @ fitted.posterior.coefficient_means()[:, 0]
    low, high = int(np.argmin(made)), int(np.argmax(made))
    labels = pulls.days[present[low]].label, pulls.days[present[high]].label
    return fitted.estimate(means[high] - means[low]), labels


def _circumstances(fitted: Fitted) -> Array:
    """What the circumstances added to each pull, (n,)."""
    where = fitted.design.circumstances
    made: Array = fitted.design.matrix[:, where] @ fitted.posterior.coefficient_means()[where, 0]
    return made


def _alone(fitted: Fitted, value: float, row: Array, pulls: int) -> Estimate:
    """A day's mean with its own scatter, and the doubt of what was taken out of it."""
    posterior, only = fitted.posterior, np.zeros_like(row)
    only[fitted.design.circumstances] = row[fitted.design.circumstances]
    doubt = posterior.contrast(only).deviations if np.any(only) else np.zeros((len(posterior.s_unit), 1))
    own = posterior.s_group**2 + posterior.s_unit**2 / pulls
    deviations = np.sqrt(doubt**2 + own[:, None])
    mixture = NormalMixture(posterior.weights, np.full_like(posterior.weights, value), deviations)
    return estimate_of(mixture, fitted.level)
