"""Compute the recorded pulls of many logs at once, in processes of their own, before somebody waits for them."""

import os
from collections.abc import Callable
from concurrent.futures import as_completed
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from pathlib import Path

from pullproof.errors import PullproofError
from pullproof.library.catalogue import Selection
from pullproof.library.computed import base_of, computed_path, has_computed
from pullproof.library.opening import Library, open_library
from pullproof.library.readers import reader_pool
from pullproof.library.readings import records_of
from pullproof.library.schema import LogRow
from pullproof.library.shelf import Shelf, shelf_of

__all__ = ["prepare_records"]

_WORTH_PROCESSES = 8
"""So many logs take longer to compute than processes take to start."""


def prepare_records(
    library: Library,
    car_id: int,
    *,
    workers: int | None = None,
    progress: Callable[[int, int], None] | None = None,
) -> None:
    """Have the recorded pulls of all logs of a car on the disk, so that `records_of` only has to read them.

    Parameters
    ----------
    library : Library
    car_id : int
    workers : int, optional
        Processes that compute; by default as many as there are processors.
    progress : callable, optional
        Hears of logs done and in all, where any have to be computed.

    What fails here is left to whoever asks for the records: it gets the error then.
    """
    shelf = shelf_of(library, car_id, None)
    missing = [row.id for row in shelf.logs if _lacks(library, shelf, row)]
    if len(missing) < _WORTH_PROCESSES:
        return
    sqlite = library.engine.dialect.name == "sqlite"
    address = None if sqlite else library.engine.url.render_as_string(hide_password=False)
    with reader_pool(workers or os.cpu_count() or 1) as pool, suppress(BrokenProcessPool):
        running = [pool.submit(_compute, library.folder, address, car_id, log_id) for log_id in missing]
        for done, future in enumerate(as_completed(running), 1):
            future.result()
            if progress is not None:
                progress(done, len(missing))


def _lacks(library: Library, shelf: Shelf, row: LogRow) -> bool:
    if not any(pull.used for pull in shelf.pulls[row.id]):
        return False
    base = base_of(row, shelf.car, shelf.conditions.of(row.name))
    return not has_computed(computed_path(library.folder, row.id), base)


def _compute(folder: Path, address: str | None, car_id: int, log_id: int) -> None:
    with suppress(PullproofError), open_library(folder, address) as library:
        records_of(library, car_id, Selection(logs=(log_id,)))
