"""What `read` and `pulls` print for people, on a console of 80 columns."""

from pathlib import Path

import pytest

from pullproof.cli.main import run

CAR = 'name = "x"\n[engine]\nredline_rpm = 6500\n'


def printed(capsys: pytest.CaptureFixture[str], *arguments: object) -> tuple[int, str]:
    """Exit status, and what stood on standard output, lines joined."""
    with pytest.raises(SystemExit) as left:
        run([str(argument) for argument in arguments])
    assert isinstance(left.value.code, int)
    return left.value.code, " ".join(capsys.readouterr().out.split())


@pytest.fixture(autouse=True)
def narrow(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("COLUMNS", "80")


@pytest.fixture
def log(tmp_path: Path) -> Path:
    """Two runs on the throttle alone, without pedal and road speed, and a temperature without unit."""
    lines = ["Time (s),Engine RPM (rpm),Throttle (%),Boost (psi),Intake Air Temperature"]
    for i in range(1600):
        phase = i % 800 / 20.0 - 20.0
        full = 0.0 <= phase <= 8.0
        rpm = 2000 + 540 * phase + 9 * (i % 3) if full else 2000 + i % 7
        lines.append(f"{i / 20:.2f},{rpm:.0f},{99 if full else 12},{15 if full else -8}.{i % 5},{30 + i % 3}")
    path = tmp_path / "run.csv"
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_a_doubt_stands_whole_below_the_table(capsys: pytest.CaptureFixture[str], log: Path) -> None:
    """The line for the car sheet can be copied: it is not cut up by the columns of a table."""
    status, shown = printed(capsys, "read", log)
    assert status == 0
    assert 'Doubts: - "Intake Air Temperature": ' in shown
    assert 'write "Intake Air Temperature" = "intake_air_temperature, degC"' in shown


def test_what_holds_for_all_pulls_is_said_once(capsys: pytest.CaptureFixture[str], log: Path, tmp_path: Path) -> None:
    """Two pulls rest on the same assumptions: each stands once, below the table, followed by the cautions."""
    car = tmp_path / "car.toml"
    car.write_text(CAR, encoding="utf-8")
    status, shown = printed(capsys, "pulls", log, "--car", car)
    assert status == 0
    assert "run.csv: 2 found, 2 used" in shown
    assert shown.count("no pedal in the log") == 1
    assert shown.count("no road speed in the log") == 1
    assert "closed course" in shown.partition("Cautions:")[2]


def test_nothing_read_needs_no_cautions(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Where no log could be read there is no run to be careful with: the error stands alone."""
    car = tmp_path / "car.toml"
    car.write_text(CAR, encoding="utf-8")
    assert printed(capsys, "pulls", tmp_path / "missing.csv", "--car", car) == (3, "")
