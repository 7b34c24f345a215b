"""SAE J1349: formula as quoted publicly from the June 1990 text; states with PsychroLib's vapour pressure."""

import numpy as np
import pytest

from pullproof.physics import corrections, moist_air

# id, barometer [Pa], degC, relative humidity, factor, inside the limits
STATES = [
    ("reference", 99_000, 25, 0.0, "1.00000", True),
    ("A", 101_325, 25, 0.60, "0.99497", True),
    ("B", 98_000, 35, 0.70, "1.08263", False),
    ("C", 84_000, 30, 0.30, "1.24393", False),
    ("D", 102_500, 5, 0.80, "0.92835", False),
    ("E", 95_000, 40, 0.20, "1.10015", False),
    ("F", 99_400, 11, 0.55, "0.97571", False),
]


@pytest.mark.parametrize(("name", "barometer", "celsius", "humidity", "printed", "inside"), STATES)
def test_states(as_printed, name, barometer, celsius, humidity, printed, inside):
    """The factor is the printed formula's, and outside the standard's limits it is flagged, not refused."""
    dry = moist_air.dry_air_pressure(barometer, celsius + 273.15, humidity)
    correction = corrections.sae_j1349(dry, celsius + 273.15)
    as_printed(correction.factor, printed, units=2)
    assert bool(correction.within_limits) is inside
    assert (correction.reason == "") == inside


def test_total_pressure_in_place_of_dry_pressure_costs_five_per_cent():
    """State B with its humidity forgotten gives 1.0319, the trap that the dry-air argument is there for."""
    assert corrections.sae_j1349(98_000.0, 308.15).factor == pytest.approx(1.0319, abs=5e-5)


def test_unrounded_mechanical_efficiency_is_close():
    """85 % mechanical efficiency unrounded differs by less than 3e-4 at state B: the printed form is not a slip."""
    unrounded = (1 / 0.85) * (99_000 / 94_060.53) * (308 / 298) ** 0.5 - (1 / 0.85 - 1)
    assert corrections.sae_j1349(94_060.53, 308.15).factor == pytest.approx(unrounded, abs=3e-4)


def test_limits_are_inside():
    """15 and 35 degC, 90 and 105 kPa are inside where the factor allows; a hair outside is flagged."""
    assert corrections.sae_j1349(99_000.0, 288.15).within_limits
    assert corrections.sae_j1349(99_000.0, 308.15).within_limits
    assert not corrections.sae_j1349(99_000.0, 288.1).within_limits
    assert corrections.sae_j1349(np.array([99_000.0, 80_000.0]), 298.15).reason.tolist() == [
        "",
        "dry-air pressure outside 90 to 105 kPa; factor outside 0.93 to 1.07",
    ]
