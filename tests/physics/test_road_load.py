"""Road load: sums, symmetries and closed forms."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from pullproof.physics import road_load

masses, forces = st.floats(600.0, 3000.0), st.floats(40.0, 400.0)
linears, quadratics = st.floats(0.0, 8.0), st.floats(0.0, 1.5)


@given(masses, forces, linears, quadratics, st.floats(15.0, 60.0), st.floats(0.0, 1.0))
def test_coast_down_time_is_the_integral(mass, constant, linear, quadratic, start, share):
    """The closed form agrees with numerical integration in every case of the three coefficients."""
    end = share * start
    time = road_load.coast_down_time(start, end, mass, constant, linear, quadratic)
    by_quadrature, _ = quad(lambda v: mass / (constant + linear * v + quadratic * v * v), end, start, epsabs=1e-12)
    assert time == pytest.approx(by_quadrature, rel=1e-8, abs=1e-9)


@given(masses, forces, linears, quadratics, st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_coast_down_times_add_up(mass, constant, linear, quadratic, one, other):
    """From fast to slow by way of any speed between takes the same time."""
    low, high = sorted((5 + 30 * one, 5 + 30 * other))
    legs = [(40.0, high), (high, low), (low, 3.0)]
    total = sum(road_load.coast_down_time(a, b, mass, constant, linear, quadratic) for a, b in legs)
    assert total == pytest.approx(road_load.coast_down_time(40.0, 3.0, mass, constant, linear, quadratic), rel=1e-9)


def test_coast_down_by_arc_tangent():
    """1545 kg against 176.52 N and 0.42 v^2 takes 22.5832, 58.1638, 115.4403 s from 40 to 30, 20, 10 m/s."""
    time = road_load.coast_down_time(40.0, np.array([30.0, 20.0, 10.0]), 1545.0, 176.5197, 0.0, 0.42)
    assert time == pytest.approx([22.5832, 58.1638, 115.4403], abs=6e-5)


def test_coasting_does_not_speed_up():
    """An end speed above the start is refused."""
    with pytest.raises(ValueError, match="initial speed"):
        road_load.coast_down_time(20.0, 21.0, 1500.0, 150.0, 0.0, 0.4)


@given(st.floats(5.0, 60.0), st.floats(0.0, 4.0))
def test_both_directions_leave_the_square_of_the_wind(speed, wind):
    """The mean drag of both directions exceeds still air by the squared wind over the squared speed."""
    calm = road_load.drag_force(speed, 1.2, 0.7)
    against, along = (road_load.drag_force(speed, 1.2, 0.7, side * wind) for side in (1, -1))
    assert 0.5 * (against + along) / calm - 1 == pytest.approx((wind / speed) ** 2, abs=1e-9)


def test_wind_at_144_km_per_hour():
    """3 m/s at 40 m/s is 15 % of drag one way and 0.5625 % after both (worked by hand)."""
    calm, against, along = (road_load.drag_force(40.0, 1.2, 0.7, wind) for wind in (0.0, 3.0, -3.0))
    assert against / calm - 1 == pytest.approx(0.1556, abs=5e-5)
    assert 0.5 * (against + along) / calm - 1 == pytest.approx(0.005625, abs=1e-9)


def test_a_strong_tail_wind_pushes():
    """A tail wind faster than the car pushes it."""
    assert road_load.drag_force(5.0, 1.2, 0.7, -10.0) < 0


@given(masses, st.floats(-0.1, 0.1), st.floats(0.0, 60.0), st.floats(-8.0, 8.0))
def test_force_is_the_sum_of_its_parts(mass, gradient, speed, acceleration):
    """Tractive force less inertia is rolling, drag and grade, uphill and down."""
    force = road_load.tractive_force(speed, acceleration, mass, 1.1, 1.2, 0.7, 0.012, gradient, 1.0)
    parts = (
        road_load.rolling_force(mass, 0.012, gradient)
        + road_load.drag_force(speed, 1.2, 0.7, 1.0)
        + road_load.grade_force(mass, gradient)
    )
    assert force - 1.1 * mass * acceleration == pytest.approx(parts, abs=1e-6)


def test_a_per_cent_of_grade():
    """One per cent at 1510 kg is 148 N, 4.4 kW at 108 km/h (worked by hand)."""
    assert road_load.grade_force(1510.0, 0.01) == pytest.approx(148.08, abs=0.01)
    assert road_load.wheel_power(road_load.grade_force(1510.0, 0.01), 30.0) == pytest.approx(4442, abs=1)


def test_rolling_resistance_at_20_degrees_is_itself():
    """At 20 degC nothing is corrected; 10 K colder is 8.6 % more, by the standards' way of referring to 20 degC."""
    assert road_load.rolling_resistance_at(0.012, 293.15) == 0.012
    colder = road_load.rolling_resistance_at(0.012, 283.15)
    assert colder * (1 + 8.6e-3 * (10 - 20)) == pytest.approx(0.012)
