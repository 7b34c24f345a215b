"""`pullproof airpath`, and the prediction that `compare` sets beside the measurement."""

import json
import math
from pathlib import Path

import jsonschema
import pytest

from pullproof.cli.main import run
from pullproof.demo import DemoFiles, make_demo
from pullproof.report.documents import schema

PIPE = """
name = "long straight pipe"
side = "cold"
bore_mm = 50
roughness_um = 1.5
[flow]
rpm = [4000, 6000]
air_mass_flow_gs = [100, 150]
charge_pressure_kpa = [200, 200]
charge_temperature_c = 40
[[element]]
kind = "pipe"
length_mm = 2000
"""
OLD = """
name = "old hot pipe"
side = "hot"
bore_mm = 46
[[element]]
kind = "hose"
[[element]]
kind = "mitre"
angle_deg = 90
[[element]]
kind = "pipe"
length_mm = 500
[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 60
"""
NEW = """
name = "new hot pipe"
side = "hot"
bore_mm = 60
[[element]]
kind = "hose"
[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 90
formed = true
[[element]]
kind = "pipe"
length_mm = 500
"""
MAP = """name,invented wheel,
reference_temperature,25,degC
reference_pressure,100,kPa
corrected_speed,corrected_flow,pressure_ratio
rpm,g/s,1
60000,10,1.2
60000,60,1.15
60000,100,1.02
120000,40,2.0
120000,140,1.9
120000,220,1.4
200000,90,4.2
200000,260,3.9
200000,400,2.0
"""


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    return make_demo(tmp_path_factory.mktemp("demo"))


@pytest.fixture(scope="module")
def paths(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("paths")
    texts = {"pipe.toml": PIPE, "old.toml": OLD, "new.toml": NEW, "map.csv": MAP, "car.toml": 'name = "blue hatch"\n'}
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return {Path(name).stem: folder / name for name in texts}


def test_a_straight_pipe_loses_what_the_handbook_says(paths: dict[str, Path], tmp_path: Path) -> None:
    """Loss of a straight smooth pipe is f (L/D) rho v2/2 with Blasius' f = 0.316 Re^-0.25 [White, Fluid Mechanics].

    Blasius holds within some per cent at this Reynolds number of about 190 000 (at 150 g/s), so 8 % is asked for.
    """
    out = tmp_path / "a.json"
    assert status_of("airpath", paths["pipe"], "--car", paths["car"], "--json", out) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("airpath"))
    density = 200e3 / (287.05 * 313.15)
    area = math.pi / 4 * 0.05**2
    for flow, found in zip((0.100, 0.150), document["paths"][0]["loss_kpa"]["estimate"], strict=True):
        speed = flow / (density * area)
        reynolds = density * speed * 0.05 / 1.91e-5  # viscosity of air at 40 degC, handbook tables [Pa s]
        friction = 0.316 * reynolds**-0.25
        assert found == pytest.approx(1e-3 * friction * 2.0 / 0.05 * 0.5 * density * speed**2, rel=0.08)
    assert document["change"] is None


