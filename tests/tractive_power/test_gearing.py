"""Engine turns become road by the sheet, or by the log's own road speed; where neither can, the sentence says so."""

import numpy as np
import pytest

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull
from pullproof.tractive_power.gearing import gearing_of
from pullproof.tractive_power.motion import motion_of

SHEET = Car("c", mass_kg=1510.0, tyre="235/35R19", gear_ratios=(3.36, 2.09, 1.47), final_drive=3.94)
TIME = np.arange(10.0, 16.0, 0.1)
ENGINE = Trace("engine_speed", "rpm", TIME, 2500.0 + 600.0 * (TIME - 10.0))


def pull(gear=3, rpm_per_kmh=None):
    return Pull("a.csv", 10.0, 16.0, gear, 2500.0, 6100.0, used=True, rpm_per_kmh=rpm_per_kmh)


def road(kmh_per_1000_rpm):
    return {
        "engine_speed": ENGINE,
        "vehicle_speed": Trace("vehicle_speed", "km/h", TIME, ENGINE.values * kmh_per_1000_rpm / 1e3),
    }


def test_the_sheet_gives_the_speed():
    """235/35R19 in a gear of 1.47 with 3.94 behind runs 20.446 km/h at 1000 rpm, by size arithmetic and 3.05 D."""
    gearing = gearing_of(pull(), {"engine_speed": ENGINE}, SHEET)
    assert gearing.metres_per_turn * 1000 * 60 / 1000 == pytest.approx(20.446, abs=6e-4)
    assert gearing.doubts == ()


def test_the_log_gives_the_speed_where_the_sheet_is_silent():
    """With road speed logged, or known to keep step with the engine, no ratio has to be typed."""
    bare = Car("c", mass_kg=1510.0)
    assert gearing_of(pull(None), road(20.0), bare).metres_per_turn == pytest.approx(20.0 / 60)
    assert gearing_of(pull(None, 50.0), {"engine_speed": ENGINE}, bare).metres_per_turn == pytest.approx(20.0 / 60)
    # The overall ratio is needed for the rotating parts: usual tyres of 1.94 m on 20 km/h at 1000 rpm make it 5.8.
    assert gearing_of(pull(None), road(20.0), bare).overall_ratio == pytest.approx(5.8, rel=0.02)


def test_a_sheet_that_the_log_contradicts_is_doubted():
    """A road speed 5 % off the sheet's gearing is told, with both figures; 1 % is not."""
    assert gearing_of(pull(), road(20.446 * 1.01), SHEET).doubts == ()
    (doubt,) = gearing_of(pull(), road(20.446 * 1.05), SHEET).doubts
    assert "20.4 km/h" in doubt
    assert "21.5 km/h" in doubt


@pytest.mark.parametrize(
    ("car", "gear", "words"),
    [
        (Car("c", tyre="235/35R19"), 3, "lacks gear_ratios, final_drive"),
        (SHEET, None, "gear of the pull is not known"),
        (Car("c", tyre="19 inch", gear_ratios=(3.0,), final_drive=4.0), 1, "is not a tyre size"),
    ],
)
def test_what_is_missing_is_named(car, gear, words):
    """Without road speed in the log, the sentence names the keys that the sheet lacks, or the tyre that is no size."""
    with pytest.raises(CannotAnswer, match=words):
        gearing_of(pull(gear), {"engine_speed": ENGINE}, car)


def test_a_dynamometer_is_no_road():
    """Revs without road speed are those of a dynamometer, whose roller inertia nobody told us: refused."""
    with pytest.raises(CannotAnswer, match="this is a dynamometer"):
        gearing_of(pull(), road(0.0), SHEET)


def test_a_road_speed_that_mostly_stands_at_zero_tells_no_gear():
    """A car that rolls off only at the end of a rise in engine speed gives a reason, not a division by zero."""
    late = np.where(TIME > 15.0, 20.0, 0.0)
    traces = {"engine_speed": ENGINE, "vehicle_speed": Trace("vehicle_speed", "km/h", TIME, late)}
    with pytest.raises(CannotAnswer):
        gearing_of(pull(None), traces, Car("c", mass_kg=1510.0))


def test_too_few_samples_are_counted():
    """Four samples of engine speed make no slope; the sentence counts them and advises a faster log."""
    few = {"engine_speed": Trace("engine_speed", "rpm", TIME[::15], ENGINE.values[::15])}
    with pytest.raises(CannotAnswer, match=r"sampled 4 times between 10\.0 and 16\.0 s.*5 Hz"):
        motion_of(pull(), few, SHEET)
