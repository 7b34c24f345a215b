"""`pullproof power`: the power of a car that accelerates evenly, and what a standard may do to it."""

import json
import re
from pathlib import Path

import jsonschema
import numpy as np
import pytest

from pullproof.cli.main import run
from pullproof.report.documents import schema

GEARING = {"gear_ratios": [3.5, 2.1, 1.5, 1.1], "final_drive": 4.0}
CIRCUMFERENCE = 1.95
"""Of the tyre below, by its label [m]: 225 mm x 45 % x 2 + 17 in, times pi, rolling a few per cent less."""

CAR = f"""
name = "blue hatch"
mass_kg = 1500
tyre = "225/45R17"
gear_ratios = {GEARING["gear_ratios"]}
final_drive = {GEARING["final_drive"]}
drag_area_m2 = 0.70
rolling_resistance = 0.012
rotating_mass_factor = [1.40, 1.20, 1.10, 1.06]
[engine]
redline_rpm = 6800
fuel = "petrol"
aspiration = "turbo"
"""
ACCELERATION = 2.5
WARM = "air_temperature_c = 20.0\nair_pressure_kpa = 98.0\nrelative_humidity_pct = 40\n"


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def a_log(path: Path, *, pull: bool = True) -> Path:
    """Ten seconds of rest, a pull in third gear with 2.5 m/s2 from 14 to 32 m/s, and ten seconds after it; 20 Hz."""
    rows = ["Time (s),Engine RPM (rpm),Vehicle Speed (km/h),Accelerator Pedal (%),Throttle (%)"]
    per_speed = 60.0 * 1.5 * GEARING["final_drive"] / CIRCUMFERENCE
    for step in range(int(27.2 * 20)):
        time = step / 20
        along = np.clip(time - 10.0, 0.0, 7.2) if pull else 0.0
        full = pull and 10.0 <= time <= 17.2
        speed = 14.0 + ACCELERATION * along - (0.6 * max(time - 17.2, 0.0) if pull else 0.0)
        rows.append(f"{time:.2f},{per_speed * speed:.1f},{3.6 * speed:.2f},{100 if full else 12},{100 if full else 8}")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def files(tmp_path: Path) -> dict[str, Path]:
    made = {"log": a_log(tmp_path / "a.csv"), "car": tmp_path / "car.toml", "conditions": tmp_path / "weather.toml"}
    made["car"].write_text(CAR, encoding="utf-8")
    made["conditions"].write_text(f'[[log]]\nfile = "a.csv"\n{WARM}', encoding="utf-8")
    return made


def power_of(files: dict[str, Path], *more: object) -> list[object]:
    return ["power", files["log"], "--car", files["car"], "--conditions", files["conditions"], *more]


def test_even_acceleration_gives_the_power_of_newtons_law(files: dict[str, Path], tmp_path: Path) -> None:
    """The JSON holds (m_eff a + rolling + drag) v to 2 %, mass, road load and air worked out by hand."""
    out = tmp_path / "p.json"
    assert status_of(*power_of(files, "--json", out)) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("power"))
    pull = document["pulls"][0]
    assert (document["standard"], pull["log"], pull["gear"]) == ("none", "a.csv", 3)
    assert pull["corrected_kw"] is None
    rpm, power = np.array(pull["rpm"]), np.array(pull["wheel_power_kw"])
    speed = rpm * CIRCUMFERENCE / (60.0 * 1.5 * GEARING["final_drive"])
    # 98 kPa at 293.15 K: 1.165 kg/m3 dry, a little less with the water in it.
    force = 1500.0 * 1.10 * ACCELERATION + 0.012 * 1500.0 * 9.81 + 0.5 * 1.16 * 0.70 * speed**2
    middle = (rpm > rpm[0] + 500) & (rpm < rpm[-1] - 500)
    np.testing.assert_allclose(power[middle], (force * speed / 1e3)[middle], rtol=0.03)
    assert np.all(np.array(pull["lower_kw"])[middle] < (force * speed / 1e3)[middle])
    assert np.all(np.array(pull["upper_kw"])[middle] > (force * speed / 1e3)[middle])


def test_the_console_says_interval_doubts_and_cautions(
    files: dict[str, Path], capsys: pytest.CaptureFixture[str]
) -> None:
    """Whoever reads the screen sees the interval, what it rests on, and what to mind before the next run."""
    assert status_of(*power_of(files)) == 0
    screen = " ".join(capsys.readouterr().out.split())
    for words in ("95 % interval", "Most of the doubt", "Cautions:", "closed course", "no figure here says"):
        assert words in screen


