"""A pull's record holds new samples only, the air with its origin, and boost that undoes what the reader added."""

import dataclasses
import datetime
from types import MappingProxyType

import numpy as np
import pytest

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import Air, Conditions
from pullproof.pulls import Pull
from pullproof.reading.log import Log

CAR = Car("invented")
PULL = Pull("a.csv", 20.0, 25.0, 3, 2500.0, 6000.0, used=True)
TIME = np.arange(0.0, 40.0, 0.1)
NOBODY_SAYS = Conditions("a.csv")


def log(restarts: tuple[float, ...] = (), gauge: dict[str, float] | None = None, **channels: np.ndarray) -> Log:
    rpm = np.interp(TIME, [0, 5, 6, 20, 25, 26], [0, 0, 900, 2500, 6000, 3000])
    traces = {name: Trace(name, "", TIME, values) for name, values in {"engine_speed": rpm, **channels}.items()}
    return Log(
        "a.csv", TIME.size, 40.0, "utf-8", ",", ".", (), traces, restarts, (), MappingProxyType(gauge or {})
    )  # fmt: skip


def record(it: Log, said: Conditions = NOBODY_SAYS) -> PullRecord:
    return record_pull(it, PULL, CAR, said)


def test_traces_reach_a_few_seconds_to_either_side() -> None:
    """Some seconds before and after the pull are kept, and not the whole log."""
    time = record(log()).traces["engine_speed"].time
    assert 10.0 < time[0] < 18.0
    assert 26.0 < time[-1] < 35.0


def test_nothing_is_kept_from_beyond_a_restart() -> None:
    """A restart three seconds before the pull ends the record there."""
    assert record(log(restarts=(17.0,))).traces["engine_speed"].time[0] >= 17.0
    assert record(log(restarts=(26.0,))).traces["engine_speed"].time[-1] <= 26.0


def test_held_rows_are_gone_and_single_precision_too() -> None:
    """What is kept are new samples in double precision."""
    held = np.repeat(100.0 + np.arange(80.0), 5).astype(np.float32)
    trace = record(log(charge_pressure=held)).traces["charge_pressure"]
    assert trace.values.dtype == np.float64
    assert np.median(np.diff(trace.time)) == pytest.approx(0.5)


def test_the_users_word_on_the_air_comes_first() -> None:
    """Conditions file before the log's own channels, each with its origin; what nobody knows stays unknown."""
    it = log(ambient_pressure=np.full(TIME.size, 98.0), ambient_temperature=np.full(TIME.size, 21.0))
    said = Conditions(
        "a.csv", air=Air(temperature_c=11.0, origin=MappingProxyType({"temperature_c": "conditions file"}))
    )
    air = record(it, said).air
    assert (air.temperature_c, air.pressure_kpa, air.relative_humidity_pct) == (11.0, 98.0, None)
    assert air.origin["temperature_c"] == "conditions file"
    assert air.origin["pressure_kpa"] == "log channel ambient_pressure"


def test_boost_is_pressure_above_the_ambient_of_the_day() -> None:
    """Absolute charge pressure minus the ambient pressure that is known, and no doubt on it."""
    it = log(charge_pressure=np.full(TIME.size, 220.0), manifold_pressure=np.full(TIME.size, 210.0))
    pulled = record(it, Conditions("a.csv", air=Air(pressure_kpa=99.4)))
    np.testing.assert_allclose(pulled.traces["boost"].values, 120.6)
    assert pulled.traces["boost"].unit == "kPa"
    assert "boost" not in pulled.doubts


def test_manifold_pressure_serves_where_charge_pressure_is_missing() -> None:
    """Boost comes from the manifold where only that is logged."""
    it = log(manifold_pressure=np.full(TIME.size, 210.0))
    np.testing.assert_allclose(
        record(it, Conditions("a.csv", air=Air(pressure_kpa=99.0))).traces["boost"].values, 111.0
    )


