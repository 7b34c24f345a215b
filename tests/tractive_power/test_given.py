"""What the sheets say is taken with its doubt; what they leave out is usual with a wide one, or asked for."""

import pytest

from pullproof.car import Car
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer
from pullproof.tractive_power.given import air_density, car_numbers

RATIO = 5.7918


def numbers(**sheet):
    return {number.name: number for number in car_numbers(Car("c", **sheet), 3, RATIO)}


def test_a_car_without_mass_is_asked_for_it():
    """No mass, no power: the sentence names the key to add."""
    with pytest.raises(CannotAnswer, match="mass_kg"):
        numbers(drag_area_m2=0.7)


def test_what_is_left_out_is_usual_and_doubtful():
    """Drag area and rolling resistance of a usual car are 4 and 2 times as doubtful as typed ones, and say so."""
    typed = numbers(mass_kg=1510.0, drag_area_m2=0.70, rolling_resistance=0.012)
    usual = numbers(mass_kg=1510.0)
    for name in ("drag area", "rolling resistance"):
        assert usual[name].doubt > 2 * typed[name].doubt
        assert "without source" in usual[name].origin
    assert 0.55 < usual["drag area"].value < 0.8


def test_a_truck_has_no_usual_drag_area():
    """Above 3.5 t no drag area is usual, so it is asked for."""
    with pytest.raises(CannotAnswer, match="drag_area_m2"):
        numbers(mass_kg=12_000.0)


def test_rotating_parts_by_gillespie_where_the_sheet_is_silent():
    """1.04 + 0.0025 N^2 is 1.124 at 5.79, known within 30 % of what it adds: 3.3 % of the effective mass."""
    factor = numbers(mass_kg=1510.0)["rotating mass factor"]
    assert factor.value == pytest.approx(1.1239, abs=1e-4)
    assert 1.96 * factor.doubt / factor.value == pytest.approx(0.033, abs=5e-4)
    stated = numbers(mass_kg=1510.0, gear_ratios=(3.4, 2.1, 1.5), rotating_mass_factor=(1.4, 1.2, 1.09))
    assert stated["rotating mass factor"].value == 1.09


def test_an_owner_who_weighed_is_believed():
    """A stated half width of 95 % counts in place of the usual doubt."""
    assert numbers(mass_kg=1510.0, doubts={"mass_kg": 9.8})["mass"].doubt == pytest.approx(5.0)


def test_air_that_nobody_measured():
    """Known air is dense to half a per cent, unknown air to several, and the conditions file is asked for."""
    known = air_density(Air(15.0, 101.325, 50.0))
    assert known.value == pytest.approx(1.2211, abs=1e-3)  # moist air at 15 degC and 50 %: 0.3 % below 1.225 dry
    assert 0.002 < known.doubt / known.value < 0.006
    unknown = air_density(Air())
    assert unknown.doubt / unknown.value > 0.02
    assert "temperature and pressure" in unknown.origin
