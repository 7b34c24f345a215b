"""The conditions sheet: when and in what air each log was recorded, and what was changed between them."""

import datetime
import difflib
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from pullproof.errors import WrongUse
from pullproof.sheets import read_sheet

__all__ = ["Air", "Change", "Conditions", "ConditionsSheet", "load_conditions"]


@dataclass(frozen=True, slots=True)
class Air:
    """State of the ambient air. None where nobody knows; `origin` says where each value comes from."""

    temperature_c: float | None = None
    pressure_kpa: float | None = None
    relative_humidity_pct: float | None = None
    origin: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Field name to where it comes from, e.g. `conditions file`, `log channel ambient_pressure`."""


@dataclass(frozen=True, slots=True)
class Conditions:
    """What the user says of one log."""

    file: str
    when: datetime.datetime | None = None
    day: str | None = None
    air: Air = field(default_factory=Air)
    direction: str | None = None


@dataclass(frozen=True, slots=True)
class Change:
    """Something done to the car between the sets compared."""

    what: str
    when: datetime.datetime | None = None


@dataclass(frozen=True, slots=True)
class ConditionsSheet:
    """All that a conditions file says: logs by base name, and the changes between them (empty: not stated)."""

    logs: Mapping[str, Conditions] = field(default_factory=lambda: MappingProxyType({}))
    changes: tuple[Change, ...] = ()

    def of(self, file: str) -> Conditions:
        """What is said of the log with this base name; an empty entry where nothing is."""
        return self.logs.get(file, Conditions(file))

    def doubts_of(self, files: Iterable[str]) -> tuple[str, ...]:
        """A sentence on each of these logs that has no entry, with the spare entry that is most like its name.

        A misspelt name would otherwise lose its weather and its day in silence. Entries beyond these logs are no
        matter, because one sheet may serve a whole season; a sheet without any entry leaves nothing to misspell.
        """
        wanted = list(dict.fromkeys(files))
        spare = {name.casefold(): name for name in self.logs if name not in wanted}
        found = []
        for file in wanted if self.logs else ():
            if file in self.logs:
                continue
            near = difflib.get_close_matches(file.casefold(), spare, n=1)
            hint = f'; the nearest entry is "{spare[near[0]]}"' if near else ""
            found.append(f'the conditions file says nothing of "{file}"{hint}')
        return tuple(found)


def load_conditions(path: str | Path) -> ConditionsSheet:
    """Read a conditions sheet.

    Raises
    ------
    CannotRead
        The file cannot be opened or is not TOML.
    WrongUse
        A key is unknown, a value impossible, or one log is described twice.
    """
    sheet = read_sheet(Path(path), "conditions file")
    logs: dict[str, Conditions] = {}
    for entry in sheet.tables("log"):
        file = entry.text("file")
        if not file:
            raise WrongUse('a [[log]] entry has no "file"', where=sheet.where, advice='Add file = "before-1.csv".')
        file = Path(file).name
        if file in logs:
            raise WrongUse(
                f'"{file}" is described twice',
                where=sheet.where,
                advice="Keep one [[log]] entry for each file.",
            )
        values = {
            "temperature_c": entry.number("air_temperature_c", -50, 60, unit="degC"),
            "pressure_kpa": entry.number("air_pressure_kpa", 50, 110, unit="kPa"),
            "relative_humidity_pct": entry.number("relative_humidity_pct", 0, 100, unit="%"),
        }
        known = {name: "conditions file" for name, value in values.items() if value is not None}
        logs[file] = Conditions(
            file=file,
            when=entry.moment("when"),
            day=entry.text("day"),
            air=Air(**values, origin=MappingProxyType(known)),
            direction=entry.text("direction", choices=("out", "back")),
        )
        entry.finish()
    changes = []
    for entry in sheet.tables("change"):
        what = entry.text("what")
        if not what:
            raise WrongUse('a [[change]] entry has no "what"', where=sheet.where, advice='Add what = "charge pipe".')
        changes.append(Change(what, entry.moment("when")))
        entry.finish()
    sheet.finish()
    return ConditionsSheet(MappingProxyType(logs), tuple(changes))
