import numpy as np
import pytest

from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull, Idle
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.weather import Weather
from pullproof.physics.tyre import rolling_radius

MILD = Weather(15.0, 100.0)


def test_cruise_holds_its_speed() -> None:
    """The wanted road speed is reached and held within 2 km/h."""
    drive = simulate_drive(DemoCar(), MILD, [Cruise(80.0, 10.0)], None)
    assert drive.signals["vehicle_speed"][-300:] == pytest.approx(80.0, abs=2.0)


def test_idle_brings_the_car_to_a_stop() -> None:
    """After idling the car stands and the engine turns at idle speed."""
    drive = simulate_drive(DemoCar(), MILD, [Cruise(40.0, 2.0), Idle(6.0)], None)
    assert drive.signals["vehicle_speed"][-1] == pytest.approx(0.0, abs=0.1)
    assert drive.signals["engine_speed"][-1] == pytest.approx(DemoCar().engine.idle, abs=20.0)


def test_pull_stays_in_one_gear_from_start_to_end() -> None:
    """Engine speed over road speed is the ratio of the gear through the whole pull, and both ends are as asked."""
    car = DemoCar()
    drive = simulate_drive(car, MILD, [Cruise(60.0, 3.0), FullPull(2500.0, 6400.0, gear=3)], None)
    (pull,) = drive.pulls
    inside = (drive.signals["time"] > pull.start) & (drive.signals["time"] <= pull.end)
    speed, road = drive.signals["engine_speed"][inside], drive.signals["vehicle_speed"][inside] / 3.6
    np.testing.assert_allclose(speed / road, car.chassis.rpm_per_speed(3), rtol=1e-9)
    assert speed[0] == pytest.approx(2500.0, abs=150.0)
    assert speed[-1] == pytest.approx(6400.0, abs=40.0)
    assert np.all(np.diff(speed[20:]) > 0.0)


def test_tyre_rolls_as_its_size_says() -> None:
    """The rolling circumference agrees with that of the size on the sheet, so that speed and revs give the gear."""
    chassis = DemoCar().chassis
    assert chassis.rolling_circumference == pytest.approx(2.0 * np.pi * rolling_radius(chassis.tyre), rel=0.005)
