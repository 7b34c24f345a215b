import datetime

import numpy as np
import pytest

from pullproof.analysis.watch.limits import trend_priors
from pullproof.analysis.watch.trends import PullReading, trends_of

FIRST = datetime.datetime.fromisoformat("2026-04-04T10:00")


def season(rng, days, pulls, *, change=0.0, rule="oil_temperature", air=None) -> list[PullReading]:
    """Readings of a car that drifts by `change` from the first day to the last, weeks apart."""
    prior = trend_priors()[rule]
    found = []
    for number in range(days):
        warm = 20.0 if air is None else air[number]
        level = 100.0 + change * number / (days - 1) + prior.day * rng.normal() + prior.air_mean * (warm - 20.0)
        for _ in range(pulls):
            value = level + prior.run * rng.normal()
            when = FIRST + datetime.timedelta(weeks=number)
            found.append(PullReading(rule, rule.replace("_", " "), "degC", value, f"day {number}", warm, when))
    return found


def test_intervals_hold_the_drift_that_was_put_in() -> None:
    """Of 300 made-up seasons 95 % intervals hold the truth in 92 to 99 of 100."""
    rng = np.random.default_rng(8)
    held = 0
    for draw in range(300):
        days, pulls = (2, 3, 5)[draw % 3], (1, 3)[draw % 2]
        (trend,) = trends_of(season(rng, days, pulls, change=6.0))
        held += trend.interval[0] <= 6.0 <= trend.interval[1]
    assert 0.92 <= held / 300 <= 0.99


def test_a_car_that_did_not_change_is_seldom_said_to() -> None:
    """Without any drift a change is claimed in at most 8 of 100 seasons, for all that days differ."""
    rng = np.random.default_rng(9)
    claims = sum(trends_of(season(rng, 4, 2))[0].verdict != "no clear change" for _ in range(200))
    assert claims <= 16


@pytest.mark.parametrize(("rule", "change"), [("oil_temperature", 60.0), ("oil_pressure", -120.0)])
def test_a_great_drift_the_wrong_way_is_called_worse(rule: str, change: float) -> None:
    """Hotter oil and lower pressure are worse; the other way they are better."""
    rng = np.random.default_rng(10)
    assert trends_of(season(rng, 6, 3, change=change, rule=rule))[0].verdict == "worse"
    assert trends_of(season(rng, 6, 3, change=-change, rule=rule))[0].verdict == "better"


def test_a_warm_spring_is_no_trend() -> None:
    """What warmer air does to a charge temperature is taken out."""
    rng = np.random.default_rng(11)
    (trend,) = trends_of(season(rng, 5, 2, rule="charge_temperature", air=[4.0, 10.0, 15.0, 21.0, 28.0]))
    assert trend.day_means[-1] - trend.day_means[0] > 15.0
    assert trend.verdict == "no clear change"
    assert "taken out" in trend.detail


def test_days_go_by_date_not_by_the_order_of_the_files() -> None:
    """Given backwards, the same logs tell the same trend."""
    rng = np.random.default_rng(12)
    readings = season(rng, 4, 2, change=30.0)
    (forwards,), (backwards,) = trends_of(readings), trends_of(readings[::-1])
    assert forwards.days == backwards.days
    assert forwards.difference == pytest.approx(backwards.difference)


def test_one_day_tells_no_trend() -> None:
    """Pulls of one day alone give none."""
    assert trends_of(season(np.random.default_rng(1), 2, 3)[:3]) == ()
