"""From the demonstration's files, through reader and pulls, to everything that is said of their air."""

from pathlib import Path

import numpy as np
import pytest

import pullproof
from pullproof.analysis.air_system import (
    Curve,
    air_system,
    leak_suspicion,
    learn_volumetric_efficiency,
    load_compressor_map,
    meter_check,
    operating_line,
)
from pullproof.demo import make_demo
from pullproof.demo.car import DemoCar

EXAMPLE = load_compressor_map(Path(__file__).parents[3] / "docs" / "example-compressor-map.csv")


@pytest.fixture(scope="module")
def demo(tmp_path_factory):
    """Car, pulls with the old pipe, pulls with the new one."""
    files = make_demo(tmp_path_factory.mktemp("demo"))
    car, conditions = pullproof.load_car(files.car_sheet), pullproof.load_conditions(files.conditions)

    def pulls(paths):
        logs = [pullproof.read_log(path, car) for path in paths]
        return [
            pullproof.record_pull(log, pull, car, conditions.of(log.file))
            for log in logs
            for pull in pullproof.find_pulls(log, car)
            if pull.used
        ]

    return car, pulls(files.before), pulls(files.after)


def test_two_loggers_tell_the_same_air(demo):
    """One file in psi over ambient at 15 Hz, one in mbar at 20 Hz: both give the engine's own filling within 2 %."""
    car, before, after = demo
    rpm, table = np.array(DemoCar().engine.volumetric_efficiency).T
    for record in (*before, *after):
        system = air_system(record, car)
        filling = system.volumetric_efficiency
        where = (system.rpm > 3800.0) & (system.rpm < 6300.0)
        np.testing.assert_allclose(filling.value[where], np.interp(system.rpm, rpm, table)[where], rtol=0.025)
        assert isinstance(system.pressure_ratio, Curve)
        assert system.pressure_ratio.source == "sensor"


def test_the_demonstration_lies_on_its_map(demo):
    """Nearly all of every pull lies inside the invented map, with an efficiency and margins."""
    car, before, after = demo
    for record in (before[0], after[-1]):
        line = operating_line(air_system(record, car), EXAMPLE)
        assert line.places.count("inside") > 0.9 * len(line.places)
        assert 0.5 < np.nanmin(line.efficiency.value) < np.nanmax(line.efficiency.value) < 0.8


def test_the_meter_did_not_change_with_the_pipe(demo):
    """A charge pipe behind the meter leaves its reading alone."""
    car, before, after = demo
    assert not meter_check(before, after, car).changed
    learned = learn_volumetric_efficiency([*before, *after], car)
    assert (learned.pulls, learned.days) == (len(before) + len(after), 2)


def test_a_wider_pipe_is_no_leak_and_a_narrower_one_is_told_apart_by_the_meter(demo):
    """Duty falls with the wider pipe; the other way round it rises, and the meter says that no air is lost."""
    car, before, after = demo
    assert leak_suspicion(before, after, car).suspicion == "not shown"
    back = leak_suspicion(after, before, car)
    assert back.duty.difference > 0.0
    assert back.meter.interval_pct[1] < 1.5
    if back.duty.interval[0] > 0.0:
        assert back.suspicion != "suspected"
