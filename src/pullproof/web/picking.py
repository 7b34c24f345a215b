"""Logs that a page looks at: those of a test day, or those that were ticked, as they stand in the address."""

from collections.abc import Sequence
from dataclasses import dataclass

from starlette.requests import Request

from pullproof.library import Library, catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.schema import CarRow, DayRow, LogRow
from pullproof.web.finding import whole_number

__all__ = ["Picked", "pick"]


@dataclass(frozen=True, slots=True)
class Picked:
    """What can be looked at, and what is."""

    days: tuple[DayRow, ...]
    logs: tuple[LogRow, ...]
    chosen: tuple[int, ...]
    """Numbers of the logs that are looked at."""

    @property
    def selection(self) -> Selection:
        """The logs as the library takes them."""
        return Selection(logs=self.chosen)

    @property
    def mine(self) -> Sequence[LogRow]:
        """The logs that are looked at."""
        return [row for row in self.logs if row.id in self.chosen]


def pick(request: Request, library: Library, car: CarRow) -> Picked:
    """The logs that the address names (`log=3&log=4`, `day=2`); without any, those of the last test day."""
    with library.reading() as session:
        days, logs = catalogue.days(session, car.id), catalogue.logs(session, car.id)
    said = request.query_params
    wanted = {whole_number(text) for text in said.getlist("log")}
    by_day = {whole_number(text) for text in said.getlist("day")}
    chosen = [row.id for row in logs if row.id in wanted or row.day_id in by_day - {None}]
    if not chosen and days:
        used = [day.id for day in days if any(row.day_id == day.id for row in logs)]
        chosen = [row.id for row in logs if used and row.day_id == used[-1]]
    return Picked(tuple(days[::-1]), tuple(logs), tuple(chosen or [row.id for row in logs[-4:]]))
