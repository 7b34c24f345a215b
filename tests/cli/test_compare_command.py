"""The options of `compare` that click does not know by itself."""

import json
from pathlib import Path

import jsonschema
import pytest

from pullproof.cli.main import run
from pullproof.demo import DemoFiles, make_demo
from pullproof.report.documents import schema


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> DemoFiles:
    return make_demo(tmp_path_factory.mktemp("demo"))


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


def compare_arguments(demo: DemoFiles) -> list[object]:
    return [
        "compare",
        *("--car", demo.car_sheet, "--conditions", demo.conditions),
        *("--before", *demo.before, "--after", *demo.after),
    ]


def test_several_logs_follow_one_option(demo: DemoFiles, tmp_path: Path) -> None:
    """`--before a b --after c d` takes all four logs, and the JSON names the pulls of each on its side."""
    out = tmp_path / "c.json"
    assert status_of(*compare_arguments(demo), "--json", out) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("comparison"))
    for side, files in (("before", demo.before), ("after", demo.after)):
        assert {pull["log"] for pull in document[side]["pulls"]} == {path.name for path in files}


def test_window_level_and_main_reach_the_comparison(demo: DemoFiles, tmp_path: Path) -> None:
    """What is asked for on the command line is what the answer speaks of."""
    out = tmp_path / "c.json"
    asked = ("--window", "4200-6000", "--level", "0.8", "--main", "boost.mean", "--json", out)
    assert status_of(*compare_arguments(demo), *asked) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    assert document["window_rpm"] == [4200.0, 6000.0]
    assert document["main"] == "boost.mean"
    assert {measure["level"] for measure in document["measures"]} == {0.8}


def test_json_on_standard_output_stands_alone(demo: DemoFiles, capsys: pytest.CaptureFixture[str]) -> None:
    """With `--json -` standard output holds the document and nothing else."""
    assert status_of(*compare_arguments(demo), "--json", "-") == 0
    assert json.loads(capsys.readouterr().out)["schema"] == "pullproof.comparison/1"


@pytest.mark.parametrize("kind", ["html", "pdf", "png"])
def test_the_report_is_written_in_the_kind_that_its_name_says(demo: DemoFiles, tmp_path: Path, kind: str) -> None:
    """The end of the name chooses HTML, PDF or PNG; each file begins as its kind does."""
    report = tmp_path / f"r.{kind}"
    assert status_of(*compare_arguments(demo), "--report", report) == 0
    first = {"html": b"<!doctype html>", "pdf": b"%PDF-", "png": b"\x89PNG"}[kind]
    assert report.read_bytes()[:15].lower().startswith(first.lower())


@pytest.mark.parametrize(
    ("extra", "status", "words"),
    [
        (["--window", "6000-4000"], 2, "4000-6500"),
        (["--level", "1.5"], 2, "probability"),
        (["--main", "boost.men"], 2, "boost.mean"),
        (["--report", "r.docx"], 2, ".html, .pdf, .png"),
        (["--report", "no/such/folder/r.html"], 2, "does not exist"),
        (["--colour"], 2, "No such option"),
    ],
)
def test_wrong_use_is_one_sentence_and_status_two(
    demo: DemoFiles, capsys: pytest.CaptureFixture[str], extra: list[str], status: int, words: str
) -> None:
    """A slip on the command line ends with status 2 and a sentence that says what to write."""
    assert status_of(*compare_arguments(demo), *extra) == status
    error = capsys.readouterr().err
    assert words in error
    assert error.startswith("pullproof: ")
    assert len(error.splitlines()) == 1


def test_the_same_log_on_both_sides_is_wrong_use(demo: DemoFiles, capsys: pytest.CaptureFixture[str]) -> None:
    """A log cannot stand before and after the change."""
    log = demo.before[0]
    assert status_of("compare", "--car", demo.car_sheet, "--before", log, "--after", log) == 2
    assert log.name in capsys.readouterr().err


def test_a_log_misspelt_in_the_conditions_is_a_doubt(
    demo: DemoFiles, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An entry under a wrong name does not lose the weather in silence: the log and the nearest entry are named."""
    sheet = tmp_path / "conditions.toml"
    text = demo.conditions.read_text(encoding="utf-8")
    sheet.write_text(text.replace(demo.after[0].name, "misspelt-" + demo.after[0].name), encoding="utf-8")
    arguments = [sheet if argument == demo.conditions else argument for argument in compare_arguments(demo)]
    assert status_of(*arguments) == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert f'the conditions file says nothing of "{demo.after[0].name}"; the nearest entry is "misspelt-' in shown


def test_the_screen_says_why_difference_is_not_after_less_before(
    demo: DemoFiles, capsys: pytest.CaptureFixture[str]
) -> None:
    """Weather is taken out of the difference alone, so the row does not add up; a line below says so, and the level."""
    assert status_of(*compare_arguments(demo), "--level", "0.9") == 0
    shown = " ".join(capsys.readouterr().out.split())
    assert "means as driven" in shown
    assert "at the mean conditions of all pulls, with its 90 % interval" in shown
