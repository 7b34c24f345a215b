"""The demo's second story: one summer, eight changes, ten test days. Everything is invented.

The owner drives two days as it is, then fits one part after another: some at noon, with pulls before and after on one
day, some in the week between two days. A hose splits and is replaced by what was at hand, which costs flow, and is
undone a week later. A valve and a pipe are fitted on the same day and never driven apart. What each change does is
known to the simulation alone.
"""

import datetime
from collections.abc import Callable
from dataclasses import dataclass, replace

from pullproof.demo.car import ChargePath, Control, Cooler, Curve, DemoCar, Pipe
from pullproof.demo.driving import Cruise, FullPull, Idle, Script
from pullproof.demo.logger import BRACKETS, UNIT_ROW, LogStyle
from pullproof.demo.weather import Weather

__all__ = ["CHANGES", "DAYS", "OUTINGS", "PartChange", "SeasonOuting", "TrackDay", "build", "first_car"]


@dataclass(frozen=True, slots=True)
class PartChange:
    """A change as its owner wrote it down, and what it does to the simulated car."""

    name: str
    kind: str
    place: str
    fitted: datetime.datetime
    fit: Callable[[DemoCar], DemoCar]
    cost: float
    dimensions: str = ""
    removed: datetime.datetime | None = None
    temporary: bool = False
    notes: str = ""


@dataclass(frozen=True, slots=True)
class TrackDay:
    """A test day."""

    label: str
    date: datetime.date
    fuel: str = "super unleaded, 98 octane"
    notes: str = ""


@dataclass(frozen=True, slots=True)
class SeasonOuting:
    """One log: on which day, when and in what air it was driven, and what was driven."""

    file: str
    day: str
    when: datetime.datetime
    weather: Weather
    style: LogStyle
    pulls: tuple[FullPull, ...]

    @property
    def script(self) -> Script:
        """Idle, warm up, the pulls with the way back between them, and home."""
        parts: list[Idle | Cruise | FullPull] = [Idle(3.0), Cruise(62.0, 6.0)]
        for number, pull in enumerate(self.pulls):
            parts += [Cruise(70.0, 14.0), pull] if number else [pull]
        return [*parts, Cruise(55.0, 3.0)]


def first_car() -> DemoCar:
    """The car as it came: the demo's, under a name of its own, with a diverter valve that lets a little air out."""
    car = DemoCar(name="quay wagon")
    return replace(car, charge_path=replace(car.charge_path, leak=6e-6))


def build(car: DemoCar, names: "frozenset[str] | set[str]") -> DemoCar:
    """The car with some of the changes on it."""
    for change in CHANGES:
        if change.name in names:
            car = change.fit(car)
    return car


def _path(car: DemoCar, change: Callable[[ChargePath], ChargePath]) -> DemoCar:
    return replace(car, charge_path=change(car.charge_path))


def _intake(car: DemoCar) -> DemoCar:
    return replace(car, engine=replace(car.engine, intake_loss=2.6e4))


def _hose(car: DemoCar) -> DemoCar:
    corrugated = replace(car.charge_path.cold_pipe, bore=0.052, fittings=2.6, friction=0.05)
    return _path(car, lambda path: replace(path, cold_pipe=corrugated))


def _hot_pipe(car: DemoCar) -> DemoCar:
    return _path(car, lambda path: replace(path, hot_pipe=Pipe(bore=0.060, length=0.75, fittings=1.0)))


def _valve(car: DemoCar) -> DemoCar:
    return _path(car, lambda path: replace(path, leak=0.0))


def _cold_pipe(car: DemoCar) -> DemoCar:
    return _path(car, lambda path: replace(path, cold_pipe=replace(path.cold_pipe, bore=0.064, fittings=0.6)))


def _cooler(car: DemoCar) -> DemoCar:
    bigger = Cooler(loss=0.8e5, volume=9.0e-3, transfer_units=3.3, heat_capacity=9500.0, air_side=190.0)
    return _path(car, lambda path: replace(path, cooler=bigger))


def _raised(curve: Curve, amount: float, above: float) -> Curve:
    return tuple((speed, value + amount if speed >= above else value) for speed, value in curve)


def _calibration(car: DemoCar) -> DemoCar:
    control: Control = car.control
    return replace(
        car,
        control=replace(
            control,
            charge_pressure_target=_raised(control.charge_pressure_target, 7e3, 2500.0),
            ignition=_raised(control.ignition, 1.0, 2500.0),
        ),
    )


def _silencer(car: DemoCar) -> DemoCar:
    return replace(car, exhaust=replace(car.exhaust, loss=1.05e5))


def _at(month: int, day: int, hour: int = 0, minute: int = 0) -> datetime.datetime:
    return datetime.datetime(2026, month, day, hour, minute)  # noqa: DTZ001  sheets hold local time, as people type it


