import math

import numpy as np
import pytest

from pullproof.demo.air_side import throttle_pressure_ratio


def nozzle_flow(ratio: float, heat_ratio: float) -> float:
    """Isentropic nozzle flow function of a perfect gas, sqrt(R T) m / (A p). [1]

    Source: Heywood, Internal Combustion Engine Fundamentals, appendix C, eq. (C.8) and (C.9), from memory.
    """
    critical = (2.0 / (heat_ratio + 1.0)) ** (heat_ratio / (heat_ratio - 1.0))
    at = max(ratio, critical)
    term = 2.0 * heat_ratio / (heat_ratio - 1.0) * (at ** (2.0 / heat_ratio) - at ** ((heat_ratio + 1.0) / heat_ratio))
    return math.sqrt(term)


@pytest.mark.parametrize("closed", [0.02, 0.3, 0.8, 1.5, 3.0, 8.0, 20.0])
def test_throttle_passes_what_the_engine_draws(closed: float) -> None:
    """At the ratio found, an isentropic nozzle passes the engine's demand, within the 3 % of the ellipse."""
    demand, supply = 1.0e-6, 1.0e-6 * closed
    ratio = throttle_pressure_ratio(demand, supply)
    passed = supply / nozzle_flow(0.0, 1.4) * nozzle_flow(ratio, 1.4)
    assert passed == pytest.approx(demand * ratio, rel=0.03)


def test_wide_open_throttle_loses_little_and_a_closed_one_nearly_all() -> None:
    """The manifold follows the charge pressure when the throttle opens, without ever passing it."""
    ratios = np.array([throttle_pressure_ratio(1.0, supply) for supply in np.geomspace(0.01, 100.0, 200)])
    assert np.all(np.diff(ratios) > 0.0)
    assert ratios[0] == pytest.approx(0.01)
    assert 0.999 < ratios[-1] < 1.0
