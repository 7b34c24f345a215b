"""40 CFR 86.529-98, figure F98-9: coast-down times from 70 to 60 km/h."""

import pytest

from pullproof.physics import road_load

ROWS = [
    (100, 0.0, 0.0224, 2.95),
    (150, 4.32, 0.0238, 3.99),
    (200, 8.69, 0.0252, 4.85),
    (250, 13.06, 0.0266, 5.57),
    (300, 17.43, 0.0279, 6.18),
    (340, 20.92, 0.0290, 6.60),
]


@pytest.mark.parametrize(("mass", "constant", "quadratic", "seconds"), ROWS)
def test_time_from_70_to_60(mass, constant, quadratic, seconds):
    """The closed form takes the regulation's time within 0.25 % (its coefficients are printed rounded)."""
    time = road_load.coast_down_time(70 / 3.6, 60 / 3.6, mass, max(constant, 1e-9), 0.0, quadratic * 3.6**2)
    assert time == pytest.approx(seconds, rel=2.5e-3)
