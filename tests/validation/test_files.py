"""Written files hold the values that were recorded, in the style that was drawn."""

import csv
import io

import numpy as np
import pytest
from validation.batches import join, length, take
from validation.calibration import calibrated
from validation.drives import draw_pieces, joined
from validation.files import UNITS, draw_style, write
from validation.finding import FinderChunk, judge_drive, judge_pulls
from validation.garage import draw_cars
from validation.loggers import Sampled
from validation.scatter import Liability
from validation.simulate import simulate

from pullproof.car import Car


def sampled():
    time = np.arange(6) / 5.0
    values = {
        "engine_speed": np.linspace(3000, 3500, 6),
        "charge_pressure": np.array([100.0, 120.0, np.nan, 150.0, 180.0, 200.0]),
        "intake_air_temperature": np.full(6, 25.0),
        "wastegate_duty": np.linspace(100, 60, 6),
    }
    return Sampled(time, values, {}, 0.0)


@pytest.mark.parametrize("seed", range(40))
def test_file_holds_the_values(seed):
    """Read back by the standard library's csv module, every cell is the recorded value in the style's unit."""
    rng = np.random.default_rng(seed)
    style = draw_style(rng)
    data, truths = write(sampled(), style, 99.0, rng)
    lines = data.decode(style.encoding).split(style.newline)[style.preamble :]
    rows = list(csv.reader(io.StringIO("\n".join(lines)), delimiter=style.delimiter))
    body = [row for row in rows[2 if style.unit_place == "row" else 1 :] if row]
    assert len(body) == 6
    place = next(k for k, truth in enumerate(truths) if truth.channel == "charge_pressure")
    cells = [row[place].replace(",", ".") for row in body]
    assert cells[2] == ""
    unit = style.units["charge_pressure"]
    expected = UNITS[unit][1](np.array([200.0]), 99.0)[0]
    assert float(cells[5]) == pytest.approx(expected, abs=0.006)


def test_psi_and_fahrenheit_follow_their_definitions():
    """1 psi is 6.894757 kPa and 0 degC is 32 degF (NIST SP 811, appendix B)."""
    assert UNITS["psi"][1](np.array([6.894757]), 0.0)[0] == pytest.approx(1.0)
    assert UNITS["psi gauge"][1](np.array([106.894757]), 100.0)[0] == pytest.approx(1.0)
    assert UNITS["degF"][1](np.array([0.0, 100.0]), 0.0) == pytest.approx([32.0, 212.0])


class FakeDrive:
    wanted = ((10.0, 15.0), (30.0, 36.0))
    allowed = ((50.0, 53.0),)


def test_pulls_are_matched():
    """A hit, a miss, an allowed remainder and a false find are told apart."""
    counts, errors = judge_pulls([(10.1, 14.9), (50.2, 53.0), (70.0, 75.0)], FakeDrive())
    assert counts == {"wanted": 2, "found": 3, "hit": 1, "false": 1}
    assert errors[0]["start_error"] == pytest.approx(0.1)
    assert errors[0]["end_error"] == pytest.approx(-0.1)


@pytest.fixture(scope="module")
def drives():
    seeds = [7101, 7102, 7103]
    cars = calibrated(draw_cars(seeds), np.zeros((3, 2)))
    drawn = [
        draw_pieces(np.random.default_rng(seed), take(cars, slice(row, row + 1)), Liability(1.0, 1.0, np.inf))
        for row, seed in enumerate(seeds)
    ]
    run = join([part for part, _ in drawn])
    recording, start, found = simulate(run), 0, []
    for part, pieces in drawn:
        rows = range(start, start + length(part.driver))
        found.append(joined(np.random.default_rng(start), recording, rows, run, pieces))
        start = rows.stop
    return found


def test_drives_contain_what_they_say(drives):
    """In every wanted pull the pedal is at its stop, one gear is in, and the engine gains speed throughout."""
    for drive in drives:
        signals, time = drive.recording.signals, drive.recording.time
        assert len(drive.wanted) == drive.pieces.count("good") >= 1
        top = drive.run.driver.full_pedal[0] if "half pedal" not in drive.pieces[:1] else None
        for first, last in drive.wanted:
            inside = (time > first + 0.02) & (time < last - 0.02)
            pedal = signals["pedal_position"][inside, 0]
            assert np.ptp(pedal) < 0.01
            assert top is None or pedal[0] == pytest.approx(top, abs=0.01)
            assert np.ptp(signals["gear"][inside, 0]) == 0
            assert np.all(np.diff(signals["engine_speed"][inside, 0]) > 0)


def test_drives_have_no_steps_in_the_bridges(drives):
    """Engine speed is continuous over the whole drive, gear changes apart."""
    for drive in drives:
        speed = drive.recording.signals["engine_speed"][:, 0]
        assert np.abs(np.diff(speed)).max() < 700


def test_a_crash_is_reported(drives, tmp_path):
    """A reader that breaks is a finding, and the run goes on."""

    def broken(path, car):
        message = "broken"
        raise ValueError(message)

    chunk = FinderChunk([], [], [])
    judge_drive(7104, drives[0], Car("any"), tmp_path, (broken, broken), chunk)
    assert chunk.drives[0]["refusal"] == "CRASH ValueError: broken"
