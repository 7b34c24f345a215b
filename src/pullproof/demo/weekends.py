"""The demo's story: a Saturday and the Sunday of the week after, one charge pipe changed at noon on the Sunday.

The Saturday is cool and the barometer high, the Sunday warm and low, which makes the turbocharger work harder. Somebody
who compares the Saturday with the Sunday afternoon sees the pipe's gain shrink. The old pipe was driven once more on
Sunday morning: that is what lets the days be told from the pipe. Everything is invented.
"""

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from pullproof.demo.car import DemoCar, Pipe
from pullproof.demo.driving import Cruise, FullPull, Idle, Script
from pullproof.demo.logger import BRACKETS, UNIT_ROW, LogStyle, write_log
from pullproof.demo.sheets import NEW_PIPE, OLD_PIPE, car_sheet, conditions_sheet
from pullproof.demo.simulator import Drive, simulate_drive
from pullproof.demo.true_effect import true_effect
from pullproof.demo.weather import Weather
from pullproof.demo.wheel_map import compressor_map

__all__ = [
    "CHANGE",
    "OUTINGS",
    "SEED",
    "WINDOW",
    "DemoFiles",
    "Outing",
    "as_found",
    "drives",
    "make_demo",
    "mean_weather",
    "with_new_pipe",
]

SEED = 5
"""A usual draw: other seeds miss the true effect by up to a point of duty, within their intervals."""
WINDOW = (4080.0, 6550.0)
"""Engine speeds over which the true effect is taken: from 60 % of the redline to the end of the pulls. [rpm]"""

CHANGE = "charge pipe between turbocharger and cooler: 46 mm bore with two tight bends out, 60 mm bore in"
CHANGED_AT = datetime.datetime(2026, 5, 17, 12, 30)  # noqa: DTZ001  sheets hold local time, as people type it


@dataclass(frozen=True, slots=True)
class Outing:
    """One log: when and in what air it was driven, with which pipe, and what was driven."""

    file: str
    day: str
    when: datetime.datetime
    weather: Weather
    new_pipe: bool
    style: LogStyle
    pulls: tuple[FullPull, ...] = field(default=(FullPull(), FullPull()))

    @property
    def script(self) -> Script:
        """Idle, warm up, the pulls with the way back between them, and home."""
        parts: list[Idle | Cruise | FullPull] = [Idle(4.0), Cruise(62.0, 6.0)]
        for number, pull in enumerate(self.pulls):
            parts += [Cruise(70.0, 14.0), pull] if number else [pull]
        return [*parts, Cruise(55.0, 3.0), Idle(2.0)]


def _at(day: int, hour: int, minute: int) -> datetime.datetime:
    return datetime.datetime(2026, 5, day, hour, minute)  # noqa: DTZ001  as above


OUTINGS = (
    Outing(
        "saturday-old-pipe.csv", "saturday", _at(9, 9, 40), Weather(12.0, 100.4, 71.0, 0.6), False, BRACKETS,
        (FullPull(), FullPull(lift_at=4600.0), FullPull(), FullPull()),
    ),
    Outing("sunday-old-pipe.csv", "sunday", _at(17, 10, 5), Weather(19.5, 99.4, 58.0, 0.9), False, UNIT_ROW),
    Outing("sunday-new-pipe-1.csv", "sunday", _at(17, 13, 20), Weather(21.5, 99.3, 52.0, 1.1), True, BRACKETS),
    Outing("sunday-new-pipe-2.csv", "sunday", _at(17, 14, 10), Weather(22.0, 99.2, 51.0, 0.8), True, UNIT_ROW),
)  # fmt: skip


@dataclass(frozen=True, slots=True)
class DemoFiles:
    """What `make_demo` wrote, and the true effect of the change.

    `truth` is after minus before by measure id, in the contract's units, at the mean weather of the pulls compared.
    """

    car_sheet: Path
    conditions: Path
    before: tuple[Path, ...]
    after: tuple[Path, ...]
    pipes: tuple[Path, Path]
    """Path files of the pipe that was changed, old and new."""
    compressor_map: Path
    """The invented wheel's map."""
    truth: Mapping[str, float]


