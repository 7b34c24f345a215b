"""FASTSim 3.1.0, a national laboratory's vehicle simulator: a full-throttle run as its `speed_ach` column recorded it.

150 kW engine at 90 % transmission efficiency, 1500 kg, drag 0.35 x 2.0 m2, rolling 0.012, four wheels of 1 kg m2 and
0.32 m, air density 1.2: 135 kW at the wheels. Speeds were read once from that program and are kept here as numbers.
"""

import pytest
from scipy.integrate import solve_ivp
from scipy.optimize import brentq

from pullproof.physics import road_load

MASS = 1500.0
FACTOR = (MASS + 4 * 1.0 / 0.32**2) / MASS


def acceleration(_time, speed):
    """The acceleration at which our tractive force takes 135 kW."""
    force = brentq(
        lambda a: road_load.tractive_force(speed[0], a, MASS, FACTOR, 1.2, 0.70, 0.012) - 135e3 / speed[0], -1, 20
    )
    return [force]


def test_speeds_of_a_full_throttle_run():
    """From 15.1022 m/s at 1.95 s the car is at 38.3007, 45.7022 and 50.9750 m/s after 10, 15 and 20 s."""
    run = solve_ivp(acceleration, (1.95, 20.0), [15.1022], t_eval=[10.0, 15.0, 20.0], rtol=1e-9, atol=1e-9)
    assert run.y[0] == pytest.approx([38.3007, 45.7022, 50.9750], rel=3e-5)
