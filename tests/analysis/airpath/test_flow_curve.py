"""The car's own flow: from logs, from the sheets, and what is said to be assumed."""

from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.airpath import FlowSheet, flow_from_logs, flow_from_sheets
from pullproof.analysis.airpath.flow_curve import hot_temperature_c
from pullproof.car import Car, Engine
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer


def test_speed_density_from_the_sheets(car):
    """0.95 of 2.0 l at 200 kPa, 45 degC and 6000 rpm is 208.0 g/s (worked by hand, Heywood section 2.10)."""
    sheet = FlowSheet(
        rpm=(3000.0, 6000.0),
        charge_pressure_kpa=(200.0, 200.0),
        charge_temperature_c=45.0,
        volumetric_efficiency_pct=95.0,
    )
    flow = flow_from_sheets(car, sheet, Air(15.0, 100.0, 50.0))
    assert flow.air_mass_flow_gs == pytest.approx([104.02, 208.05], abs=0.01)
    assert flow.assumptions == ()


def test_everything_assumed_is_said(car):
    """A bare car sheet gives a curve from 45 % of the redline up, and lists each assumption."""
    flow = flow_from_sheets(car, FlowSheet())
    assert flow.rpm[0] == 3250.0
    assert flow.rpm[-1] == 6750.0
    assert flow.window_rpm[0] == pytest.approx(4080.0)
    said = " ".join(flow.assumptions)
    for word in ("200 kPa", "45 degC", "volumetric efficiency", "ambient"):
        assert word in said


def test_sheets_that_say_too_little():
    """Without redline or displacement the sentence says what to add."""
    with pytest.raises(CannotAnswer, match="redline_rpm"):
        flow_from_sheets(Car("x"), FlowSheet())
    with pytest.raises(CannotAnswer, match="displacement_l"):
        flow_from_sheets(Car("x", engine=Engine(redline_rpm=6800.0)), FlowSheet())


def test_mean_of_pulls(record, car):
    """Two pulls give their mean, over the speeds that both reach, with the weather of both."""
    pulls = [
        record(air_mass_flow=lambda rpm: 0.03 * rpm, charge_pressure=230.0, charge_air_temperature=40.0, log="a.csv"),
        record(
            air_mass_flow=lambda rpm: 0.03 * rpm + 10.0,
            charge_pressure=240.0,
            charge_air_temperature=50.0,
            log="b.csv",
            air=Air(30.0, 97.0, 50.0),
        ),
    ]
    flow = flow_from_logs(pulls, car)
    assert flow.air_mass_flow_gs == pytest.approx(0.03 * flow.rpm + 5.0, abs=0.5)
    assert flow.charge_pressure_kpa == pytest.approx(np.full(flow.rpm.shape, 235.0))
    assert flow.inlet_temperature_c == 25.0
    assert flow.ambient_pressure_kpa == 98.0
    assert flow.rpm_per_second == pytest.approx(4000.0 / 7.0, rel=1e-3)
    assert flow.origin == "2 pulls of a.csv, b.csv"
    assert len(flow.pulls) == 2


def test_what_a_log_lacks_is_computed_and_said(record, car):
    """Without an air meter the flow is speed-density; manifold pressure stands in for charge pressure."""
    flow = flow_from_logs([record(manifold_pressure=200.0, intake_air_temperature=45.0)], car)
    at_6000 = flow.air_mass_flow_gs[np.argmin(np.abs(flow.rpm - 6000))]
    assert at_6000 == pytest.approx(208.05 * 0.92 / 0.95, rel=1e-3)
    assert any("throttle" in text for text in flow.assumptions)
    assert any("speed-density" in text for text in flow.assumptions)


def test_pulls_that_cannot_serve(record, car):
    """Refused pulls are left out; with none left, or no pressure at all, the reason is given."""
    with pytest.raises(CannotAnswer, match="no pull is left"):
        flow_from_logs([record(charge_pressure=200.0, used=False)], car)
    with pytest.raises(CannotAnswer, match="neither charge pressure nor manifold pressure"):
        flow_from_logs([record(air_mass_flow=200.0)], car)


def test_logging_rate_does_not_matter(record, car):
    """A flow logged at a tenth of the rate gives the same curve."""
    fast = record(air_mass_flow=lambda rpm: 0.03 * rpm, charge_pressure=230.0)
    trace = fast.traces["air_mass_flow"]
    slow_trace = replace(trace, time=trace.time[::10], values=trace.values[::10])
    slow = replace(fast, traces={**fast.traces, "air_mass_flow": slow_trace})
    curves = [flow_from_logs([one], car) for one in (fast, slow)]
    known = np.isfinite(curves[1].air_mass_flow_gs)
    assert known.sum() >= len(known) - 1
    assert curves[1].air_mass_flow_gs[known] == pytest.approx(curves[0].air_mass_flow_gs[known], rel=0.02)


def test_temperature_behind_the_compressor(record, car):
    """A logged outlet temperature is used; else it follows from the pressure ratio at 70 %."""
    bare = flow_from_logs([record(air_mass_flow=200.0, charge_pressure=198.0)], car)
    expected = 293.15 * (1 + (2.0 ** (2 / 7) - 1) / 0.70) - 273.15
    assert hot_temperature_c(bare) == pytest.approx(np.full(bare.rpm.shape, expected))
    logged = flow_from_logs(
        [record(air_mass_flow=200.0, charge_pressure=198.0, compressor_outlet_temperature=123.0)], car
    )
    assert hot_temperature_c(logged) == pytest.approx(np.full(logged.rpm.shape, 123.0))