def test_json_on_standard_output_stands_alone(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """With `--json -` standard output holds the document and nothing else."""
    assert status_of(*power_of(files, "--json", "-")) == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "pullproof.power/1"


def test_a_standard_corrects_and_warns(
    files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """On a usual day the factor is near one, and the screen warns of engines whose boost makes up for the weather."""
    out = tmp_path / "p.json"
    assert status_of(*power_of(files, "--standard", "iso-1585", "--json", out)) == 0
    pull = json.loads(out.read_text(encoding="utf-8"))["pulls"][0]
    assert 0.95 < pull["correction"] < 1.05
    assert pull["corrected_kw"][5] == pytest.approx(pull["correction"] * pull["wheel_power_kw"][5])
    assert "boost control makes up for weather" in " ".join(capsys.readouterr().out.split())


def test_a_standard_is_refused_outside_its_range_unless_asked_for(
    files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Frost lies outside SAE J1349's 15 to 35 degC: no factor, status 1, one sentence; with the flag there is one."""
    frost = WARM.replace("20.0", "-5.0")
    files["conditions"].write_text(f'[[log]]\nfile = "a.csv"\n{frost}', encoding="utf-8")
    out = tmp_path / "p.json"
    asked = power_of(files, "--standard", "sae-j1349", "--json", out)
    assert status_of(*asked) == 1
    error = capsys.readouterr().err.strip()
    assert "SAE J1349 does not hold here" in error
    assert "--outside-limits" in error
    assert len(error.splitlines()) == 1
    assert json.loads(out.read_text(encoding="utf-8"))["pulls"][0]["correction"] is None
    assert status_of(*asked, "--outside-limits") == 0
    assert json.loads(out.read_text(encoding="utf-8"))["pulls"][0]["correction"] is not None


@pytest.mark.parametrize("kind", ["html", "pdf", "png"])
def test_the_report_is_written(files: dict[str, Path], tmp_path: Path, kind: str) -> None:
    """A report of each kind is written, and begins as its kind does."""
    report = tmp_path / f"r.{kind}"
    assert status_of(*power_of(files, "--report", report)) == 0
    first = {"html": b"<!doctype html>", "pdf": b"%PDF-", "png": b"\x89PNG"}[kind]
    assert report.read_bytes()[:15].lower().startswith(first.lower())


def test_a_car_without_mass_has_no_power(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """Without the mass the question cannot be answered, and the sentence says what to add."""
    files["car"].write_text(CAR.replace("mass_kg = 1500\n", ""), encoding="utf-8")
    assert status_of(*power_of(files)) == 1
    assert "mass_kg" in capsys.readouterr().err


def test_a_log_without_a_pull_is_named(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """A drive without a pull ends with status 1 and one sentence that names the file."""
    a_log(files["log"], pull=False)
    assert status_of(*power_of(files)) == 1
    error = capsys.readouterr().err
    assert "a.csv" in error
    assert len(error.strip().splitlines()) == 1


def test_other_slips(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """An unknown standard is wrong use; a log and a map that are not there cannot be read."""
    assert status_of(*power_of(files, "--standard", "din")) == 2
    assert "sae-j1349" in capsys.readouterr().err
    assert status_of("power", "none.csv", "--car", files["car"]) == 3
    assert status_of(*power_of(files, "--compressor-map", "none.csv")) == 3


def test_a_map_without_a_pressure_in_the_log_does_not_cost_the_power(
    files: dict[str, Path], tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Where no operating line can be drawn the power stands, and it is said why the line is missing."""
    rows = ["60000,10,1.2", "60000,60,1.15", "60000,100,1.02", "120000,40,2", "120000,140,1.9", "120000,220,1.4"]
    head = ["reference_temperature,25,degC", "reference_pressure,100,kPa"]
    head.append("corrected_speed,corrected_flow,pressure_ratio")
    wheel = tmp_path / "map.csv"
    wheel.write_text("\n".join([*head, "rpm,g/s,1", *rows]) + "\n", encoding="utf-8")
    assert status_of(*power_of(files, "--compressor-map", wheel)) == 0
    assert "No operating line" in capsys.readouterr().out


def test_the_peak_of_torque_has_an_interval(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """Torque is power over engine speed, so its peak is as much in doubt as the power there; nobody prints it bare."""
    assert status_of("power", files["log"], "--car", files["car"], "--conditions", files["conditions"]) == 0
    shown = " ".join(capsys.readouterr().out.split()).replace("\N{NO-BREAK SPACE}", " ")
    peak = re.search(r"torque, as wheel power over engine speed, at ([\d.]+) N m \(95 % interval ([\d.]+) to ", shown)
    assert peak
    # Newton's law without drag, through the gearing, is a floor: rotating parts 1.10, rolling resistance 0.012.
    force = 1500.0 * 1.10 * ACCELERATION + 0.012 * 1500.0 * 9.81
    radius = CIRCUMFERENCE / (2.0 * np.pi)
    assert float(peak[1]) > force * radius / (1.5 * GEARING["final_drive"])
    assert float(peak[2]) < float(peak[1])


def test_a_diesel_is_told_what_its_factor_needs(files: dict[str, Path], capsys: pytest.CaptureFixture[str]) -> None:
    """Without the fuel per cycle the correction is refused with the line to add; with it the answer has a factor."""
    diesel = CAR.replace('"petrol"', '"diesel"')
    files["car"].write_text(diesel, encoding="utf-8")
    asked = (
        "power",
        files["log"],
        "--car",
        files["car"],
        "--conditions",
        files["conditions"],
        "--standard",
        "iso-1585",
    )
    assert status_of(*asked) == 1
    assert "fuel_mg_per_l" in capsys.readouterr().err
    files["car"].write_text(f"{diesel}fuel_mg_per_l = 110\nboost_ratio = 2.0\n", encoding="utf-8")
    assert status_of(*asked, "--json", files["car"].with_name("out.json")) == 0
    document = json.loads(files["car"].with_name("out.json").read_text(encoding="utf-8"))
    # f_m = 0.036 * 55 - 1.14 = 0.84 on (99 / 97.07)^0.7 (293 / 298)^1.2, vapour of 40 % at 20 degC being 0.935 kPa.
    expected = ((99.0 / (98.0 - 0.935)) ** 0.7 * (293.0 / 298.0) ** 1.2) ** 0.84
    assert document["pulls"][0]["correction"] == pytest.approx(expected, abs=2e-4)
