"""Logs of real cars by strangers: what is found there can be checked against the cells of the file."""

from contextlib import suppress
from pathlib import Path

import numpy as np
import pytest

from pullproof.analysis.watch import watch
from pullproof.car import Car, Engine
from pullproof.errors import PullproofError
from pullproof.reading import read_log

LOGS = Path(__file__).parents[4] / "shared" / "logs"
CAR = Car("a real car", engine=Engine(fuel="petrol", aspiration="turbo", redline_rpm=6700))


def logs_of(folder: str) -> list[Path]:
    if not LOGS.exists():
        pytest.skip("the folder of real logs is not beside this repository")
    return sorted((LOGS / folder).glob("*.csv"))


def test_a_turbocharged_cars_worst_knock_is_the_files_own() -> None:
    """Over seven drives the worst retard is the most negative cell of the knock column, to its instant."""
    logs = logs_of("turbo-petrol-a")
    found = watch(logs, car=CAR)
    knock = next(entry for entry in found.watched if entry.rule == "knock_retard")
    cells = {}
    for path in logs:
        rows = path.read_text("latin-1").splitlines()
        column = next(i for i, name in enumerate(rows[0].split(",")) if name.startswith("Feedback Knock"))
        values = [float(row.split(",")[column]) for row in rows[1:] if row.count(",") >= column]
        cells[path.name] = min(values)
    worst = min(cells, key=cells.get)
    assert knock.worst == pytest.approx(-cells[worst])
    assert knock.place.log == worst


def test_a_mining_truck_was_driven_hard_before_it_was_warm() -> None:
    """The log shows full load at 57 degC of coolant, nine minutes after the start: the one limit that was passed."""
    (path,) = logs_of("heavy-truck")
    found = watch([path], car=Car("truck", engine=Engine(fuel="diesel", aspiration="turbo")))
    assert {event.rule for event in found.events} == {"coolant_cold"}
    first = min(found.events, key=lambda event: event.start_s)
    log = read_log(path)
    coolant = log.traces["coolant_temperature"]
    there = coolant.values[np.searchsorted(coolant.time, first.place.at_s)]
    assert first.worst == pytest.approx(there, abs=0.1)
    assert first.place.at_s < 700.0


def test_a_24_volt_truck_charges_as_it_should() -> None:
    """26.5 to 28 V is no fault of a truck's battery."""
    (path,) = logs_of("heavy-truck")
    found = watch([path], car=Car("truck", engine=Engine(fuel="diesel", aspiration="turbo")))
    assert next(entry for entry in found.watched if entry.rule == "battery_low").status == "within"


@pytest.mark.parametrize("folder", ["diesel-round-robin", "unit-row", "one-hertz", "turbo-petrol-b", "no-time"])
def test_no_real_log_breaks_it(folder: str) -> None:
    """Held values, restarted clocks, missing channels: an answer or a refusal, never a fault."""
    with suppress(PullproofError):
        found = watch(logs_of(folder), car=CAR)
        assert found.not_watched
        for event in found.events:
            assert event.kind != "single sample" or event.at_least_s == 0.0
