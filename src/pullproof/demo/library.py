"""A library that holds the demo's season: what a year with the tool looks like, from nothing."""

import tempfile
from decimal import Decimal
from pathlib import Path

from pullproof.demo.season import SEASON_SEED, SeasonFiles, make_season
from pullproof.demo.season_sheets import PLACE
from pullproof.demo.season_story import CHANGES, DAYS
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.importing import import_logs
from pullproof.library.schema import ChangeRow

__all__ = ["CURRENCY", "fill_library"]

CURRENCY = "EUR"


def fill_library(library: Library, *, seed: int = SEASON_SEED, workers: int = 0) -> int:
    """Put the demo's car with its season into a library; gives the car's number.

    Parameters
    ----------
    library : Library
    seed : int
        Of everything that varies without being wanted.
    workers : int
        Processes that read the logs; 0 reads them in this one.

    Raises
    ------
    WrongUse
        The library has the demo's car already.
    CannotAnswer
        A log of the demo could not be imported, or the disk is full.
    """
    with tempfile.TemporaryDirectory(prefix="pullproof-season-") as place:
        files = make_season(Path(place), seed)
        car_id = _add_car(library, files)
        outcomes = import_logs(library, car_id, files.logs, conditions=files.conditions, workers=workers)
        failed = [f"{Path(outcome.path).name}: {outcome.sentence}" for outcome in outcomes if not outcome.log_id]
    if failed:
        raise CannotAnswer(f"{len(failed)} of {len(files.logs)} logs of the demo were not imported", where=failed[0])
    _describe_days(library, car_id)
    return car_id


def _add_car(library: Library, files: SeasonFiles) -> int:
    with library.transaction() as session:
        sheet = files.car_sheet.read_text(encoding="utf-8")
        name = sheet.partition('name = "')[2].partition('"')[0]
        if any(car.name == name for car in catalogue.cars(session)):
            raise WrongUse(
                f'the library has a car "{name}" already',
                where=str(library.folder),
                advice="Delete that car first, or name another folder.",
            )
        car = catalogue.add_car(session, sheet)
        for change in CHANGES:
            catalogue.add(
                session,
                ChangeRow(
                    car_id=car.id,
                    what=change.name,
                    kind=change.kind,
                    place=change.place,
                    dimensions=change.dimensions,
                    notes=change.notes,
                    cost=Decimal(f"{change.cost:.2f}"),
                    currency=CURRENCY,
                    temporary=change.temporary,
                    fitted=change.fitted,
                    removed=change.removed,
                ),
            )
        return car.id


def _describe_days(library: Library, car_id: int) -> None:
    """What the owner wrote down of each day beyond its logs."""
    with library.transaction() as session:
        for day in DAYS:
            row = catalogue.day_labelled(session, car_id, day.label)
            if row is not None:
                row.place, row.fuel, row.people, row.notes = PLACE, day.fuel, 2, day.notes
