"""`pullproof plan` as a script and as a person would call it."""

import json
from pathlib import Path

import jsonschema
import pytest

from pullproof.cli.main import run
from pullproof.report.documents import schema

CAR = 'name = "blue hatch"\n[engine]\nredline_rpm = 6800\nfuel = "petrol"\naspiration = "turbo"\n'


def status_of(*arguments: object) -> int:
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code


@pytest.fixture
def car(tmp_path: Path) -> Path:
    sheet = tmp_path / "car.toml"
    sheet.write_text(CAR, encoding="utf-8")
    return sheet


def test_all_that_is_asked_for_is_written(tmp_path: Path, car: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One call gives the sentence, a table, JSON that fits its schema, a report and a run card."""
    out, report, card = tmp_path / "p.json", tmp_path / "p.html", tmp_path / "card.pdf"
    status = status_of(
        "plan", "--car", car, "--measure", "wheel_power.mean", "--effect", "2%", "--change-minutes", 45,
        "--samples-per-second", 25, "--json", out, "--report", report, "--card", card,
    )  # fmt: skip
    assert status == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("plan"))
    assert (document["unit"], document["effect"], document["costs"]["change_min"]) == ("%", 2.0, 45.0)
    assert document["logging"]["samples_per_second"] == 25.0
    assert report.stat().st_size > 5000
    assert card.read_bytes().startswith(b"%PDF")
    shown = " ".join(capsys.readouterr().out.split())
    assert "To see a difference of 2 % of its level in mean wheel power" in shown
    assert "Stop at once: lift" in shown
    assert "closed course" in shown


@pytest.mark.parametrize(
    ("more", "words"),
    [
        (["--measure", "power", "--effect", "2"], 'no measure "power"'),
        (["--measure", "boost.mean", "--effect", "two"], "no size of an effect"),
        (["--measure", "boost.mean", "--effect", "2", "--pull-minutes", "0"], "--pull-minutes"),
        (["--measure", "boost.mean", "--effect", "2", "--samples-per-second", "0"], "--samples-per-second"),
        (["--measure", "boost.mean", "--effect", "2", "--logs", "a.csv", "--before", "b.csv"], "--logs"),
        (["--measure", "boost.mean", "--effect", "2", "--card", "card.docx"], "run card cannot be written"),
        (["--measure", "boost.mean", "--effect", "2", "--after", "a.csv"], "after the change"),
    ],
)
def test_wrong_use_is_one_sentence(car: Path, more: list[str], words: str, capsys) -> None:
    """Exit status 2, what is wrong and what to do."""
    assert status_of("plan", "--car", car, *more) == 2
    error = capsys.readouterr().err
    assert words in error
    assert "Traceback" not in error


def test_an_earlier_log_that_is_not_there_cannot_be_read(tmp_path: Path, car: Path, capsys) -> None:
    """Exit status 3, with the file's name."""
    missing = tmp_path / "gone.csv"
    assert status_of("plan", "--car", car, "--measure", "boost.mean", "--effect", "2", "--logs", missing) == 3
    assert "gone.csv" in capsys.readouterr().err
