import re
from pathlib import Path

import pytest

import pullproof
from pullproof.analysis.air_system import load_compressor_map
from pullproof.analysis.mean_operating_line import mean_operating_line
from pullproof.cli.main import run
from pullproof.demo import DemoFiles
from pullproof.demo.weekends import OUTINGS

DOCS = Path(__file__).parents[2] / "docs"
PAGE = (DOCS / "demo.md").read_text(encoding="utf-8")


def test_page_prints_the_true_effect(demo: DemoFiles) -> None:
    """Every true effect on the page is the one that the demo computes, to the digits printed."""
    rows = re.findall(r"^\| `([a-z_.]+)` \| (-?[0-9.]+) \| \S+ \|$", PAGE, re.MULTILINE)
    assert len(rows) >= 6
    for measure, printed in rows:
        digits = len(printed.partition(".")[2])
        assert demo.truth[measure] == pytest.approx(float(printed), abs=0.5 * 10**-digits), measure


def test_page_tells_the_story_that_is_driven() -> None:
    """Each log stands on the page with its air."""
    for outing in OUTINGS:
        air = f"{outing.weather.temperature_c:.1f} °C, {outing.weather.pressure_kpa:.1f} kPa"
        assert re.search(rf"^\| `{re.escape(outing.file)}` .* \| {air} \|", PAGE, re.MULTILINE)


SENSORS = (DOCS / "guide.md").read_text(encoding="utf-8").partition("### Sensors beside the compressor")[2]


def test_the_guides_sensors_are_what_the_sheet_takes(tmp_path: Path) -> None:
    """The lines that the guide shows for sensors beside the compressor load, and name channels that exist."""
    sheet = tmp_path / "car.toml"
    block = re.search(r"```toml\n(.*?)```", SENSORS, re.DOTALL)
    assert block
    sheet.write_text(f'name = "x"\n{block[1]}', encoding="utf-8")
    rules = pullproof.load_car(sheet).columns
    assert len(rules) == 4
    assert {rule.channel for rule in rules.values()} <= set(pullproof.CHANNELS)


def test_the_guides_example_of_sensors_runs(demo: DemoFiles, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its commands run on the demo's files, and the operating line rests on the sensor behind the compressor."""
    monkeypatch.chdir(demo.car_sheet.parent)
    block = re.search(r"```sh\n(.*?)```", SENSORS, re.DOTALL)
    assert block
    commands = [line.split()[1:] for line in block[1].splitlines() if line.startswith("pullproof ")]
    for command in commands[1:]:
        with pytest.raises(SystemExit) as left:
            run([*command, "--json", "out.json"])
        assert left.value.code == 0
    car, sheet = pullproof.load_car(demo.car_sheet), pullproof.load_conditions(demo.conditions)
    log = pullproof.read_log(demo.before[0], car)
    pull = next(pull for pull in pullproof.find_pulls(log, car) if pull.used)
    record = pullproof.record_pull(log, pull, car, sheet.of(log.file))
    line = mean_operating_line([record], car, load_compressor_map(demo.compressor_map))
    assert line.pressure_ratio.source == "sensor"
