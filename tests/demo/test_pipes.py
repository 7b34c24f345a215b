"""The path files that the demo ships are of the pipes that it simulates."""

import numpy as np
import pytest

from pullproof.analysis.airpath import FlowCurve, analyse_path, flow_from_sheets, load_path
from pullproof.car import load_car
from pullproof.demo import DemoFiles, make_demo
from pullproof.demo.car import DemoCar
from pullproof.demo.weekends import with_new_pipe
from pullproof.physics import compressor, dry_air

BEST_EFFICIENCY = DemoCar().compressor.best_efficiency


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    return make_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def flow(demo: DemoFiles) -> FlowCurve:
    return flow_from_sheets(load_car(demo.car_sheet), load_path(demo.pipes[0]).flow)


@pytest.mark.parametrize("which", [0, 1])
def test_the_handbook_loses_what_the_simulation_loses(demo: DemoFiles, flow: FlowCurve, which: int) -> None:
    """Loss of old and new pipe by handbook coefficients holds the simulator's c m^2 / rho in its interval."""
    pipe = (DemoCar(), with_new_pipe(DemoCar()))[which].charge_path.hot_pipe
    result = analyse_path(load_path(demo.pipes[which]), flow)
    ratio = flow.charge_pressure_kpa / flow.ambient_pressure_kpa
    outlet = compressor.outlet_temperature(flow.inlet_temperature_c + 273.15, ratio, BEST_EFFICIENCY)
    density = dry_air.density(1e3 * flow.charge_pressure_kpa, outlet)
    simulated = (1e-3 * pipe.loss * (1e-3 * flow.air_mass_flow_gs) ** 2 / density)[flow.inside]
    assert np.all(result.total.lower[flow.inside] <= simulated)
    assert np.all(simulated <= result.total.upper[flow.inside])
