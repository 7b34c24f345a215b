"""The README's first command, from nothing to a verdict."""

import json
from pathlib import Path

import jsonschema
import pytest

from pullproof.cli.main import run
from pullproof.report.documents import schema


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("demo") / "new"
    with pytest.raises(SystemExit) as left:
        run(["demo", "--dir", str(folder), "--json", str(folder.parent / "demo.json")])
    assert left.value.code == 0
    return folder


def test_demo_leaves_everything_that_the_guide_promises(demo: Path) -> None:
    """Car sheet, conditions, compressor map, four logs and the report are in the folder."""
    names = {path.name for path in demo.iterdir()}
    assert {"car.toml", "conditions.toml", "compressor-map.csv", "report.html"} <= names
    assert sum(name.endswith(".csv") for name in names - {"compressor-map.csv"}) == 4


def test_demo_report_shows_the_operating_line(demo: Path) -> None:
    """Both sides run on the invented map, with a picture."""
    report = (demo / "report.html").read_text(encoding="utf-8")
    assert "Compressor map" in report
    assert "invented 53 mm wheel" in report


def test_demo_answers_in_the_contracts_json(demo: Path) -> None:
    """The demo's JSON is a comparison's, with a verdict on the wastegate duty."""
    document = json.loads((demo.parent / "demo.json").read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("comparison"))
    assert document["main"] == "wastegate_duty.peak"
    main = next(measure for measure in document["measures"] if measure["id"] == document["main"])
    assert main["verdict"] == "lower"


def test_a_folder_that_cannot_be_made_is_wrong_use(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A file in the way is named, with what to do."""
    (tmp_path / "file").write_text("x", encoding="utf-8")
    with pytest.raises(SystemExit) as left:
        run(["demo", "--dir", str(tmp_path / "file")])
    assert left.value.code == 2
    assert "--dir" in capsys.readouterr().err
