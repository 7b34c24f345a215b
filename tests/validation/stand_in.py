"""A plain comparison to try the runner with: means of a few measures and a normal interval with fixed scatter."""

from types import SimpleNamespace

import numpy as np
from scipy.stats import norm
from validation.measure import read_measures

SCATTER = {"wastegate_duty.peak": (1.0, 1.2), "boost.mean": (0.5, 0.7), "pull.time": (0.05, 0.08)}


def find(log):
    """The pull of a log: where the pedal, else the throttle, is near its largest value."""
    trace = log.traces.get("pedal_position") or log.traces["throttle_position"]
    known = ~np.isnan(trace.values)
    time, values = trace.time[known], trace.values[known]
    down = values > values.max() - 4
    return float(time[down][0]), float(time[down][-1])


def compare(before, after, *, car, conditions, window, level, main):
    """Same arguments and the same fields as the package's own."""
    redline = car.engine.redline_rpm
    chosen = (0.6 * redline, 0.92 * redline)
    sets, days = [], []
    for logs in (before, after):
        rows = []
        for log in logs:
            channels = {
                name: (trace.time[~np.isnan(trace.values)], trace.values[~np.isnan(trace.values)])
                for name, trace in log.traces.items()
            }
            ambient = conditions.of(log.file).air.pressure_kpa or 99.0
            channels["ambient_pressure"] = (np.zeros(1), np.array([ambient]))
            rows.append(read_measures(channels, find(log), chosen))
        sets.append(rows)
        days.append({conditions.of(log.file).day for log in logs})
    one_day = days[0] == days[1]
    measures = []
    for name, (run, day) in SCATTER.items():
        values = [np.array([row[name] for row in rows]) for rows in sets]
        if any(np.isnan(value).any() for value in values):
            continue
        difference = values[1].mean() - values[0].mean()
        variance = sum(run**2 / len(value) for value in values)
        variance += 0 if one_day else sum(day**2 / len(some) for some in days)
        half = norm.ppf(0.5 + level / 2) * np.sqrt(variance)
        interval = (difference - half, difference + half)
        verdict = "higher" if interval[0] > 0 else "lower" if interval[1] < 0 else "unclear"
        measures.append(
            SimpleNamespace(
                id=name,
                difference=difference,
                raw_difference=difference,
                interval=interval,
                verdict=verdict,
                smallest_worth_having=0.5,
                censored=bool(values[0].max() > 99.5),
                run_to_run=run,
                day_to_day=day,
                adjusted_for=(),
            )
        )
    pulls = [SimpleNamespace(used=True)]
    return SimpleNamespace(
        measures=measures,
        window_rpm=chosen,
        main="wastegate_duty.peak",
        checks=(),
        curves=(),
        before=pulls * len(before),
        after=pulls * len(after),
    )
