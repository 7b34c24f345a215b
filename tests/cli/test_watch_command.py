"""`pullproof watch` on a log with one fault, as a script would call it."""

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


def a_log(path: Path, *, coolant: float = 90.0) -> Path:
    """A minute with one pull from 2500 to 6500 rpm; coolant is hot from 20 to 25 s."""
    rows = ["Time (s),Engine RPM (rpm),Accelerator Pedal (%),Coolant Temperature (degC),Lambda,Knock Retard (deg)"]
    for step in range(60 * 20):
        time = step / 20
        full = 30.0 <= time <= 37.0
        rpm = 2500.0 + 4000.0 / 7.0 * (time - 30.0) if full else 2500.0 + 3.0 * (step % 40)
        hot = coolant if 20.0 <= time < 25.0 else 90.0 + 0.1 * (step % 20)
        mixture = 0.80 + 0.001 * (step % 7) if full else 0.99 + 0.002 * (step % 9)
        knock = 0.1 * (step % 5) if full else 0.0
        rows.append(f"{time:.2f},{rpm:.0f},{100 if full else 14},{hot:.1f},{mixture:.3f},{knock:.1f}")
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


@pytest.fixture
def car(tmp_path: Path) -> Path:
    sheet = tmp_path / "car.toml"
    sheet.write_text(CAR, encoding="utf-8")
    return sheet


def test_the_json_names_the_event_and_what_was_not_seen(tmp_path: Path, car: Path) -> None:
    """It fits its schema; five seconds of hot coolant are one event outside every pull."""
    out = tmp_path / "watch.json"
    assert status_of("watch", a_log(tmp_path / "a.csv", coolant=117.0), "--car", car, "--json", out) == 0
    document = json.loads(out.read_text(encoding="utf-8"))
    jsonschema.validate(document, schema("watch"))
    (event,) = document["events"]
    assert (event["rule"], event["kind"], event["place"]["pull"]) == ("coolant_temperature", "sustained", None)
    assert event["start_s"] == pytest.approx(20.0, abs=0.01)
    assert event["at_least_s"] == pytest.approx(4.95, abs=0.02)
    assert "oil_pressure" in {entry["id"] for entry in document["not_watched"]}


def test_the_screen_says_what_passed_and_never_that_all_is_well(
    tmp_path: Path, car: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """With and without an event the first sentence says how much was seen, and the cautions follow."""
    for coolant, words in ((117.0, "coolant temperature passed its limit"), (90.0, "none of these passed its limit")):
        assert status_of("watch", a_log(tmp_path / "a.csv", coolant=coolant), "--car", car) == 0
        shown = " ".join(capsys.readouterr().out.split())
        assert words in shown
        assert "This clears nothing" in shown
        assert "closed course" in shown
        assert "Not logged:" in shown


@pytest.mark.parametrize("suffix", ["html", "pdf", "png"])
def test_the_report_is_written(tmp_path: Path, car: Path, suffix: str) -> None:
    """In each of the three forms a file stands at the end."""
    report = tmp_path / f"watch.{suffix}"
    assert status_of("watch", a_log(tmp_path / "a.csv", coolant=117.0), "--car", car, "--report", report) == 0
    assert report.stat().st_size > 1000


def test_a_log_with_nothing_to_watch_ends_with_one(tmp_path: Path, car: Path, capsys) -> None:
    """Road speed alone is read but answers nothing: exit status 1 and a sentence that says what to log."""
    bare = tmp_path / "bare.csv"
    bare.write_text("Time (s),Vehicle Speed (km/h)\n" + "".join(f"{n},{n % 90}\n" for n in range(80)), encoding="utf-8")
    assert status_of("watch", bare, "--car", car) == 1
    assert "nothing in these logs can be watched" in capsys.readouterr().err


def test_a_limit_that_makes_no_sense_is_wrong_use(tmp_path: Path, car: Path, capsys) -> None:
    """A limit outside its range ends with 2 and names the key."""
    car.write_text(CAR + "[limits]\ncoolant_temperature_c = 900\n", encoding="utf-8")
    assert status_of("watch", a_log(tmp_path / "a.csv"), "--car", car) == 2
    assert "limits.coolant_temperature_c" in capsys.readouterr().err
