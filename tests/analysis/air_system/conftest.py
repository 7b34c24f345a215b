"""Cars, pulls and maps that the tests of the air system share. All invented."""

from dataclasses import replace

import numpy as np
import pytest

from pullproof.car import Car, Engine
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import Air, Conditions
from pullproof.demo.air_side import AirSide
from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull, Idle
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.weather import Weather
from pullproof.pulls import Pull
from pullproof.reading.log import Log

SECONDS, FIRST, LAST = 7.0, 2500.0, 6500.0
AIR = Air(20.0, 99.0, 50.0)

LOGGED = (
    "engine_speed",
    "pedal_position",
    "throttle_position",
    "charge_pressure",
    "charge_pressure_target",
    "manifold_pressure",
    "wastegate_duty",
    "air_mass_flow",
    "charge_air_temperature",
    "compressor_outlet_temperature",
    "lambda",
    "ignition_timing",
    "knock_retard",
    "turbo_speed",
)


@pytest.fixture
def car():
    """Two litres, 6800 rpm, turbocharged, on petrol."""
    return Car("blue hatch", engine=Engine(displacement_l=2.0, redline_rpm=6800.0, fuel="petrol", aspiration="turbo"))


@pytest.fixture
def record():
    """A pull of which only the named channels were logged: functions of engine speed over 7 s from 2500 to 6500 rpm."""

    def make(log="a.csv", day="saturday", air=AIR, rate=20.0, noise=0.0, seed=0, **channels):
        rng = np.random.default_rng(seed)
        time = np.arange(0.0, SECONDS + 0.5 / rate, 1.0 / rate)
        speed = FIRST + (LAST - FIRST) * time / SECONDS
        traces = {"engine_speed": Trace("engine_speed", "rpm", time, speed)}
        for name, value in channels.items():
            values = value(speed) if callable(value) else np.full(speed.shape, float(value))
            traces[name] = Trace(name, "", time, values * (1.0 + noise * rng.standard_normal(time.size)))
        pull = Pull(log, 0.0, SECONDS, 3, FIRST, LAST, used=True)
        whole = Log(log, time.size, SECONDS, "utf-8", ",", ".", (), traces)
        if day is None:
            return PullRecord(pull, whole, log, air, None, traces, {})
        return record_pull(whole, pull, Car("invented"), Conditions(log, day=day, air=air))

    return make


@pytest.fixture
def leaking(monkeypatch):
    """Give the simulated car a hole in its charge pipe; `diameter` in m, 0 for none."""
    drawn = AirSide._draw

    def hole(diameter):
        effective = 0.7 * np.pi / 4.0 * diameter**2

        def draw(self, dt, engine_speed, throttle):
            out, slope = drawn(self, dt, engine_speed, throttle)
            if self.charge_pressure < self._ambient_pressure / 0.528:
                return out, slope
            lost = 0.0404 * effective / np.sqrt(self.charge_temperature)
            return out + lost * self.charge_pressure, slope + lost

        monkeypatch.setattr(AirSide, "_draw", draw)
        return effective

    return hole


@pytest.fixture
def outing():
    """Drive the simulated car on a day and record its pulls; a meter before the compressor also sees what leaks."""

    def drive(file, day, seed, *, car=None, weather=None, pulls=3, lost=0.0, without=()):
        weather = weather or Weather(18.0, 99.5, 50.0, 0.0)
        script = [Idle(2.0), Cruise(60.0, 4.0)]
        for _ in range(pulls):
            script += [Cruise(70.0, 6.0), FullPull()]
        driven = simulate_drive(car or DemoCar(), weather, script, np.random.default_rng(seed))
        signals = dict(driven.signals)
        leak = 0.0404 * lost * signals["charge_pressure"] / np.sqrt(signals["charge_air_temperature"] + 273.15)
        signals["air_mass_flow"] = signals["air_mass_flow"] + 1e6 * leak
        traces = {n: Trace(n, "", signals["time"], signals[n]) for n in LOGGED if n not in without}
        traces["Outlet"] = Trace("Outlet", "kPa", signals["time"], signals["compressor_outlet_pressure"])
        log = Log(file, len(signals["time"]), float(signals["time"][-1]), "utf-8", ",", ".", (), traces)
        air = Air(weather.temperature_c, weather.pressure_kpa, weather.humidity_pct)
        records = []
        for mark in driven.pulls:
            inside = (signals["time"] >= mark.start) & (signals["time"] <= mark.end)
            speed = signals["engine_speed"][inside]
            pull = Pull(file, mark.start, mark.end, 3, float(speed[0]), float(speed[-1]), used=True)
            records.append(record_pull(log, pull, Car("invented"), Conditions(file, day=day, air=air)))
        return records

    return drive


@pytest.fixture
def without():
    """A record that lacks some channels."""

    def strip(record, *channels):
        return replace(record, traces={n: t for n, t in record.traces.items() if n not in channels})

    return strip
