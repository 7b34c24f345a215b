"""Engine air: inverse functions and units that cannot be told apart by eye."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from pullproof.physics import engine_air

pressures, temperatures = st.floats(80e3, 350e3), st.floats(270.0, 360.0)
speeds, volumes = st.floats(80.0, 900.0), st.floats(0.5e-3, 8e-3)


@given(pressures, temperatures, speeds, volumes, st.floats(0.3, 1.3))
def test_volumetric_efficiency_undoes_speed_density(pressure, temperature, speed, displacement, efficiency):
    """The volumetric efficiency of an air flow by speed-density is the one that made it."""
    flow = engine_air.air_mass_flow_by_speed_density(pressure, temperature, speed, displacement, efficiency)
    found = engine_air.volumetric_efficiency(flow, pressure, temperature, speed, displacement)
    assert found == pytest.approx(efficiency, rel=1e-12)


@given(st.floats(0.5, 2.0), st.floats(6.0, 18.0))
def test_lambda_there_and_back(lambda_ratio, stoichiometric):
    """Lambda of an air-fuel ratio of a lambda is that lambda."""
    ratio = engine_air.air_fuel_ratio(lambda_ratio, stoichiometric)
    assert engine_air.lambda_from_air_fuel_ratio(ratio, stoichiometric) == pytest.approx(lambda_ratio)


@given(st.floats(-200.0, 900.0), speeds)
def test_torque_there_and_back(torque, speed):
    """Torque of the power of a torque is that torque, overrun included."""
    found = engine_air.torque_from_power(engine_air.power_from_torque(torque, speed), speed)
    assert found == pytest.approx(torque, abs=1e-9)


def test_mean_effective_pressure_is_work_per_swept_volume():
    """Torque times two turns is the work of a cycle; over the swept volume it is the mean effective pressure."""
    assert engine_air.brake_mean_effective_pressure(300.0, 2e-3) == pytest.approx(300.0 * 4 * np.pi / 2e-3)


def test_injector_open_all_the_time():
    """Twenty milliseconds are a whole cycle at 6000 rpm."""
    assert engine_air.injector_duty(0.020, 6000 * 2 * np.pi / 60) == pytest.approx(1.0)
