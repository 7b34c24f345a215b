import datetime
from pathlib import Path

import numpy as np
import pytest

from pullproof.car import load_car
from pullproof.conditions import load_conditions
from pullproof.demo import DemoFiles, make_demo
from pullproof.demo.car import DemoCar
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.true_effect import measured
from pullproof.demo.weekends import CHANGE, OUTINGS, WINDOW, as_found, mean_weather, with_new_pipe


def test_car_sheet_says_what_was_simulated(demo: DemoFiles) -> None:
    """The sheet loads, and every figure in it is the simulated car's."""
    car, truth = load_car(demo.car_sheet), DemoCar()
    assert (car.name, car.tyre, car.mass_kg) == (truth.name, truth.chassis.tyre, truth.chassis.mass)
    assert car.gear_ratios == truth.chassis.gear_ratios
    assert car.rotating_mass_factor == truth.chassis.rotating_mass_factor
    assert car.engine.redline_rpm == truth.engine.redline
    assert car.engine.displacement_l == pytest.approx(truth.engine.displacement * 1e3)
    assert car.boost.wastegate_duty_closed == 100.0


def test_conditions_describe_every_log_and_one_change(demo: DemoFiles) -> None:
    """Each log has its day and air, there are two days a good week apart, and a single change."""
    sheet = load_conditions(demo.conditions)
    assert set(sheet.logs) == {path.name for path in (*demo.before, *demo.after)}
    assert {entry.day for entry in sheet.logs.values()} == {"saturday", "sunday"}
    assert all(None not in (e.air.temperature_c, e.air.pressure_kpa, e.when) for e in sheet.logs.values())
    assert [change.what for change in sheet.changes] == [CHANGE]
    weekdays = {entry.day: entry.when.strftime("%A").lower() for entry in sheet.logs.values() if entry.when}
    assert all(day == name for day, name in weekdays.items())


def test_change_lies_between_the_logs_before_and_after(demo: DemoFiles) -> None:
    """The pipe was changed after the last log of the old one and before the first of the new one."""
    sheet = load_conditions(demo.conditions)

    def times(paths: tuple[Path, ...]) -> list[datetime.datetime]:
        return [when for path in paths if (when := sheet.of(path.name).when)]

    (change,) = sheet.changes
    assert change.when is not None
    assert max(times(demo.before)) < change.when < min(times(demo.after))


def test_files_are_the_same_every_time(demo: DemoFiles, tmp_path: Path) -> None:
    """The demo is the same byte for byte on each run, and another seed gives other logs of the same story."""
    again, other = make_demo(tmp_path / "again"), make_demo(tmp_path / "other", seed=3)
    for path in (demo.car_sheet, demo.conditions, *demo.before, *demo.after):
        assert path.read_bytes() == (tmp_path / "again" / path.name).read_bytes()
    assert again.truth == demo.truth == other.truth
    assert other.before[0].read_bytes() != demo.before[0].read_bytes()
    assert other.conditions.read_bytes() == demo.conditions.read_bytes()


def test_weather_hides_part_of_what_the_pipe_did(demo: DemoFiles) -> None:
    """What the demo is there to teach: the plain difference of the means falls well short of the true effect."""
    car, peaks = DemoCar(), {True: [], False: []}
    for outing in OUTINGS:
        built = with_new_pipe(car) if outing.new_pipe else car
        drive = simulate_drive(built, outing.weather, outing.script, None)
        peaks[outing.new_pipe] += [
            measured(drive, pull, WINDOW)["wastegate_duty.peak"] for pull in drive.pulls if not pull.spoiled
        ]
    plain = np.mean(peaks[True]) - np.mean(peaks[False])
    true = demo.truth["wastegate_duty.peak"]
    assert 0.3 < plain / true < 0.8


def test_weather_differs_between_the_days() -> None:
    """About 9 K and 1 kPa lie between the days: a usual spring fortnight (common practice, no source)."""
    saturday, sunday = ([o.weather for o in OUTINGS if o.day == day] for day in ("saturday", "sunday"))
    assert 7.0 < np.mean([w.temperature_c for w in sunday]) - saturday[0].temperature_c < 11.0
    assert 0.7 < saturday[0].pressure_kpa - np.mean([w.pressure_kpa for w in sunday]) < 1.5
    assert 12.0 < mean_weather().temperature_c < 22.0


def test_days_differ_for_no_known_reason() -> None:
    """Two days draw two slightly different cars, by amounts that nobody would notice on the sheet."""
    first, second = (as_found(DemoCar(), np.random.default_rng(day)) for day in (1, 2))
    assert first.actuator.preload != second.actuator.preload
    assert abs(first.chassis.mass - second.chassis.mass) < 60.0
