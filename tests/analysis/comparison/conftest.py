"""Invented pulls whose every reading is known: flat duty and boost, steadily rising engine speed, no noise."""

from dataclasses import replace

import numpy as np
import pytest

from pullproof.car import Boost, Car, Engine
from pullproof.channels import CHANNELS, Trace
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air
from pullproof.pulls import Pull
from pullproof.reading.log import Log

START_S, PULL_S, LOG_S = 3.0, 8.0, 14.0
MILD = Air(temperature_c=11.0, pressure_kpa=99.4, relative_humidity_pct=55.0)

CHANNEL_VALUES = {
    "vehicle_speed": None,
    "pedal_position": 100.0,
    "throttle_position": 99.0,
    "wastegate_duty": 95.0,
    "boost": 140.0,
    "air_mass_flow": 230.0,
    "wheel_power": 150.0,
    "intake_air_temperature": 35.0,
    "ignition_timing": 8.0,
    "knock_retard": 0.0,
    "lambda": 0.84,
    "coolant_temperature": 90.0,
    "oil_temperature": 100.0,
}


def make_pull(
    file="before-1.csv",
    day="saturday",
    *,
    air=MILD,
    direction="out",
    gear=3,
    rpm=(1800.0, 6600.0),
    rate_hz=10.0,
    reason=None,
    without=(),
    **values,
):
    """One pull; a channel named in `values` is constant at that value, one in `without` was not logged."""
    time = np.arange(0.0, LOG_S, 1.0 / rate_hz)
    engine = np.interp(time, [START_S, START_S + PULL_S], rpm)
    columns = {
        name: np.full(time.size, value) for name, value in (CHANNEL_VALUES | values).items() if value is not None
    }
    columns |= {"engine_speed": engine, "vehicle_speed": engine / 60.0}
    if "boost" in columns:
        ambient = air.pressure_kpa or 99.4
        columns |= {"charge_pressure": ambient + columns["boost"], "charge_pressure_target": np.full(time.size, 240.0)}
    traces = {
        name: Trace(name, CHANNELS[name].unit if name in CHANNELS else "kPa", time, column)
        for name, column in columns.items()
        if name not in without
    }
    log = Log(file, time.size, LOG_S, "utf-8", ",", ".", (), traces)
    ratio = None if "vehicle_speed" in without else 60.0
    pull = Pull(file, START_S, START_S + PULL_S, gear, *rpm, used=reason is None, reason=reason, rpm_per_kmh=ratio)
    return PullRecord(pull=pull, log=log, day=day, air=air, direction=direction, traces=traces, left_out={})


@pytest.fixture(scope="session")
def pull():
    """Make one pull."""
    return make_pull


@pytest.fixture(scope="session")
def pulls():
    """Make several pulls of one day, one for each value of wastegate duty."""

    def make(side, day, duties, **options):
        return [
            make_pull(f"{side}-{day}-{number}.csv", day, wastegate_duty=duty, **options)
            for number, duty in enumerate(duties, 1)
        ]

    return make


@pytest.fixture(scope="session")
def car():
    """A turbocharged car with a redline."""
    return Car("blue hatch", engine=Engine(redline_rpm=6800.0, aspiration="turbo"), boost=Boost(100.0))


@pytest.fixture(scope="session")
def in_air():
    """The mild air, with something else about it."""
    return lambda **changes: replace(MILD, **changes)


@pytest.fixture(scope="session")
def measure():
    """Find the difference of one measure in a comparison."""
    return lambda comparison, name: next(found for found in comparison.measures if found.id == name)


@pytest.fixture(scope="session")
def check():
    """Find one fairness check of a comparison."""
    return lambda comparison, name: next(found for found in comparison.checks if found.id == name)
