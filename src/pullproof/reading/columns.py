"""One recorded quantity before anybody has said what it is: header, time and values as the file has them."""

from collections.abc import Sequence
from dataclasses import dataclass

from pullproof.arrays import Array

__all__ = ["Recorded", "Recording"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """A column of a wide log or one name of a long one.

    `time` [s] and `values` [unit of the file] have the same shape (n,). `unit` is what the file says of the unit beside
    the header: a unit row, a unit column, or a unit glued to the values. `rows` is how many cells the file has for it.
    """

    header: str
    unit: str
    time: Array
    values: Array
    rows: int
    unreadable: int = 0
    first_unreadable: tuple[int, str] | None = None


@dataclass(frozen=True, slots=True)
class Recording:
    """A whole file as it was recorded.

    `clock` names the columns that tell the time with their unit and doubt. Times count from the first sample of all.
    `holds_values` says that a row may repeat what was asked earlier, as a table with one row for all channels does.
    """

    columns: Sequence[Recorded]
    clock: Sequence[tuple[str, str, str | None]]
    rows: int
    restarts: tuple[float, ...]
    encoding: str
    delimiter: str
    decimal: str
    notes: tuple[str, ...]
    holds_values: bool