def test_a_gauge_reading_is_the_boost_whatever_the_weather() -> None:
    """What the reader added to a gauge channel is taken off again, exactly, though the day's air was another."""
    it = log(gauge={"charge_pressure": 101.325}, charge_pressure=np.full(TIME.size, 15.3 * 6.894757 + 101.325))
    pulled = record(it, Conditions("a.csv", air=Air(pressure_kpa=95.0)))
    np.testing.assert_allclose(pulled.traces["boost"].values, 15.3 * 6.894757, rtol=1e-12)
    assert "boost" not in pulled.doubts


def test_pressure_with_the_engine_off_stands_in_for_the_barometer() -> None:
    """With the ignition on and the engine off the sensor reads the barometer; that is said as a doubt."""
    pressure = np.where(TIME < 5.0, 97.2, 210.0)
    pulled = record(log(charge_pressure=pressure))
    np.testing.assert_allclose(pulled.traces["boost"].values, 210.0 - 97.2)
    assert "engine off" in pulled.doubts["boost"]


def test_without_any_ambient_pressure_the_standard_one_is_assumed_and_said() -> None:
    """Nobody knows the barometer and the engine never stood: 101.3 kPa, with the doubt."""
    it = log(charge_pressure=np.full(TIME.size, 210.0))
    pulled = record(it)  # the sensor reads 210 kPa with the engine off: no barometer
    np.testing.assert_allclose(pulled.traces["boost"].values, 210.0 - 101.325)
    assert "assumed" in pulled.doubts["boost"]
    assert pulled.air.pressure_kpa is None


def test_a_log_without_pressure_has_no_boost_and_says_why() -> None:
    """The channel is named as left out, with the reason."""
    pulled = record(log())
    assert "boost" not in pulled.traces
    assert "pressure" in pulled.left_out["boost"]


def test_the_worst_cylinder_counts() -> None:
    """Knock retard is the largest of the cylinders at each instant, and a logged overall channel is left alone."""
    cylinders = {f"knock_retard_{n}": np.full(TIME.size, float(n)) for n in (1, 2, 3, 4)}
    cylinders["knock_retard_2"] = np.where(TIME > 22, 6.5, 0.0)
    worst = record(log(**cylinders)).traces["knock_retard"]
    np.testing.assert_allclose(worst.values[worst.time < 21.9], 4.0)
    np.testing.assert_allclose(worst.values[worst.time > 22.1], 6.5)
    logged = record(log(knock_retard=np.full(TIME.size, 1.0), **cylinders))
    np.testing.assert_allclose(logged.traces["knock_retard"].values, 1.0)
    assert "knock_retard" in record(log()).left_out


def test_wheel_power_is_left_out_with_the_reason_where_the_sheet_says_too_little() -> None:
    """What the sheet cannot give is named; what it can is computed."""
    assert "car sheet" in record(log()).left_out["wheel_power"]
    sheet = dataclasses.replace(
        CAR, mass_kg=1510.0, tyre="235/35R19", gear_ratios=(3.36, 2.09, 1.47), final_drive=3.94, drag_area_m2=0.7
    )
    power = record_pull(log(), PULL, sheet, NOBODY_SAYS).traces["wheel_power"]
    # 700 rpm/s in third: 1510 kg at 14.3 km/h per second. Newton, without road load, as a floor.
    assert power.unit == "kW"
    assert np.median(power.values) > 1.510 * (14.3 / 3.6) * (80.0 / 3.6)


@pytest.mark.parametrize(
    ("said", "day"),
    [
        (Conditions("a.csv", day="saturday", when=datetime.datetime(2026, 10, 3, 16, 20)), "saturday"),  # noqa: DTZ001
        (Conditions("a.csv", when=datetime.datetime(2026, 10, 3, 16, 20)), "2026-10-03"),  # noqa: DTZ001
        (NOBODY_SAYS, "a.csv"),
    ],
)
def test_the_test_day(said: Conditions, day: str) -> None:
    """The label, else the date, else the file stands for the day; only the last is in doubt."""
    pulled = record(log(), said)
    assert pulled.day == day
    assert ("day" in pulled.doubts) == (day == "a.csv")


def test_direction_is_passed_on() -> None:
    """Out or back, as the user says."""
    assert record(log(), Conditions("a.csv", direction="back")).direction == "back"
