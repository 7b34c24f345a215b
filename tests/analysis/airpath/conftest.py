"""Paths, cars and pulls that the tests of the air path share. All invented."""

import numpy as np
import pytest

from pullproof.analysis.airpath import load_path
from pullproof.car import Car, Engine
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air
from pullproof.pulls import Pull

CHANNELS = (
    "engine_speed",
    "air_mass_flow",
    "charge_pressure",
    "manifold_pressure",
    "charge_air_temperature",
    "intake_air_temperature",
    "compressor_outlet_temperature",
    "wastegate_duty",
)

AIR = Air(20.0, 99.0, 50.0)


@pytest.fixture
def write_path(tmp_path):
    """Write a path file from its elements and read it."""

    def write(*elements, head="", name="path.toml"):
        file = tmp_path / name
        body = "\n".join(f"[[element]]\n{element}" for element in elements)
        file.write_text(f"{head}\n{body}\n", encoding="utf-8")
        return load_path(file)

    return write


@pytest.fixture
def car():
    """Two litres, 6800 rpm, turbocharged."""
    return Car("blue hatch", engine=Engine(displacement_l=2.0, redline_rpm=6800.0, fuel="petrol", aspiration="turbo"))


@pytest.fixture
def record():
    """A pull of which only the named channels were logged: functions of engine speed over 7 s from 2500 to 6500 rpm."""

    def make(log="a.csv", day="saturday", air=AIR, used=True, **channels):
        time = np.arange(0.0, 7.0, 0.05)
        speed = 2500.0 + 4000.0 * time / 7.0
        traces = {"engine_speed": Trace("engine_speed", "rpm", time, speed)}
        for name, value in channels.items():
            values = value(speed) if callable(value) else np.full(speed.shape, float(value))
            traces[name] = Trace(name, "", time, values)
        pull = Pull(log, 0.0, float(time[-1]), 3, float(speed[0]), float(speed[-1]), used)
        return PullRecord(pull, None, day, air, None, traces, {})

    return make


@pytest.fixture
def record_of_drive():
    """Records of the pulls of a simulated drive, with the signals that a good logger has."""

    def make(drive, day):
        signals, weather, found = drive.signals, drive.weather, []
        for mark in drive.pulls:
            inside = (signals["time"] >= mark.start) & (signals["time"] <= mark.end)
            speed = signals["engine_speed"][inside]
            traces = {name: Trace(name, "", signals["time"], signals[name]) for name in CHANNELS}
            pull = Pull(f"{day}.csv", mark.start, mark.end, 3, float(speed[0]), float(speed[-1]), used=True)
            air = Air(weather.temperature_c, weather.pressure_kpa, weather.humidity_pct)
            found.append(PullRecord(pull, None, day, air, None, traces, {}))
        return found

    return make
