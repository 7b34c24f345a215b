"""What was reckoned of late, for as long as nothing that it was made from has changed.

Going back, a second tab, and the report of what the page shows ask for the same again.
"""

import hashlib
from collections.abc import Callable
from typing import TypeVar

from pullproof.library import Library, catalogue
from pullproof.library.schema import CarRow
from pullproof.library.shelf import all_decisions

__all__ = ["remembered", "state_of"]

Answer = TypeVar("Answer")

ROOM = 2_000_000
"""About what an answer with its curves takes. [byte]"""


def remembered(library: Library, car: CarRow, question: object, make: Callable[[], Answer]) -> Answer:
    """The answer to a question about a car, made if it is not there. What cannot be answered is asked anew."""
    key = ("answer", car.id, repr(question), state_of(library, car))
    answer: Answer = library.memory.get(key, make, lambda _: ROOM)
    return answer


def state_of(library: Library, car: CarRow) -> bytes:
    """Fingerprint of everything that answers about a car are made from."""
    with library.reading() as session:
        logs = catalogue.logs(session, car.id)
        rows = [*catalogue.changes(session, car.id), *catalogue.days(session, car.id), *logs]
        rows += [word for log in logs for word in catalogue.overrulings(session, log.id)]
        builds = [catalogue.build_of_day(session, day).change_ids for day in catalogue.days(session, car.id)]
        decisions = all_decisions(session)
    said = [[getattr(row, column.name) for column in row.__table__.columns] for row in rows]
    return hashlib.sha256(repr((car.sheet, said, builds, decisions)).encode()).digest()
