"""A season typed in TOML: changes and test days beside the car sheet, the conditions and the logs.

car = "car.toml"                 # beside this file
conditions = "conditions.toml"   # when and in what air each log was recorded

[[change]]
what = "charge pipe"
fitted = 2026-07-15
kind = "part"
cost = 190.0
currency = "EUR"

[[day]]                          # optional: odometer and place of a test day
label = "18 July"
date = 2026-07-18
odometer_km = 84210
"""

import datetime
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from pullproof.analysis.comparison.each_once import each_once
from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, SeasonPull, build_at, join_spells
from pullproof.car import Car, load_car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.errors import WrongUse
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log
from pullproof.reading.log import Log
from pullproof.sheets import Sheet, read_sheet

__all__ = ["SeasonSheet", "gather_pulls", "load_season", "read_season_sheet"]

MOST_MONEY = 10_000_000.0
FARTHEST_KM = 5_000_000.0


@dataclass(frozen=True, slots=True)
class SeasonSheet:
    """What a season sheet says; `logs` are the files that its conditions name."""

    path: Path
    car: Car
    conditions: ConditionsSheet
    changes: tuple[SeasonChange, ...]
    days: tuple[SeasonDay, ...]
    logs: tuple[Path, ...]
    doubts: tuple[str, ...] = ()


def load_season(path: str | Path) -> Season:
    """Read a season sheet and every log that it leads to.

    Raises
    ------
    CannotRead
        A file is missing or is not what it has to be.
    WrongUse
        A key is unknown, a value impossible, or a log stands twice.
    """
    sheet = read_season_sheet(path)
    logs = [read_log(log, sheet.car) for log in sheet.logs]
    each_once(logs, [])
    return gather_pulls(sheet, logs)


def read_season_sheet(path: str | Path) -> SeasonSheet:
    """Read the sheet alone, and the car sheet and the conditions that it names."""
    path = Path(path)
    sheet = read_sheet(path, "season sheet")
    car, conditions = sheet.text("car"), sheet.text("conditions")
    if car is None or conditions is None:
        missing = "car" if car is None else "conditions"
        raise WrongUse(
            f'the season sheet has no "{missing}"', where=str(path), advice=f'Add {missing} = "{missing}.toml".'
        )
    joined = join_spells([_change(entry) for entry in sheet.tables("change")])
    days = tuple(_day(entry) for entry in sheet.tables("day"))
    sheet.finish()
    said = load_conditions(path.parent / conditions)
    return SeasonSheet(
        path=path,
        car=load_car(path.parent / car),
        conditions=said,
        changes=joined.changes,
        days=days,
        doubts=joined.doubts,
        logs=tuple((path.parent / conditions).parent / file for file in said.logs),
    )


def gather_pulls(sheet: SeasonSheet, logs: Sequence[Log]) -> Season:
    """Find the pulls of every log, and the build that each was driven with."""
    records: list[PullRecord] = []
    refused: list[Pull] = []
    for log in logs:
        for pull in find_pulls(log, sheet.car):
            if pull.used:
                records.append(record_pull(log, pull, sheet.car, sheet.conditions.of(log.file)))
            else:
                refused.append(pull)
    parted = part_outings(records, sheet.conditions)
    when = {file: entry.when for file, entry in sheet.conditions.logs.items()}
    undated = sorted({record.log.file for record in parted if when.get(record.log.file) is None})
    if undated and sheet.changes:
        raise WrongUse(
            f'the conditions do not say when "{undated[0]}" was recorded, so its build is not known',
            where=str(sheet.path),
            advice=f'Add when = 2026-07-18T10:00:00 to the entry of "{undated[0]}".',
        )
    pulls = tuple(
        SeasonPull(record, _build(sheet.changes, moment), moment)
        for record in parted
        for moment in [when.get(record.log.file)]
    )
    return Season(sheet.car, sheet.changes, _days(sheet.days, pulls), pulls, tuple(refused), sheet.doubts)


def _build(changes: Sequence[SeasonChange], moment: datetime.datetime | None) -> frozenset[str]:
    return build_at(changes, moment) if moment is not None else frozenset()


def _days(given: Sequence[SeasonDay], pulls: Sequence[SeasonPull]) -> tuple[SeasonDay, ...]:
    """The test days typed, and one for each other label, dated by its first log."""
    days = {day.label: day for day in given}
    first: dict[str, datetime.datetime] = {}
    for pull in pulls:
        label = pull.record.day
        if pull.when is not None:
            first[label] = min(pull.when, first.get(label, pull.when))
        days.setdefault(label, SeasonDay(label))
    return tuple(
        day if day.when is not None else SeasonDay(day.label, first.get(day.label), day.odometer_km, day.place)
        for day in days.values()
    )


def _change(entry: Sheet) -> SeasonChange:
    name, fitted = entry.text("what"), entry.moment("fitted")
    if not name:
        raise WrongUse('a [[change]] entry has no "what"', where=entry.where, advice='Add what = "charge pipe".')
    removed = entry.moment("removed")
    if fitted is not None and removed is not None and removed < fitted:
        raise WrongUse(f'"{name}" is removed before it is fitted', where=entry.where, advice="Check the two dates.")
    temporary = entry.raw("temporary")
    if temporary is not None and not isinstance(temporary, bool):
        raise WrongUse(f'"temporary" of "{name}" must be true or false', where=entry.where)
    change = SeasonChange(
        name=name,
        fitted=fitted,
        kind=entry.text("kind", default=""),
        cost=entry.number("cost", 0.0, MOST_MONEY, unit="(money)"),
        currency=entry.text("currency", default=""),
        temporary=bool(temporary),
        removed=removed,
        note=entry.text("notes", default=""),
    )
    for key in ("place", "dimensions"):
        entry.text(key)
    entry.finish()
    return change


def _day(entry: Sheet) -> SeasonDay:
    label = entry.text("label")
    if not label:
        raise WrongUse('a [[day]] entry has no "label"', where=entry.where, advice='Add label = "18 July".')
    day = SeasonDay(
        label=label,
        when=entry.moment("date"),
        odometer_km=entry.number("odometer_km", 0.0, FARTHEST_KM, unit="km"),
        place=entry.text("place", default=""),
    )
    for key in ("fuel", "notes"):
        entry.text(key)
    entry.finish()
    return day
