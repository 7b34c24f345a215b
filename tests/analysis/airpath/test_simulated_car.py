"""Predictions held against a simulated car, whose turbine, actuator and control share no formula with them."""

from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.airpath import compare_paths, flow_from_logs
from pullproof.analysis.airpath.analysing import air_of, total
from pullproof.analysis.airpath.losses import path_losses
from pullproof.car import Car, Engine
from pullproof.demo.car import DemoCar, Pipe
from pullproof.demo.driving import Cruise, FullPull
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.true_effect import true_effect
from pullproof.demo.weather import Weather

SCRIPT = (Cruise(60.0, 6.0), FullPull(), Cruise(70.0, 18.0), FullPull())
TODAY = Weather(18.0, 99.5)
CAR = Car("harbour coupe", engine=Engine(displacement_l=1.984, redline_rpm=6800.0))
ELEMENTS = (
    'kind = "bend"\nangle_deg = 90\nradius_mm = 60',
    'kind = "pipe"\nlength_mm = 250',
    'kind = "bend"\nangle_deg = 90\nradius_mm = 60',
    'kind = "pipe"\nlength_mm = 250',
    'kind = "mitre"\nangle_deg = 60',
)


ACTUATORS = {"usual": {}, "soft": {"stiffness": 7.5e6, "preload": 18e3}, "stiff": {"stiffness": 11.5e6, "flap": 0.12}}


def simulated(path, flow, **actuator):
    """The simulated car with a hot pipe of this path's loss at the middle of the curve, and of its volume."""
    middle = len(flow.rpm) // 2
    air = air_of(flow)
    loss = float(total(path_losses(path, air))[middle])
    bore = path.elements[0].inlet
    area = np.pi / 4.0 * bore**2
    density = (air.end_pressure[middle] + 0.5 * loss) / (287.055 * air.temperature["hot"][middle])
    heads = loss / (0.5 * air.mass_flow[middle] ** 2 / density / area**2)
    pipe = Pipe(bore=bore, length=path.volume / area, fittings=0.0)
    pipe = replace(pipe, fittings=float(heads) - pipe.friction * pipe.length / pipe.bore)
    car = DemoCar()
    return replace(
        car,
        actuator=replace(car.actuator, **actuator),
        charge_path=replace(car.charge_path, hot_pipe=pipe),
    )


@pytest.fixture(scope="module")
def drive():
    return simulate_drive(DemoCar(), TODAY, SCRIPT, None)


@pytest.mark.parametrize("actuator", ACTUATORS.values(), ids=ACTUATORS)
def test_expected_duty_holds_the_truth(write_path, record_of_drive, drive, actuator):
    """From three days of logs, the expected change of duty brackets what the simulated car really does."""
    old, new = (write_path(*ELEMENTS, head=f'side = "hot"\nbore_mm = {bore}', name=f"{bore}.toml") for bore in (46, 60))
    first = flow_from_logs(record_of_drive(drive, "first"), CAR)
    before, after = (simulated(path, first, **actuator) for path in (old, new))
    rng = np.random.default_rng(8)
    records = []
    for day, weather in {"a": Weather(9.0, 100.4), "b": Weather(24.0, 99.0), "c": Weather(17.0, 98.1)}.items():
        records += record_of_drive(simulate_drive(before, weather, SCRIPT, rng), day)
    flow = flow_from_logs(records, CAR)
    expected = compare_paths(old, new, flow)
    truth = true_effect(before, after, TODAY, flow.window_rpm)
    low, high = expected.wastegate_duty_change.interval
    assert low < truth["wastegate_duty.mean"] < high
    assert expected.wastegate_duty_change.estimate == pytest.approx(truth["wastegate_duty.mean"], abs=0.9)
    assert high - low < 4.0


def test_a_gate_at_its_end_is_said_to_be(write_path, record_of_drive, drive):
    """A spring too weak for the boost: duty is at its end, the answer says so and speaks of charge pressure."""
    old, new = (write_path(*ELEMENTS, head=f'side = "hot"\nbore_mm = {bore}', name=f"{bore}.toml") for bore in (46, 60))
    first = flow_from_logs(record_of_drive(drive, "first"), CAR)
    weak = simulated(old, first, stiffness=6.0e6, bleed=0.90)
    flow = flow_from_logs(record_of_drive(simulate_drive(weak, TODAY, SCRIPT, None), "a"), CAR)
    expected = compare_paths(old, new, flow)
    assert any("held shut" in doubt for doubt in expected.doubts)
    assert "charge pressure and not as duty" in expected.sentence
    truth = true_effect(weak, simulated(new, first, stiffness=6.0e6, bleed=0.90), TODAY, flow.window_rpm)
    assert truth["boost.mean"] > 0.3
    assert abs(truth["wastegate_duty.mean"]) < 1.0


def test_extra_volume_brings_boost_later(write_path, record_of_drive, drive):
    """Four litres more in the charge path delay boost by as many rpm as expected, within its interval."""
    flow = flow_from_logs(record_of_drive(drive, "first"), CAR)
    small, large = (
        write_path(
            'kind = "cooler"\nloss_kpa = 5\nat_air_mass_flow_gs = 200\nat_pressure_kpa = 240\nat_temperature_c = 90\n'
            f"volume_l = {litres}",
            head="bore_mm = 57",
            name=f"{litres}.toml",
        )
        for litres in (5.5, 9.5)
    )
    expected = compare_paths(small, large, flow).spool_delay_rpm
    car = DemoCar()
    bigger = replace(car.charge_path, cooler=replace(car.charge_path.cooler, volume=9.5e-3))
    truth = true_effect(car, replace(car, charge_path=bigger), TODAY, flow.window_rpm)["boost.reaches"]
    assert expected.interval[0] < truth < expected.interval[1]
