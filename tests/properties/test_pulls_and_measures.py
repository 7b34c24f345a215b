"""What must hold of pulls and measures for any log: order, limits, and no dependence on clock, scale or unit."""

import dataclasses
from collections.abc import Callable
from functools import cache
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.computed_channels import record_pull
from pullproof.conditions import Air, Conditions
from pullproof.errors import CannotAnswer
from pullproof.measures import MEASURES, read_measure
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log
from pullproof.reading.log import Log

CALM = settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


def log_of(traces: dict[str, Trace], restarts: tuple[float, ...] = ()) -> Log:
    rows = max((trace.time.size for trace in traces.values()), default=0)
    return Log("any.csv", rows, 60.0, "utf-8", ",", ".", (), traces, restarts)


@st.composite
def wild_logs(draw: st.DrawFn) -> Log:
    """Random walks, noise, steps, blanks and constants in place of the channels that the search looks at."""
    rng = np.random.default_rng(draw(st.integers(0, 2**32 - 1)))
    traces = {}
    ranges = {
        "engine_speed": 8000.0, "vehicle_speed": 250.0, "pedal_position": 100.0, "throttle_position": 100.0,
        "gear": 6.0, "engine_load": 100.0, "manifold_pressure": 300.0,
    }  # fmt: skip
    for name, top in ranges.items():
        kind = draw(st.sampled_from(["missing", "walk", "noise", "steps", "constant", "saw"]))
        count = draw(st.sampled_from([1, 2, 7, 60, 600]))
        time = np.sort(rng.uniform(0, 60, count)) if draw(st.booleans()) else np.linspace(0, 60, count)
        phase = np.arange(count) / max(count, 1)
        values = {
            "walk": np.abs(np.cumsum(rng.normal(0, top / 30, count))) % top,
            "noise": rng.uniform(0, top, count),
            "steps": np.where(rng.random(count).cumsum() % 5 > 2.5, top, 0.0),
            "constant": np.full(count, draw(st.sampled_from([0.0, top]))),
            "saw": top * ((phase * 9) % 1.0),
            "missing": np.zeros(count),
        }[kind]
        if draw(st.booleans()):
            values = np.where(rng.random(count) < 0.3, np.nan, values)
        if kind != "missing":
            traces[name] = Trace(name, "", time, values)
    return log_of(traces, tuple(draw(st.lists(st.floats(1, 59), max_size=2).map(sorted))))


@CALM
@given(wild_logs())
def test_any_log_gives_sound_pulls_or_a_sentence(log: Log) -> None:
    """Pulls are in order, apart, inside the log, refused exactly when they carry a reason; nothing crashes."""
    try:
        pulls = find_pulls(log)
    except CannotAnswer:
        engine = log.traces.get("engine_speed")
        assert engine is None or not np.isfinite(engine.values).any()
        return
    for pull in pulls:
        assert 0.0 <= pull.start_s < pull.end_s <= 60.0
        assert pull.used == (pull.reason is None)
        assert 0.0 < pull.rpm_start < pull.rpm_end
        assert not any(pull.start_s < restart < pull.end_s for restart in log.restarts)
    for before, after in pairwise(pulls):
        assert before.end_s <= after.start_s


@cache
def drive_log() -> tuple[Log, tuple[Pull, ...]]:
    """Idle, then two runs through the revs at full pedal; made once."""
    time = np.arange(0, 40, 0.05)
    rpm = np.interp(
        time, [0, 2, 5, 10, 16, 18, 22, 28, 30, 40], [900, 900, 2500, 2500, 6300, 2600, 2600, 5900, 2500, 900]
    )
    pedal = np.where((time >= 10) & (time <= 16) | (time >= 22) & (time <= 28), 100.0, 15.0)
    traces = {
        "engine_speed": Trace("engine_speed", "rpm", time, np.round(rpm)),
        "vehicle_speed": Trace("vehicle_speed", "km/h", time, np.where(time < 2, 0.0, rpm / 47.6)),
        "pedal_position": Trace("pedal_position", "%", time, pedal),
    }
    log = log_of(traces)
    pulls = find_pulls(log)
    assert [pull.used for pull in pulls] == [True, True]
    return log, pulls


def changed(log: Log, **functions: Callable[[Trace], Trace]) -> Log:
    keep = lambda trace: trace  # noqa: E731
    return dataclasses.replace(
        log, traces={name: functions.get(name, keep)(trace) for name, trace in log.traces.items()}
    )


