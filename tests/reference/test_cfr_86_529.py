"""40 CFR 86.529-98, figure F98-9: coast-down times from 70 to 60 km/h."""

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pullproof.analysis.coastdown.fit import Setting, fit_runs
from pullproof.analysis.coastdown.runs import Run
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


@pytest.mark.parametrize(("mass", "constant", "quadratic", "seconds"), ROWS)
def test_the_fit_gives_the_coefficients_back(mass, constant, quadratic, seconds):
    """A run from 110 to 20 km/h on a row's forces, integrated by scipy, gives A and C back, and the row's time."""
    force = quadratic * 3.6**2
    answer = solve_ivp(
        lambda _, v: -(constant + force * v**2) / mass, (0, 60), [110 / 3.6], rtol=1e-9, atol=1e-9, dense_output=True
    )
    time = np.arange(0.0, 60.0, 0.1)
    speed = answer.sol(time)[0]
    long_enough = speed > 20 / 3.6
    run = Run("row", 0.0, time[long_enough], speed[long_enough])
    fit = fit_runs((run,), Setting(mass, mass, 1.2, (1,), (None,)))
    assert fit.rolling_resistance * mass * road_load.GRAVITY == pytest.approx(constant, abs=0.1)
    assert 0.5 * 1.2 * fit.drag_area == pytest.approx(force, rel=1e-3)
    fitted = max(fit.rolling_resistance * mass * road_load.GRAVITY, 1e-9)
    time_70_60 = road_load.coast_down_time(70 / 3.6, 60 / 3.6, mass, fitted, 0.0, 0.6 * fit.drag_area)
    assert time_70_60 == pytest.approx(seconds, rel=2.5e-3)