def with_new_pipe(car: DemoCar) -> DemoCar:
    """The car with the wider pipe between turbocharger and cooler."""
    return replace(car, charge_path=replace(car.charge_path, hot_pipe=Pipe(bore=0.060, length=0.75, fittings=1.0)))


def as_found(car: DemoCar, rng: np.random.Generator) -> DemoCar:
    """The car as it happens to be on a day: fuel, actuator and load differ a little for no known reason."""
    return replace(
        car,
        engine=replace(car.engine, knock_reserve=float(rng.normal(0.0, 2.5))),
        actuator=replace(car.actuator, preload=car.actuator.preload + float(rng.normal(0.0, 350.0))),
        chassis=replace(car.chassis, mass=car.chassis.mass + float(rng.normal(0.0, 8.0))),
    )


def make_demo(folder: Path, seed: int = SEED) -> DemoFiles:
    """Write the demo's car sheet, conditions, pipes, compressor map and logs into a folder, which is made if need be.

    The same seed gives the same files byte for byte.

    Raises
    ------
    OSError
        The folder or a file cannot be written.
    """
    folder.mkdir(parents=True, exist_ok=True)
    car = DemoCar()
    for outing, drive in drives(car, seed):
        write_log(drive, outing.style, folder / outing.file, np.random.default_rng([seed, 2, _number(outing)]))
    sheet, conditions, wheel = folder / "car.toml", folder / "conditions.toml", folder / "compressor-map.csv"
    sheet.write_text(car_sheet(car), encoding="utf-8", newline="\n")
    pipes = folder / "pipe-old.toml", folder / "pipe-new.toml"
    for path, text in zip(pipes, (OLD_PIPE, NEW_PIPE), strict=True):
        path.write_text(text, encoding="utf-8", newline="\n")
    wheel.write_text(compressor_map(car.compressor), encoding="utf-8", newline="\n")
    logs = [(o.file, o.when, o.day, o.weather) for o in OUTINGS]
    conditions.write_text(conditions_sheet(logs, CHANGE, CHANGED_AT), encoding="utf-8", newline="\n")
    return DemoFiles(
        car_sheet=sheet,
        conditions=conditions,
        before=tuple(folder / outing.file for outing in OUTINGS if not outing.new_pipe),
        after=tuple(folder / outing.file for outing in OUTINGS if outing.new_pipe),
        pipes=pipes,
        compressor_map=wheel,
        truth=true_effect(car, with_new_pipe(car), mean_weather(), WINDOW),
    )


def _number(outing: Outing) -> int:
    return OUTINGS.index(outing)


def drives(car: DemoCar, seed: int) -> list[tuple[Outing, Drive]]:
    """Every outing of the story as it was driven."""
    days = list(dict.fromkeys(outing.day for outing in OUTINGS))
    found = {day: as_found(car, np.random.default_rng([seed, 0, number])) for number, day in enumerate(days)}
    driven = []
    for outing in OUTINGS:
        built = with_new_pipe(found[outing.day]) if outing.new_pipe else found[outing.day]
        rng = np.random.default_rng([seed, 1, _number(outing)])
        driven.append((outing, simulate_drive(built, outing.weather, outing.script, rng)))
    return driven


def mean_weather() -> Weather:
    """Mean over all the pulls that count, as the comparison takes it."""
    counts = [sum(pull.lift_at is None for pull in outing.pulls) for outing in OUTINGS]

    def mean(name: str) -> float:
        return float(np.average([getattr(outing.weather, name) for outing in OUTINGS], weights=counts))

    return Weather(mean("temperature_c"), mean("pressure_kpa"), mean("humidity_pct"), mean("headwind"))
