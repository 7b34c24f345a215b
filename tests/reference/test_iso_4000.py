"""ISO 4000-1 tyre sizes and ETRTO rolling circumference (factor 3.05 from memory)."""

import numpy as np
import pytest

from pullproof.physics import tyre


@pytest.mark.parametrize(
    ("size", "diameter", "circumference"),
    [
        ("235/35R19", "647.1", "1973.7"),
        ("225/40R18", "637.2", "1943.5"),
        ("205/55R16", "631.9", "1927.3"),
    ],
)
def test_diameter_and_circumference(as_printed, size, diameter, circumference):
    """Diameter follows from the size, and the rolling circumference is 3.05 diameters."""
    as_printed(tyre.nominal_diameter(size) * 1e3, diameter)
    as_printed(tyre.rolling_radius(size) * 2 * np.pi * 1e3, circumference, units=1.1)


def test_speed_per_1000_rpm(as_printed):
    """235/35R19 with 1.47 times 3.94 runs 20.446 km/h per 1000 rpm."""
    speed = tyre.road_speed(1000 * 2 * np.pi / 60, 1.47 * 3.94, tyre.rolling_radius("235/35R19"))
    as_printed(speed * 3.6, "20.446", units=2)
