from pathlib import Path

import numpy as np
import pytest

from pullproof.analysis.air_system import load_compressor_map
from pullproof.demo.car import DemoCar
from pullproof.demo.wheel_map import compressor_map
from pullproof.errors import CannotRead, PullproofError, WrongUse

ROOT = Path(__file__).parents[3]
MAPS = ROOT / "tests" / "data" / "compressor_maps"
EXAMPLE = ROOT / "docs" / "example-compressor-map.csv"
GOOD = (MAPS / "kg_s.csv").read_text(encoding="utf-8")


@pytest.fixture
def load(tmp_path):
    def write(text, encoding="utf-8"):
        file = tmp_path / "map.csv"
        file.write_bytes(text.encode(encoding))
        return load_compressor_map(file)

    return write


def assert_alike(one, other, rtol):
    assert len(one.lines) == len(other.lines)
    for left, right in zip(one.lines, other.lines, strict=True):
        for name in ("speed", "flow", "pressure_ratio", "efficiency"):
            np.testing.assert_allclose(getattr(left, name), getattr(right, name), rtol=rtol)


def test_two_files_in_other_units_are_the_same_map():
    """lb/min, thousands of rpm, per cent, degF and inHg give the map that kg/s, rpm, degC and kPa give."""
    metric, imperial = (load_compressor_map(MAPS / name) for name in ("kg_s.csv", "lb_min.csv"))
    assert_alike(metric, imperial, 1e-5)
    assert imperial.reference.temperature == pytest.approx(298.15)
    assert imperial.reference.pressure == pytest.approx(1e5, rel=1e-4)
    assert metric.name == imperial.name == "small invented wheel"
    assert metric.origin == "invented for the tests"


def test_volume_flow_is_turned_by_the_density_of_the_reference(load):
    """1 m3/s at 25 degC and 100 kPa is 1.1684 kg/s of dry air, by the gas law."""
    rows = GOOD.replace("kg/s", "m3/s")
    volume, mass = load(rows), load(GOOD)
    density = 1e5 / (287.055 * 298.15)
    np.testing.assert_allclose(volume.lines[1].flow, density * mass.lines[1].flow)


def test_order_comments_blank_lines_and_windows_endings_do_not_matter(load):
    """The same rows in another order, with comments, blank lines and a byte order mark are the same map."""
    lines = GOOD.splitlines()
    head, points = lines[:8], lines[8:]
    shuffled = "\r\n".join([*head[:3], "", "# remark", ",,,", *head[3:], *reversed(points)])
    assert_alike(load("\ufeff" + shuffled), load(GOOD), 0.0)


def test_the_example_is_the_demos():
    """The map beside the guide is the one that the demo writes."""
    assert EXAMPLE.read_text(encoding="utf-8") == compressor_map(DemoCar().compressor)


def test_the_example_is_the_demonstration_cars_wheel():
    """Between its points the example tells what the formula of the invented wheel gives, within 1 % and 0.01."""
    wheel, mapped = DemoCar().compressor, load_compressor_map(EXAMPLE)
    for speed in (100_000.0, 117_000.0, 148_000.0):
        tip = speed * np.pi / 30.0 * wheel.tip_radius
        highest = (1.0 + wheel.head * tip**2 / (1005.0 * 298.0)) ** 3.5
        share = np.linspace(0.45, 0.75, 8)
        flow, ratio = share * wheel.widest_flow * tip, highest * np.sqrt(1.0 - share**2)
        efficiency = wheel.best_efficiency - wheel.flow_fall * (flow - wheel.best_flow) ** 2
        efficiency -= wheel.rise_fall * (ratio - 1.0 - wheel.best_rise) ** 2
        found = mapped.locate(1e3 * flow, ratio)
        np.testing.assert_allclose(found.speed, speed, rtol=0.01)
        np.testing.assert_allclose(found.efficiency, efficiency, atol=0.01)


