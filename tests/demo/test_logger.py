from pathlib import Path

import numpy as np
import pytest

from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull
from pullproof.demo.logger import BRACKETS, UNIT_ROW, LogStyle, write_log
from pullproof.demo.simulator import Drive, simulate_drive
from pullproof.demo.weather import Weather


@pytest.fixture(scope="module")
def drive() -> Drive:
    return simulate_drive(DemoCar(), Weather(20.0, 99.0), [Cruise(50.0, 2.0), FullPull()], np.random.default_rng(1))


def table(path: Path, style: LogStyle) -> tuple[list[list[str]], np.ndarray]:
    lines = path.read_bytes().decode(style.encoding).removesuffix(style.newline).split(style.newline)
    cells = [line.split(style.delimiter) for line in lines]
    heads = 2 if style.unit_row else 1
    numbers = [[float(cell.replace(style.decimal, ".")) for cell in row] for row in cells[heads:]]
    return cells[:heads], np.array(numbers)


@pytest.mark.parametrize("style", [BRACKETS, UNIT_ROW], ids=["brackets", "unit row"])
def test_file_is_a_full_table_of_numbers(style: LogStyle, drive: Drive, tmp_path: Path) -> None:
    """Every row has a number for every column, time rises, and the row rate is the logger's own."""
    write_log(drive, style, tmp_path / "log.csv", np.random.default_rng(0))
    heads, numbers = table(tmp_path / "log.csv", style)
    assert all(len(row) == len(style.columns) + 1 == numbers.shape[1] for row in heads)
    assert np.all(np.diff(numbers[:, 0]) > 0.0)
    assert np.mean(np.diff(numbers[:, 0])) == pytest.approx(style.row_period, rel=0.01)


@pytest.mark.parametrize("style", [BRACKETS, UNIT_ROW], ids=["brackets", "unit row"])
def test_columns_hold_what_the_car_did(style: LogStyle, drive: Drive, tmp_path: Path) -> None:
    """Turned back into the simulation's unit, every fast column is the signal, within noise, step and age."""
    write_log(drive, style, tmp_path / "log.csv", np.random.default_rng(0))
    _, numbers = table(tmp_path / "log.csv", style)
    rows = numbers[:, 0]
    for place, column in enumerate(style.columns, 1):
        truth = np.interp(rows, drive.signals["time"], drive.signals[column.signal])
        shown = numbers[:, place] / column.factor + (drive.weather.pressure_kpa if column.gauge else 0.0)
        allowed = (column.step + 3.0 * column.noise) / column.factor + 0.06 * np.ptp(truth)
        assert np.quantile(np.abs(shown - truth), 0.9) <= allowed, column.header


def test_slow_channel_is_held_between_answers(drive: Drive, tmp_path: Path) -> None:
    """A channel asked once a second repeats its value; the column changes no more often than it was asked."""
    write_log(drive, BRACKETS, tmp_path / "log.csv", np.random.default_rng(0))
    _, numbers = table(tmp_path / "log.csv", BRACKETS)
    place = next(i for i, column in enumerate(BRACKETS.columns, 1) if column.signal == "battery_voltage")
    changes = np.flatnonzero(np.diff(numbers[:, place]))
    assert changes.size > 5
    assert np.all(np.diff(changes) % BRACKETS.columns[place - 1].every == 0)


def test_same_generator_same_bytes(drive: Drive, tmp_path: Path) -> None:
    """The sensor noise comes from the generator alone."""
    for name, seed in [("a", 7), ("b", 7), ("c", 8)]:
        write_log(drive, UNIT_ROW, tmp_path / name, np.random.default_rng(seed))
    assert (tmp_path / "a").read_bytes() == (tmp_path / "b").read_bytes() != (tmp_path / "c").read_bytes()
