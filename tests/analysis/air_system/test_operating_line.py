from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from pullproof.analysis.air_system import (
    CompressorMap,
    Curve,
    Fitted,
    Missing,
    SpeedLine,
    Tap,
    air_system,
    load_compressor_map,
    operating_line,
)
from pullproof.demo.car import DemoCar
from pullproof.demo.weather import Weather
from pullproof.errors import CannotAnswer
from pullproof.physics.compressor import ReferenceState

EXAMPLE = load_compressor_map(Path(__file__).parents[3] / "docs" / "example-compressor-map.csv")


@pytest.fixture
def driven(outing):
    """One pull of the simulated car on a day that is far from the map's reference."""
    return outing("hot.csv", "hot", 3, weather=Weather(31.0, 94.0, 40.0, 0.0), pulls=1)[0]


def settled(line):
    return (line.rpm > 4000.0) & (line.rpm < 6300.0)


def test_the_simulated_wheel_runs_where_the_map_says(driven, car):
    """Shaft speed and efficiency of a simulated car, which knows nothing of the map, lie within the intervals."""
    system = air_system(driven, replace(car, engine=replace(car.engine, displacement_l=1.984)))
    line = operating_line(system, EXAMPLE)
    where = settled(line)
    true_speed = system.turbo_speed.value / np.sqrt((31.0 + 3.4 + 273.15) / 298.0)
    assert np.all(true_speed[where] > line.corrected_speed.lower[where])
    assert np.all(true_speed[where] < line.corrected_speed.upper[where])
    np.testing.assert_allclose(line.corrected_speed.value[where], true_speed[where], rtol=0.03)
    assert any("agrees with the map" in doubt for doubt in line.doubts)
    # Its own temperatures tell the same efficiency, from other signals.
    own = system.isentropic_efficiency
    both = where & np.isfinite(own.value)
    assert np.count_nonzero(both) > 20
    np.testing.assert_allclose(line.efficiency.value[both], own.value[both], atol=0.03)
    assert np.all(line.efficiency.lower[both] < own.value[both])
    assert np.all(own.value[both] < line.efficiency.upper[both])


@pytest.mark.parametrize("bore", [0.046, 0.060])
def test_the_assumed_loss_has_room_for_the_pipe_that_was_fitted(outing, car, bore):
    """With a narrow and with a wide hot pipe the simulated outlet pressure, unseen, lies inside its interval."""
    path = DemoCar().charge_path
    built = replace(DemoCar(), charge_path=replace(path, hot_pipe=replace(path.hot_pipe, bore=bore)))
    record = outing("a.csv", "a", 1, car=built, pulls=1)[0]
    blind = air_system(record, car)
    seen = air_system(record, car, fitted=Fitted(outlet_tap=Tap("Outlet", "kPa absolute")))
    true, part = seen.outlet_pressure.value, blind.outlet_pressure
    where = settled(seen)
    assert np.all((part.lower < true)[where] & (true < part.upper)[where])
    width = lambda curve: np.mean((curve.upper - curve.lower)[where])  # noqa: E731
    assert width(seen.pressure_ratio) < 0.8 * width(blind.pressure_ratio)
    assert isinstance(seen.cooler_loss, Curve)


def test_margins_have_intervals_that_end_at_the_limits(driven, car):
    """Surge margin and share of the largest flow lie in their intervals, and these within 0 and 1."""
    line = operating_line(air_system(driven, car), EXAMPLE)
    for curve in (line.surge_margin, line.choke_share):
        shown = np.isfinite(curve.value) & np.isfinite(curve.lower)
        assert shown.any()
        assert np.all(curve.lower[shown] <= curve.value[shown])
        assert np.all(curve.value[shown] <= curve.upper[shown])
        assert np.all((curve.value[shown] >= 0.0) & (curve.value[shown] <= 1.0))


def test_a_map_in_another_reference_says_the_same(driven, car):
    """Refer every line of the map to 15 degC and 101.325 kPa: the pull lies at the same place on it."""
    other = ReferenceState(288.15, 101_325.0)
    root = np.sqrt(EXAMPLE.reference.temperature / other.temperature)
    factor = root * other.pressure / EXAMPLE.reference.pressure
    lines = tuple(
        SpeedLine(one.speed / root, one.flow * factor, one.pressure_ratio, one.efficiency) for one in EXAMPLE.lines
    )
    system = air_system(driven, car)
    here, there = (operating_line(system, mapped) for mapped in (EXAMPLE, CompressorMap("same wheel", other, lines)))
    assert here.places == there.places
    np.testing.assert_allclose(there.efficiency.value, here.efficiency.value, atol=1e-9)
    np.testing.assert_allclose(there.surge_margin.value, here.surge_margin.value, atol=1e-9)
    np.testing.assert_allclose(there.corrected_flow.value, here.corrected_flow.value * factor)


def test_a_map_of_another_wheel_is_found_out(driven, car):
    """A wheel of double the flow surges everywhere on this pull: nothing is read, and the map is doubted."""
    lines = tuple(SpeedLine(o.speed, 2.5 * o.flow, o.pressure_ratio, o.efficiency) for o in EXAMPLE.lines)
    line = operating_line(air_system(driven, car), CompressorMap("larger", EXAMPLE.reference, lines))
    assert isinstance(line.efficiency, Missing)
    assert "wheel fitted" in line.efficiency.advice
    assert any("left of the surge line" in doubt for doubt in line.doubts)
    half = tuple(SpeedLine(0.8 * o.speed, o.flow, o.pressure_ratio, o.efficiency) for o in EXAMPLE.lines)
    line = operating_line(air_system(driven, car), CompressorMap("other", EXAMPLE.reference, half))
    assert any("is off" in doubt for doubt in line.doubts)


def test_a_map_without_efficiencies(driven, car):
    """Margins are read, and the efficiency says what the map lacks."""
    nothing = tuple(SpeedLine(o.speed, o.flow, o.pressure_ratio, np.full(o.flow.shape, np.nan)) for o in EXAMPLE.lines)
    line = operating_line(air_system(driven, car), CompressorMap("plain", EXAMPLE.reference, nothing))
    assert line.efficiency.reason == "the map has no efficiencies"
    assert isinstance(line.surge_margin, Curve)


def test_without_a_flow_there_is_no_line(driven, without, car):
    """The reason why there is no operating line is the one why there is no flow."""
    blind = air_system(without(driven, "air_mass_flow"), replace(car, engine=replace(car.engine, displacement_l=None)))
    with pytest.raises(CannotAnswer, match="displacement"):
        operating_line(blind, EXAMPLE)
