"""A season on the command line: from a library, and from a season sheet."""

import json
from pathlib import Path

import jsonschema
import pytest

from pullproof.analysis.history import season_history
from pullproof.analysis.history.season_sheet import load_season
from pullproof.cli.main import run
from pullproof.demo.library import fill_library
from pullproof.demo.season import make_season
from pullproof.demo.season_story import CHANGES
from pullproof.library import open_library
from pullproof.report.documents import schema


def left_with(arguments: list[str]) -> object:
    with pytest.raises(SystemExit) as left:
        run(["history", *arguments])
    return left.value.code


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("library")
    with open_library(folder) as opened:
        fill_library(opened)
    return folder


def test_a_library_and_its_sheet_tell_the_same_story(
    library: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The season in a library and the one in a folder give the same effects; the screen shows them with cautions."""
    from_library = tmp_path / "library.json"
    report = tmp_path / "season.html"
    named = ["--library", str(library), "--car", "quay wagon"]
    assert left_with([*named, "--json", str(from_library), "--report", str(report)]) == 0
    screen = " ".join(capsys.readouterr().out.split())
    assert "cannot be told apart" in screen
    assert "closed course" in screen
    assert "Peak wastegate duty over the season" in report.read_text("utf-8")
    found = season_history(load_season(make_season(tmp_path / "season").season), measures=["boost.peak", "pull.time"])
    first = json.loads(from_library.read_text("utf-8"))
    jsonschema.validate(first, schema("history"))
    assert [change["name"] for change in first["changes"]] == [change.name for change in CHANGES]
    assert [change["cost"] for change in first["changes"]] == [change.cost for change in CHANGES]
    by_id = {measure["id"]: measure for measure in first["measures"]}
    for other in found.measures:
        for effect, again in zip(by_id[other.id]["effects"], other.effects, strict=True):
            low, high = again.effect.interval
            assert tuple(effect["changes"]) == again.changes
            # A library keeps samples in single precision.
            assert effect["effect"]["value"] == pytest.approx(again.effect.value, abs=0.01 * (high - low))


def test_json_alone_on_standard_output(library: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json - standard output holds nothing but the document; a named main measure leads it."""
    named = ["--library", str(library), "--car", "quay wagon", "--main", "wheel_power.mean"]
    assert left_with([*named, "--json", "-"]) == 0
    document = json.loads(capsys.readouterr().out)
    assert document["main"] == "wheel_power.mean"
    assert document["sentence"].startswith("Mean wheel power")


def test_what_is_missing_is_said_in_a_sentence(library: Path, tmp_path: Path, capsys) -> None:
    """No car named, a car that is not there, no library, two sources: one sentence and the right exit status."""
    cases = [
        (["--library", str(library)], 2, "--car"),
        (["--library", str(library), "--car", "no such"], 1, "quay wagon"),
        (["--library", str(tmp_path / "nowhere"), "--car", "x"], 2, "no library"),
        (["--library", str(library), "--season", "x.toml"], 2, "one of the two"),
        (["--season", str(tmp_path / "none.toml")], 3, "none.toml"),
        (["--library", str(library), "--car", "quay wagon", "--main", "no.measure"], 2, "no.measure"),
    ]
    for arguments, status, wanted in cases:
        assert left_with(arguments) == status, arguments
        said = capsys.readouterr().err
        assert wanted in said, arguments
        assert "Traceback" not in said
    assert not (tmp_path / "nowhere").exists()
