"""What the analyses take, from what the library keeps: logs, pulls, conditions, recorded pulls, a comparison.

What was read and computed stays in the library's memory, so that a second question is answered at once.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import partial

from pullproof.analysis.comparison import Comparison, compare_records
from pullproof.analysis.comparison.outings import part_outings
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.library import catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.computed import Computed, base_of, computed_path, pull_key, read_computed, write_computed
from pullproof.library.opening import Library
from pullproof.library.schema import LogRow
from pullproof.library.shelf import Shelf, chosen, fresh_shelf, log_on, said_of_logs, weight
from pullproof.pulls import Pull
from pullproof.reading.log import Log

__all__ = ["Recorded", "compare_selections", "conditions_of", "log_of", "pulls_of", "records_of"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """Pulls that can be used, ready to be read, and those that are not, with the reason in each."""

    records: tuple[PullRecord, ...]
    refused: tuple[Pull, ...]


def log_of(library: Library, log_id: int) -> Log:
    """A log as it was read, under its name in the library.

    Raises
    ------
    CannotAnswer
        There is no such log.
    CannotRead
        Samples and original are both gone or damaged.
    """
    shelf = fresh_shelf(library, _car_id_of(library, log_id), Selection(logs=(log_id,)))
    return log_on(library, shelf, shelf.logs[0])


def pulls_of(library: Library, log_id: int) -> tuple[Pull, ...]:
    """The pulls of a log in order of time, the user's word applied.

    Raises
    ------
    CannotAnswer, CannotRead
        As `log_of`.
    """
    return fresh_shelf(library, _car_id_of(library, log_id), Selection(logs=(log_id,))).pulls[log_id]


def conditions_of(library: Library, car_id: int) -> ConditionsSheet:
    """What is known of every log of a car, by its name: when, day, air, direction; and the car's changes."""
    with library.reading() as session:
        return said_of_logs(
            catalogue.logs(session, car_id), catalogue.days(session, car_id), catalogue.changes(session, car_id)
        )


def records_of(library: Library, car_id: int, selection: Selection | None = None) -> Recorded:
    """The pulls of a selection (by default of all logs of the car) with everything around each.

    Raises
    ------
    CannotAnswer
        A day or log of the selection is not there.
    CannotRead
        Samples and original of a log are both gone or damaged.
    """
    return _recorded(library, fresh_shelf(library, car_id, selection), selection)


def compare_selections(
    library: Library,
    car_id: int,
    before: Selection,
    after: Selection,
    *,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
    main: str | None = None,
) -> Comparison:
    """Compare two selections of a car's pulls, as `pullproof compare` does with files.

    Raises
    ------
    CannotAnswer
        A side has no pull that can be used, or as `compare_records`.
    WrongUse
        As `compare_records`.
    """
    shelf = fresh_shelf(library, car_id, Selection(before.days + after.days, before.logs + after.logs))
    sides = [_recorded(library, shelf, side) for side in (before, after)]
    for side, name in zip(sides, ("before", "after"), strict=True):
        if not side.records:
            reasons = "; ".join(
                dict.fromkeys(f"{pull.log} at {pull.start_s:.1f} s: {pull.reason}" for pull in side.refused)
            )
            raise CannotAnswer(
                f"no pull {name} the change can be used" + (f" ({reasons})" if reasons else ", none was found"),
                advice="Select days or logs with a pull that is used, or overrule a refusal.",
            )
    parted = part_outings((*sides[0].records, *sides[1].records), shelf.conditions)
    count = len(sides[0].records)
    return compare_records(
        parted[:count],
        parted[count:],
        car=shelf.car,
        changes=shelf.conditions.changes,
        refused_before=sides[0].refused,
        refused_after=sides[1].refused,
        window=window,
        level=level,
        main=main,
        moments={name: entry.when for name, entry in shelf.conditions.logs.items() if entry.when is not None},
    )


def _car_id_of(library: Library, log_id: int) -> int:
    with library.reading() as session:
        return catalogue.get(session, LogRow, log_id).car_id


def _recorded(library: Library, shelf: Shelf, selection: Selection | None) -> Recorded:
    records: list[PullRecord] = []
    refused: list[Pull] = []
    for row in shelf.logs if selection is None else chosen(shelf.logs, selection):
        used: list[Pull] = []
        for pull in shelf.pulls[row.id]:
            if selection is not None and _left_out(row, pull, selection):
                refused.append(replace(pull, used=False, reason=pull.reason or "left out of the selection"))
            else:
                (used if pull.used else refused).append(pull)
        records += _records(library, shelf, row, used)
    return Recorded(tuple(records), tuple(refused))


def _left_out(row: LogRow, pull: Pull, selection: Selection) -> bool:
    return any(log == row.id and pull.start_s - 1e-3 <= start < pull.end_s for log, start in selection.left_out)


def _records(library: Library, shelf: Shelf, row: LogRow, pulls: Sequence[Pull]) -> list[PullRecord]:
    """Recorded pulls of one log: from memory, else from the disk, else computed and kept there."""
    said = shelf.conditions.of(row.name)
    base, path = base_of(row, shelf.car, said), computed_path(library.folder, row.id)
    kept: dict[str, Computed] | None = None
    fresh: dict[str, Computed] = {}

    def make(pull: Pull) -> PullRecord:
        nonlocal kept
        kept = read_computed(path, base) if kept is None else kept
        key, log = pull_key(pull), log_on(library, shelf, row)
        if key in kept:
            return kept[key].record(pull, log)
        record = record_pull(log, pull, shelf.car, said)
        fresh[key] = Computed.of(record)
        return record

    def size(record: PullRecord) -> int:
        return weight(record.traces) + weight(record.log.traces) // len(pulls)  # they share the log

    records = [library.memory.get((base, pull_key(pull)), partial(make, pull), size) for pull in pulls]
    if fresh:
        write_computed(library.folder, path, base, {**(kept or {}), **fresh})
    return records
