"""`pullproof coastdown`: a car whose forces are known must get them back, and its sheet only when asked."""

import json
import tomllib
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from pullproof.cli.main import run
from pullproof.report.documents import schema

MASS, ROLLING, AREA = 1500.0, 0.012, 0.70
DENSITY = 1.2041
"""Dry air at 20 degC and 101.325 kPa, by ISO 2533's gas constant 287.053 J/(kg K). [kg/m3]"""

CAR = '# the owner\'s own words\nname = "blue hatch"\nmass_kg = 1500  # with fuel\ndrag_area_m2 = 0.9\n'


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def a_coast_down(path: Path, runs: int = 1) -> Path:
    """Neutral from 33 m/s on a level road in still air, by the closed form of dv/dt = -(a + b v2); 10 Hz.

    Solution: v = sqrt(a/b) tan(phi - sqrt(a b) t), an elementary integral. Rotating parts out of gear count 3 %.
    """
    effective = 1.03 * MASS
    a, b = MASS * 9.80665 * ROLLING / effective, 0.5 * DENSITY * AREA / effective
    rows = ["Time (s),Vehicle Speed (km/h),Engine RPM (rpm),Accelerator Pedal (%)"]
    clock = 0.0
    for _ in range(runs):
        rows += [f"{clock + step / 10:.1f},{3.6 * (3.0 + 0.3 * step):.2f},{1500 + 15 * step},40" for step in range(100)]
        clock += 10.0
        for step in range(900):
            speed = np.sqrt(a / b) * np.tan(np.arctan(33.0 * np.sqrt(b / a)) - np.sqrt(a * b) * step / 10)
            rows.append(f"{clock + step / 10:.1f},{3.6 * max(speed, 0.0):.2f},{850 + step % 7},0")
        clock += 90.0
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    made = {name: a_coast_down(tmp_path / f"{name}.csv") for name in ("out", "back")}
    made |= {"car": tmp_path / "car.toml", "conditions": tmp_path / "weather.toml"}
    made["car"].write_text(CAR, encoding="utf-8")
    air = "air_temperature_c = 20.0\nair_pressure_kpa = 101.325\nrelative_humidity_pct = 0\n"
    entries = [f'[[log]]\nfile = "{way}.csv"\ndirection = "{way}"\n{air}' for way in ("out", "back")]
    made["conditions"].write_text("\n".join(entries), encoding="utf-8")
    return made


def coastdown(files: dict[str, Path], *more: object) -> list[object]:
    both = (files["out"], files["back"])
    return ["coastdown", *both, "--car", files["car"], "--conditions", files["conditions"], *more]


def test_both_coefficients_come_back(files: dict[str, Path], tmp_path: Path) -> None:
    """Rolling resistance and drag area of the closed form come back within 1 % and lie in their intervals."""
    out = tmp_path / "c.json"
    assert status_of(*coastdown(files, "--json", out)) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("coastdown"))
    for key, true in (("rolling_resistance", ROLLING), ("drag_area_m2", AREA)):
        found = document[key]
        assert found["value"] == pytest.approx(true, rel=0.01)
        assert found["interval"][0] < true < found["interval"][1]
    assert {run["direction"] for run in document["runs"] if run["used"]} == {"out", "back"}


def test_the_screen_names_conditions_intervals_and_cautions(
    files: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """The conditions of the standards stand with what was found; one run each way is fewer than they want."""
    assert status_of(*coastdown(files)) == 0
    screen = " ".join(capsys.readouterr().out.split())
    for words in ("SAE J1263", "number of runs fail", "95 % intervals", "Nothing was written", "Cautions:", "motorway"):
        assert words in screen


def test_the_car_sheet_is_written_only_when_asked(files: dict[str, Path]) -> None:
    """Without `--write` the sheet keeps every byte; with it both values and their doubts stand in it, comments too."""
    assert status_of(*coastdown(files)) == 0
    assert files["car"].read_text(encoding="utf-8") == CAR
    assert status_of(*coastdown(files, "--write")) == 0
    text = files["car"].read_text(encoding="utf-8")
    sheet = tomllib.loads(text)
    assert sheet["drag_area_m2"] == pytest.approx(AREA, rel=0.01)
    assert sheet["rolling_resistance"] == pytest.approx(ROLLING, rel=0.01)
    assert set(sheet["doubt"]) == {"drag_area_m2", "rolling_resistance"}
    assert "# the owner's own words" in text
    assert "# with fuel" in text


def test_json_on_standard_output_stands_alone(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """With `--json -` standard output holds the document and nothing else."""
    assert status_of(*coastdown(files, "--json", "-")) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "pullproof.coastdown/1"


def test_without_a_coast_down_there_is_no_answer(
    files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A log in which the car never slows down by itself ends with status 1 and one sentence that names it."""
    rows = ["Time (s),Vehicle Speed (km/h),Engine RPM (rpm)"]
    rows += [f"{step / 10:.1f},{60 + step % 3},{2000 + step % 5}" for step in range(400)]
    log = tmp_path / "cruise.csv"
    log.write_text("\n".join(rows) + "\n", encoding="utf-8")
    assert status_of("coastdown", log, "--car", files["car"]) == 1
    error = capsys.readouterr().err
    assert "cruise.csv" in error
    assert len(error.strip().splitlines()) == 1


def test_without_mass_and_without_file(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """No mass: status 1 with what to add; no such log: status 3; no log at all: status 2."""
    files["car"].write_text('name = "x"\n', encoding="utf-8")
    assert status_of(*coastdown(files)) == 1
    assert "mass_kg" in capsys.readouterr().err
    assert status_of("coastdown", "none.csv", "--car", files["car"]) == 3
    assert status_of("coastdown", "--car", files["car"]) == 2