@pytest.mark.parametrize(
    ("old", "new", "said", "where"),
    [
        ("reference_temperature,25,degC\n", "", "reference_temperature is missing", "map.csv:"),
        ("reference_pressure,100,kPa\n", "", "Add a line like reference_pressure,100,kPa", "map.csv:"),
        ("reference_temperature,25,degC", "reference_temperature,25,", "has no temperature unit", "line 5"),
        ("reference_temperature,25,degC", "reference_temperature,25,kPa", "has no temperature unit", "line 5"),
        ("reference_pressure,100,kPa", "reference_pressure,0,kPa gauge", "has no pressure unit", "line 6"),
        ("reference_pressure,100,kPa", "reference_pressure,1000,kPa", "outside 80 to 110", "line 6"),
        ("reference_temperature,25", "reference_temperature,298", "outside 0 to 50", "line 5"),
        ("reference_temperature,25", "reference_temperature,warm", '"warm", not a number', "line 5"),
        ("reference_pressure,100,kPa", "reference_pressure", "has no value", "line 6"),
        ("origin,", "maker,", '"maker" is no setting', "line 4"),
        ("origin,invented for the tests,", "name,again,", "name is set twice", "line 4"),
        ("corrected_speed\n", "wheel_speed\n", 'column "wheel_speed" is not known', "line 7"),
        ("efficiency,pressure_ratio,corrected_flow,corrected_speed\n1,1,kg/s,rpm\n", "", "no row of column names", ""),
        ("1,1,kg/s,rpm\n", "1,1,kg/s\n", "no row of units", "line 7"),
        ("1,1,kg/s,rpm", "1,1,litres,rpm", 'unit "litres" of corrected_flow', "line 8"),
        ("1,1,kg/s,rpm", "1,1,kg/s,km/h", 'unit "km/h" of corrected_speed', "line 8"),
        ("1,1,kg/s,rpm", "1,kPa,kg/s,rpm", 'unit "kPa" of pressure_ratio', "line 8"),
        ("0.70,1.350,0.060,80000", "0.70,1.350,0.060", "3 cells for 4 columns", "line 10"),
        ("0.70,1.350,0.060,80000", "0.70,1.350,0.O60,80000", '"0.O60", not a number', "line 10"),
        ("0.70,1.350,0.060,80000", "70,1.350,0.060,80000", "efficiency of 70", "line 10"),
        ("0.70,1.350,0.060,80000", "0.70,0.350,0.060,80000", "pressure_ratio of 0.35", "line 10"),
        ("0.70,1.350,0.060,80000", "0.70,1.350,60,80000", "corrected_flow of 60000 g/s", "line 10"),
        ("0.70,1.350,0.060,80000", "0.70,1.350,0.060,80001", "has 2 of at least 3 points", "line 9"),
        ("0.70,1.350,0.060,80000", "0.70,1.350,0.040,80000", "one flow twice", "line 10"),
        ("0.70,1.350,0.060,80000", "0.70;1.350;0.060;80000", "semicolons", "line 10"),
        ("0.68,2.050,0.070,120000", "0.68,1.100,0.070,120000", "cross or fold", ""),
    ],
)
def test_every_slip_is_named_with_its_line_and_what_to_do(load, old, new, said, where):
    """A file that is not what it has to be says which line is wrong and what to write; nothing is guessed."""
    assert old in GOOD
    with pytest.raises((CannotRead, WrongUse)) as caught:
        load(GOOD.replace(old, new, 1))
    sentence = str(caught.value)
    assert said in sentence
    assert where in sentence
    assert "map.csv" in sentence
    assert caught.value.advice


def test_files_that_are_no_map(tmp_path, load):
    """No file, an empty one and one that is no text are refused as what they are."""
    with pytest.raises(CannotRead, match="cannot be opened"):
        load_compressor_map(tmp_path / "none.csv")
    with pytest.raises(CannotRead, match="is empty"):
        load("\n# nothing\n")
    with pytest.raises(CannotRead, match="not UTF-8"):
        load(GOOD.replace("small", "kl\u00e4in"), "latin-1")


def test_one_line_is_no_map(load):
    """A single speed line bounds nothing."""
    text = "\n".join(line for line in GOOD.splitlines() if not line.endswith(("120000", "160000")))
    with pytest.raises(PullproofError, match="two speed lines"):
        load(text)
