"""What a file turned out to hold: its columns, what each was taken for, and the traces."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

from pullproof.channels import Trace

__all__ = ["Column", "Log"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column of the file and what it was taken for.

    `channel` is a canonical name, or None where the column is kept under its own header. `unit` is the unit that
    the *file* is taken to use (`kPa gauge`, `psi gauge`, `degF`, `AFR`, ...); the trace is in the canonical one.
    `doubt` says in one sentence what is uncertain, with the evidence and what would settle it.
    """

    header: str
    channel: str | None
    unit: str | None
    confidence: float
    rate_hz: float | None
    doubt: str | None = None
    evidence: tuple[str, ...] = ()
    unreadable: int = 0
    """Cells that held something which is not a value of this column."""


@dataclass(frozen=True, slots=True)
class Log:
    """A file that was read.

    `traces` maps canonical names, and own headers of columns that were not recognised, to traces in canonical
    units on one clock: seconds from the first sample. `restarts` are the instants [s] at which the file's own
    clock jumped back (recordings appended to one another); the clock used here goes on rising across them.
    `gauge_reference_kpa` holds, for each trace that the file gives as gauge pressure, the ambient pressure [kPa] that
    was added to make it absolute: the median of the log's own ambient pressure, or 101.325 where it has none. Trace
    minus that number is the gauge pressure as logged, whatever the air really was.
    """

    file: str
    rows: int
    duration_s: float
    encoding: str
    delimiter: str
    decimal: str
    columns: tuple[Column, ...]
    traces: Mapping[str, Trace]
    restarts: tuple[float, ...] = ()
    notes: tuple[str, ...] = ()
    gauge_reference_kpa: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