def test_a_change_of_path_says_what_it_does_and_what_to_cut(
    paths: dict[str, Path], demo: DemoFiles, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A wider pipe loses less, the flow is that of the pulls given, and the cut list is of the new path."""
    out = tmp_path / "a.json"
    arguments = ("--car", demo.car_sheet, "--conditions", demo.conditions, "--logs", *demo.before, "--json", out)
    assert status_of("airpath", paths["old"], paths["new"], *arguments) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("airpath"))
    assert document["change"]["mean_saved"]["interval"][0] > 0.0
    assert document["change"]["wastegate_duty_change"]["estimate"] < 0.0
    assert demo.before[0].name in document["flow"]["origin"]
    assert document["cut_list"]["name"] == "new hot pipe"
    # A formed bend of 90 degrees on a 90 mm radius takes a quarter circle of tube.
    bend = next(piece for piece in document["cut_list"]["pieces"] if piece["angle_deg"])
    assert bend["developed_mm"] == pytest.approx(0.5 * math.pi * 90.0)
    screen = " ".join(capsys.readouterr().out.split())
    for words in ("Cut list, new hot pipe", "clamps for", "Taken for granted", "Cautions:", "behind a guard"):
        assert words in screen


@pytest.mark.parametrize("kind", ["html", "pdf", "png"])
def test_the_report_is_written(paths: dict[str, Path], demo: DemoFiles, tmp_path: Path, kind: str) -> None:
    """A report of each kind is written, and begins as its kind does."""
    report = tmp_path / f"r.{kind}"
    assert status_of("airpath", paths["old"], paths["new"], "--car", demo.car_sheet, "--report", report) == 0
    first = {"html": b"<!doctype html>", "pdf": b"%PDF-", "png": b"\x89PNG"}[kind]
    assert report.read_bytes()[:15].lower().startswith(first.lower())


@pytest.mark.parametrize(
    ("text", "status", "words"),
    [
        (None, 3, "path.toml"),
        ("name = ", 3, "path.toml"),
        (OLD.replace("mitre", "mitten"), 2, "mitten"),
        (OLD, 1, "redline_rpm"),
    ],
)
def test_errors_are_one_sentence(
    paths: dict[str, Path],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    text: str | None,
    status: int,
    words: str,
) -> None:
    """A missing or broken file, an unknown element and a car without data each end with their status and one line."""
    path = tmp_path / "path.toml"
    if text is not None:
        path.write_text(text, encoding="utf-8")
    assert status_of("airpath", path, "--car", paths["car"]) == status
    error = capsys.readouterr().err.strip()
    assert words in error
    assert len(error.splitlines()) == 1


def compare(demo: DemoFiles, *more: object) -> list[object]:
    sides = ("--before", *demo.before, "--after", *demo.after)
    return ["compare", "--car", demo.car_sheet, "--conditions", demo.conditions, *sides, *more]


def test_compare_sets_the_prediction_beside_the_measurement(
    paths: dict[str, Path], demo: DemoFiles, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Screen and JSON give, for each measure that the paths predict, measured minus predicted with its interval."""
    out = tmp_path / "c.json"
    asked = ("--path-before", paths["old"], "--path-after", paths["new"], "--json", out)
    assert status_of(*compare(demo, *asked)) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("comparison"))
    found = {one["id"]: one for one in document["prediction"]["measures"]}
    loss = {"charge_path_loss.mean": "cooler_loss"}
    assert set(found) == {"wastegate_duty.mean", "boost.mean", "charge_pressure_drop.mean", "boost.reaches", *loss}
    for one in found.values():
        looked = (*document["measures"], *document["air_system"]["quantities"])
        measured = next(entry for entry in looked if entry["id"] == loss.get(one["id"], one["id"]))
        assert one["measured"] == measured["difference"]
        assert one["difference"] == pytest.approx(one["measured"] - one["predicted"])
        assert one["interval"][0] < one["difference"] < one["interval"][1]
    screen = capsys.readouterr().out
    assert document["prediction"]["sentence"] in " ".join(screen.split())


def test_the_report_of_a_comparison_shows_prediction_power_and_map(
    paths: dict[str, Path], demo: DemoFiles, tmp_path: Path
) -> None:
    """All that goes beyond the logs stands in the report, each figure with its words."""
    report = tmp_path / "r.html"
    asked = ("--path-before", paths["old"], "--path-after", paths["new"], "--compressor-map", paths["map"])
    assert status_of(*compare(demo, *asked, "--report", report)) == 0
    page = report.read_text(encoding="utf-8")
    for words in (
        "Prediction and measurement",
        "Pressure loss by element, before and after",
        "The air system, before and after",
        "Wheel power over engine speed, before and after",
        "Operating line on the compressor map",
        "Cautions",
    ):
        assert words in page


def test_one_path_alone_predicts_nothing(
    paths: dict[str, Path], demo: DemoFiles, capsys: pytest.CaptureFixture[str]
) -> None:
    """A prediction needs both paths; the sentence names the option that is missing."""
    assert status_of(*compare(demo, "--path-before", paths["old"])) == 2
    assert "--path-after" in capsys.readouterr().err


def test_a_prediction_that_cannot_be_made_does_not_cost_the_comparison(
    paths: dict[str, Path], demo: DemoFiles, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A path in which the air would be far too fast gives no prediction; the verdict stands, and it is said why."""
    narrow, out, report = tmp_path / "narrow.toml", tmp_path / "c.json", tmp_path / "r.html"
    narrow.write_text(NEW.replace("bore_mm = 60", "bore_mm = 15"), encoding="utf-8")
    asked = ("--path-before", paths["old"], "--path-after", narrow, "--json", out, "--report", report)
    assert status_of(*compare(demo, *asked)) == 0
    assert "prediction" not in json.loads(out.read_text(encoding="utf-8"))
    assert "Mach" in capsys.readouterr().out
    assert "Not shown" in report.read_text(encoding="utf-8")