@CALM
@given(st.floats(0.0, 5000.0))
def test_the_clock_may_start_anywhere(offset: float) -> None:
    """The same log, later on the clock, has the same pulls, later."""
    log, pulls = drive_log()
    later = {name: dataclasses.replace(trace, time=trace.time + offset) for name, trace in log.traces.items()}
    moved = find_pulls(dataclasses.replace(log, traces=later))
    assert [pull.used for pull in moved] == [True, True]
    for old, new in zip(pulls, moved, strict=True):
        assert new.start_s - offset == pytest.approx(old.start_s, abs=0.051)
        assert new.end_s - offset == pytest.approx(old.end_s, abs=0.051)


@CALM
@given(st.floats(0.8, 1.25), st.floats(0.0, 0.4))
def test_a_speedometer_may_be_wrong_and_late(scale: float, delay: float) -> None:
    """A road speed that is wrong by a fixed share, and lags, changes neither pulls nor their ends."""
    log, pulls = drive_log()
    wrong = changed(
        log,
        vehicle_speed=lambda trace: dataclasses.replace(
            trace, values=scale * np.interp(trace.time - delay, trace.time, trace.values)
        ),
    )
    assert [(pull.used, pull.start_s, pull.end_s) for pull in find_pulls(wrong)] == [
        (pull.used, pull.start_s, pull.end_s) for pull in pulls
    ]


@CALM
@given(st.floats(0.3, 1.6))
def test_an_engine_may_turn_slower_or_faster(scale: float) -> None:
    """A truck's engine, or a small one: thresholds are shares of engine speed, so all stays as it is."""
    log, pulls = drive_log()
    other = changed(log, engine_speed=lambda trace: dataclasses.replace(trace, values=scale * trace.values))
    assert [pull.used for pull in find_pulls(other)] == [True, True]
    for old, new in zip(pulls, find_pulls(other), strict=True):
        assert new.start_s == pytest.approx(old.start_s, abs=0.051)
        assert new.end_s == pytest.approx(old.end_s, abs=0.051)


def write_log(path: Path, columns: dict[str, np.ndarray]) -> Path:
    rows = [",".join(columns)]
    rows += [",".join(f"{value:.9g}" for value in row) for row in zip(*columns.values(), strict=True)]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def test_the_unit_of_the_file_does_not_matter(analytic, tmp_path: Path) -> None:
    """The same pull, written in kPa, km/h, degC and g/s or in psi, mph, degF and lb/min, reads alike.

    Source of the factors: NIST SP 811 (1 psi = 6.894 757 kPa, 1 lb = 453.592 37 g, 1 mi = 1.609 344 km).
    """
    time = np.arange(0.0, 22.0, 0.05)
    rpm = np.where(time < 1.0, 0.0, analytic.rpm(time))
    truth = {name: function(analytic.rpm(time)) for name, function in analytic.channels.items()}
    charge = np.where(time < 1.0, analytic.ambient, truth["charge_pressure"])
    manifold = np.where(time < 1.0, analytic.ambient, truth["manifold_pressure"])
    pedal = np.where((time >= analytic.start) & (time <= analytic.end), 100.0, 12.0)
    rest = {
        "Wastegate duty (%)": truth["wastegate_duty"], "Ignition timing (deg)": truth["ignition_timing"],
        "Knock retard (deg)": truth["knock_retard"], "Lambda": truth["lambda"],
    }  # fmt: skip
    metric = {
        "Time (s)": time, "Engine speed (rpm)": rpm, "Vehicle speed (km/h)": rpm / 47.6, "Pedal position (%)": pedal,
        "Charge pressure (kPa)": charge, "Manifold pressure (kPa)": manifold,
        "Air mass flow (g/s)": truth["air_mass_flow"], "Intake air temperature (C)": truth["intake_air_temperature"],
    }  # fmt: skip
    other = {
        "Time (ms)": 1e3 * time, "Engine speed (rpm)": rpm, "Vehicle speed (mph)": rpm / 47.6 / 1.609344,
        "Pedal position (%)": pedal, "Charge pressure (psi)": charge / 6.894757,
        "Manifold pressure (psi)": manifold / 6.894757,
        "Air mass flow (lb/min)": truth["air_mass_flow"] * 60 / 453.59237,
        "Intake air temperature (F)": 32 + 1.8 * truth["intake_air_temperature"],
    }  # fmt: skip
    said = Conditions("log.csv", air=Air(pressure_kpa=analytic.ambient))
    measures = [measure for measure in MEASURES if not measure.startswith("wheel_power")]
    readings = []
    for name, columns in (("metric", metric), ("other", other)):
        log = read_log(write_log(tmp_path / f"{name}.csv", {**columns, **rest}))
        (pull,) = find_pulls(log)
        record = record_pull(log, pull, Car("invented"), said)
        readings.append({measure: read_measure(measure, record, (4000.0, 6500.0)).value for measure in measures})
    assert readings[0] == pytest.approx(readings[1], rel=1e-5, abs=1e-6)
