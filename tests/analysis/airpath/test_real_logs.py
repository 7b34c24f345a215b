"""Public logs of a real car: the flow that is read from them is one that such an engine can have."""

from pathlib import Path

import numpy as np
import pytest

from pullproof.analysis.airpath import compare_paths, flow_from_logs
from pullproof.car import Car, Engine
from pullproof.computed_channels import record_pull
from pullproof.conditions import Conditions
from pullproof.physics import engine_air
from pullproof.pulls import find_pulls
from pullproof.reading import read_log

LOGS = Path(__file__).parents[4] / "shared" / "logs" / "turbo-petrol-a"
CAR = Car("public car", engine=Engine(displacement_l=2.5, redline_rpm=6700.0, fuel="petrol", aspiration="turbo"))


@pytest.fixture(scope="module")
def flow():
    if not LOGS.exists():
        pytest.skip("the folder of public logs is not beside the repository")
    records = []
    for file in sorted(LOGS.glob("*.csv"))[:3]:
        log = read_log(file)
        records += [record_pull(log, pull, CAR, Conditions(file.name)) for pull in find_pulls(log, CAR)]
    return flow_from_logs(records, CAR)


def test_air_meter_and_speed_density_agree(flow):
    """The logged air flow is 0.75 to 1.1 of what fills the swept volume at the logged pressure (Heywood, 2.10)."""
    filling = engine_air.volumetric_efficiency(
        1e-3 * flow.air_mass_flow_gs, 1e3 * flow.charge_pressure_kpa, 318.15, flow.rpm * 2 * np.pi / 60, 2.5e-3
    )
    known = filling[np.isfinite(filling)]
    assert known.size > 4
    assert np.all((known > 0.75) & (known < 1.1))


def test_a_pipe_for_a_real_car(flow, write_path):
    """On the real car's flow a pipe has a loss, another has a difference, and what the logs lack is said."""
    bend, pipe = 'kind = "bend"\nangle_deg = 90\nradius_mm = 90', 'kind = "pipe"\nlength_mm = 300'
    paths = [write_path(bend, pipe, bend, head=f"bore_mm = {bore}", name=f"{bore}.toml") for bore in (48, 60)]
    result = compare_paths(*paths, flow)
    assert 0.5 < result.mean_saved.estimate < 5.0
    assert result.wastegate_duty_change.estimate < 0.0
    assert any("degC is assumed" in text for text in result.assumptions)