CHANGES = (
    PartChange(
        "intake with a larger filter", "part", "before the turbocharger", _at(6, 20, 12, 30), _intake, 280.0,
        dimensions="76 mm bore, 600 mm long",
    ),
    PartChange(
        "corrugated hose in place of a split one", "temporary fix", "between cooler and throttle", _at(6, 24), _hose,
        25.0, dimensions="52 mm bore, 850 mm long", removed=_at(7, 4, 12, 45), temporary=True,
        notes="The smooth hose split; this was at hand. Undone at noon on 4 July.",
    ),
    PartChange(
        "charge pipe from turbocharger to cooler", "part", "between turbocharger and cooler", _at(7, 15), _hot_pipe,
        190.0, dimensions="60 mm bore in place of 46 mm, 750 mm long",
    ),
    PartChange(
        "diverter valve that seats", "part", "between cooler and throttle", _at(7, 25, 12, 15), _valve, 140.0,
        notes="The old one let charge air out under boost.",
    ),
    PartChange(
        "charge pipe from cooler to throttle", "part", "between cooler and throttle", _at(7, 25, 12, 15), _cold_pipe,
        160.0, dimensions="64 mm bore in place of 57 mm, 850 mm long",
    ),
    PartChange(
        "larger charge cooler", "part", "charge cooler", _at(8, 5), _cooler, 620.0,
        dimensions="550 x 230 x 90 mm core in place of 500 x 160 x 65 mm",
    ),
    PartChange(
        "calibration with more boost and ignition", "calibration", "", _at(8, 22, 13, 0), _calibration, 450.0,
        notes="7 kPa more charge pressure and one degree more ignition above 2500 rpm.",
    ),
    PartChange("rear silencer", "part", "exhaust", _at(9, 2), _silencer, 380.0, dimensions="70 mm bore"),
)  # fmt: skip
"""In the order in which they were made."""

DAYS = (
    TrackDay("6 June", datetime.date(2026, 6, 6), notes="As it came."),
    TrackDay("13 June", datetime.date(2026, 6, 13), notes="As it came, to see what a day makes."),
    TrackDay("20 June", datetime.date(2026, 6, 20), notes="Intake fitted at noon."),
    TrackDay("27 June", datetime.date(2026, 6, 27), notes="With the corrugated hose."),
    TrackDay("4 July", datetime.date(2026, 7, 4), notes="Corrugated hose in the morning, a smooth one again at noon."),
    TrackDay("18 July", datetime.date(2026, 7, 18)),
    TrackDay("25 July", datetime.date(2026, 7, 25), notes="Valve and pipe fitted at noon, both at once."),
    TrackDay("8 August", datetime.date(2026, 8, 8)),
    TrackDay("22 August", datetime.date(2026, 8, 22), notes="Calibration loaded at noon."),
    TrackDay("5 September", datetime.date(2026, 9, 5)),
)

SLOW = replace(BRACKETS, row_period=1.0 / 7.0)
"""The first logger with everything ticked: fewer rows a second."""


def _log(
    file: str, day: str, when: datetime.datetime, air: tuple[float, float, float, float], style: LogStyle, pulls: int
) -> SeasonOuting:
    """One log; its air in deg C, kPa, per cent, and the headwind in m/s."""
    return SeasonOuting(file, day, when, Weather(*air), style, (FullPull(),) * pulls)


SPOILED = (FullPull(), FullPull(lift_at=4700.0), FullPull(), FullPull())

OUTINGS = (
    _log("2026-06-06.csv", "6 June", _at(6, 6, 9, 30), (16.5, 100.6, 62.0, 0.6), BRACKETS, 4),
    replace(
        _log("2026-06-13.csv", "13 June", _at(6, 13, 10, 10), (22.0, 100.1, 50.0, 0.9), BRACKETS, 4), pulls=SPOILED
    ),
    _log("2026-06-20-morning.csv", "20 June", _at(6, 20, 9, 40), (18.0, 99.2, 74.0, 1.1), UNIT_ROW, 3),
    _log("2026-06-20-afternoon.csv", "20 June", _at(6, 20, 14, 5), (21.5, 99.1, 63.0, 0.8), UNIT_ROW, 4),
    _log("2026-06-27.csv", "27 June", _at(6, 27, 10, 20), (27.0, 100.3, 45.0, 0.7), BRACKETS, 4),
    _log("2026-07-04-morning.csv", "4 July", _at(7, 4, 9, 15), (23.5, 99.7, 58.0, 0.5), SLOW, 3),
    _log("2026-07-04-afternoon.csv", "4 July", _at(7, 4, 14, 30), (28.5, 99.5, 42.0, 1.0), SLOW, 3),
    _log("2026-07-18.csv", "18 July", _at(7, 18, 10, 0), (31.0, 99.9, 38.0, 0.6), UNIT_ROW, 4),
    _log("2026-07-25-morning.csv", "25 July", _at(7, 25, 9, 50), (19.0, 98.8, 80.0, 1.3), BRACKETS, 3),
    _log("2026-07-25-afternoon.csv", "25 July", _at(7, 25, 14, 20), (22.5, 98.9, 66.0, 1.2), BRACKETS, 4),
    _log("2026-08-08.csv", "8 August", _at(8, 8, 10, 30), (29.5, 100.4, 40.0, 0.4), UNIT_ROW, 4),
    _log("2026-08-22-morning.csv", "22 August", _at(8, 22, 9, 45), (17.5, 99.8, 70.0, 0.8), BRACKETS, 3),
    _log("2026-08-22-afternoon.csv", "22 August", _at(8, 22, 14, 40), (23.0, 99.6, 52.0, 0.9), BRACKETS, 4),
    _log("2026-09-05.csv", "5 September", _at(9, 5, 10, 15), (14.0, 101.0, 68.0, 0.6), UNIT_ROW, 4),
)
