from dataclasses import replace

import numpy as np
import pytest
from tests.analysis.comparison.conftest import START_S

from pullproof.analysis.plan.cooling import cooling_of
from pullproof.channels import Trace

PULL_ENDS = START_S + 8.0


def cooling_pull(pull, *, half_life: float, lasts: float):
    """A pull that warms the charge by 20 K and cools down with a half-life [s] until the log ends."""
    record = pull("cooling.csv")
    time = np.arange(0.0, lasts, 0.5)
    warmed = 20.0 * np.clip((time - START_S) / 8.0, 0.0, 1.0)
    warmed = np.where(time > PULL_ENDS, 20.0 * 0.5 ** ((time - PULL_ENDS) / half_life), warmed)
    trace = Trace("charge_air_temperature", "degC", time, 30.0 + warmed)
    log = replace(record.log, duration_s=lasts, traces={**record.log.traces, "charge_air_temperature": trace})
    return replace(record, log=log, traces={**record.traces, "charge_air_temperature": trace})


def test_time_is_that_of_the_exponential(pull) -> None:
    """From 20 K to 2.5 K over the start takes three half-lives."""
    found = cooling_of([cooling_pull(pull, half_life=20.0, lasts=120.0)], within=2.5)
    assert found.not_back == 0
    assert found.seconds == (pytest.approx(60.0, abs=0.6),)


def test_a_log_that_ends_too_early_is_counted_as_not_back(pull) -> None:
    """Nobody knows when it would have cooled down."""
    found = cooling_of([cooling_pull(pull, half_life=60.0, lasts=60.0)], within=3.0)
    assert (found.seconds, found.not_back) == ((), 1)


def test_a_pull_without_the_channel_is_passed_over(pull) -> None:
    """No charge temperature, no answer, no complaint."""
    found = cooling_of([pull("bare.csv", without=("intake_air_temperature",))], within=3.0)
    assert (found.seconds, found.not_back) == ((), 0)
