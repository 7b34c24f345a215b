import numpy as np
import pytest

from pullproof.demo.hot_side import pressure_before
from pullproof.physics.turbine import nozzle_flow_function


@pytest.mark.parametrize("expansion", [1.01, 1.1, 1.3, 1.6, 1.9, 2.5, 3.5])
def test_pressure_drives_the_flow_through_a_nozzle(expansion: float) -> None:
    """The pressure found drives the asked flow through an isentropic nozzle, within the 3 % of the ellipse."""
    area, temperature, behind = 6e-4, 1150.0, 120e3
    before = expansion * behind
    flow = area * before * float(nozzle_flow_function(1.0 / expansion, 1.33)) / np.sqrt(287.0 * temperature)
    assert pressure_before(flow, area, temperature, behind) == pytest.approx(before, rel=0.03)


def test_no_flow_needs_no_pressure() -> None:
    """Without flow the pressure before equals the pressure behind."""
    assert pressure_before(0.0, 6e-4, 900.0, 101e3) == pytest.approx(101e3)
