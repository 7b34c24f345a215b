"""Gillespie, Fundamentals of Vehicle Dynamics, chapter 2: effective mass in gear (from memory)."""

import pytest

from pullproof.physics import road_load


@pytest.mark.parametrize(("ratio", "printed"), [(4, "1.08"), (8, "1.20"), (12, "1.40"), (16, "1.68")])
def test_rotating_mass_factor(as_printed, ratio, printed):
    """Overall ratios of 4, 8, 12 and 16 make a car 8, 20, 40 and 68 % heavier to accelerate."""
    as_printed(road_load.rotating_mass_factor_gillespie(ratio), printed)


def test_sum_of_forces(as_printed):
    """1510 kg at 30 m/s and 3.2 m/s2 up 1 %: 5218.56 + 177.70 + 383.01 + 148.07 N, worked by hand."""
    as_printed(road_load.rolling_force(1510.0, 0.012), "177.70")
    as_printed(road_load.drag_force(30.0, 1.2159, 0.70), "383.01")
    as_printed(road_load.grade_force(1510.0, 0.01), "148.1")
    force = road_load.tractive_force(30.0, 3.2, 1510.0, 1.08, 1.2159, 0.70, 0.012, 0.01)
    # The hand sum leaves out that rolling resistance on a slope falls with its cosine: 0.009 N here.
    assert force == pytest.approx(5927.34, abs=0.02)
    assert road_load.wheel_power(force, 30.0) == pytest.approx(177.82e3, abs=5)
