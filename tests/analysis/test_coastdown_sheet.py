"""Writing into a car sheet must change the keys it is for and not one byte more."""

import pytest

from pullproof.analysis.coastdown import CoastDown, Estimate, write_into_car_sheet
from pullproof.car import load_car
from pullproof.errors import CannotAnswer, CannotRead

SHEET = """# the blue one
name = "blue hatch"
mass_kg = 1510                     # weighed, half a tank
gear_ratios = [
    3.36, 2.09,
    1.47,
]
drag_area_m2 = 0.70                # a guess
rolling_resistance = 0.012

[engine]
redline_rpm = 6800  # drag_area_m2 = 9

[columns]
"drag_area_m2" = "ignore"
"""


@pytest.fixture
def result():
    return CoastDown(
        rolling_resistance=Estimate(0.0113, 0.0108, 0.0118, 0.95, "1"),
        drag_area_m2=Estimate(0.664, 0.641, 0.687, 0.95, "m2"),
        correlation=-0.5,
        rolling_resistance_at_20_c=None,
        constant_force_n=170.0,
        quadratic_force_n=310.0,
        wind_m_s=None,
        gradient=None,
        speed_range_kmh=(15.0, 115.0),
        runs=(),
        checks=(),
        inputs=(),
        doubts=(),
    )


def test_only_its_keys_change(tmp_path, result):
    """Comments, order and every other line stay as they were; the doubts come as a table at the end."""
    path = tmp_path / "car.toml"
    path.write_text(SHEET, encoding="utf-8")
    write_into_car_sheet(path, result)
    expected = SHEET.replace("= 0.70  ", "= 0.664  ").replace("= 0.012", "= 0.01130")
    expected += "\n[doubt]\ndrag_area_m2 = 0.023\nrolling_resistance = 0.00050\n"
    assert path.read_text(encoding="utf-8") == expected
    car = load_car(path)
    assert (car.drag_area_m2, car.rolling_resistance) == (0.664, 0.0113)
    assert dict(car.doubts) == {"drag_area_m2": 0.023, "rolling_resistance": 0.0005}
    assert list(tmp_path.iterdir()) == [path]


def test_twice_is_as_once(tmp_path, result):
    """A second coast-down replaces the first one's figures, its doubts included."""
    path = tmp_path / "car.toml"
    path.write_text(SHEET, encoding="utf-8")
    write_into_car_sheet(path, result)
    once = path.read_bytes()
    write_into_car_sheet(path, result)
    assert path.read_bytes() == once


@pytest.mark.parametrize(
    "text",
    [
        'name = "x"',
        'name = "x"\r\n[engine]\r\nredline_rpm = 6800\r\n',
        '\ufeffname = "x"\n\n\n[doubt] # half widths\nmass_kg = 5\n\n[boost]\n',
        '"rolling_resistance"=0.01#old\nname="x"',
    ],
)
def test_any_layout_of_a_sheet(tmp_path, result, text):
    """Missing keys are put into the top part; line ends and a byte order mark stay what they are."""
    path = tmp_path / "car.toml"
    path.write_bytes(text.encode("utf-8"))
    write_into_car_sheet(path, result)
    written = path.read_bytes().decode("utf-8")
    car = load_car(path)
    assert (car.name, car.drag_area_m2, car.rolling_resistance) == ("x", 0.664, 0.0113)
    assert car.doubts["drag_area_m2"] == 0.023
    assert written.startswith("\ufeff") == text.startswith("\ufeff")
    assert ("\r\n" in written) == ("\r\n" in text)
    for line in text.splitlines():
        assert "rolling_resistance" in line or line in written


def test_a_sheet_that_cannot_be_edited_is_left_alone(tmp_path, result):
    """Where a line is not what it looks like, nothing is written, and the values to type are given."""
    path = tmp_path / "car.toml"
    tricky = "name = '''\ndrag_area_m2 = 0.5\n'''\n"
    path.write_text(tricky, encoding="utf-8")
    with pytest.raises(CannotAnswer, match=r"drag_area_m2 = 0\.664"):
        write_into_car_sheet(path, result)
    assert path.read_text(encoding="utf-8") == tricky


def test_a_sheet_that_cannot_be_read(tmp_path, result):
    """No file, or no TOML: the sentence names it."""
    with pytest.raises(CannotRead, match="cannot be opened"):
        write_into_car_sheet(tmp_path / "none.toml", result)
    path = tmp_path / "car.toml"
    path.write_text("name = ", encoding="utf-8")
    with pytest.raises(CannotRead, match="not valid TOML"):
        write_into_car_sheet(path, result)
