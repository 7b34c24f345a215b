"""Read a TOML sheet that a person typed: every slip gets one sentence that names the file and the key."""

import datetime
import difflib
import tomllib
from collections.abc import Iterable
from pathlib import Path
from typing import Any, overload

from pullproof.errors import CannotRead, WrongUse

__all__ = ["Sheet", "parse_sheet", "read_sheet"]


class Sheet:
    """One table of a sheet. Take the keys one by one, then call `finish`, which refuses what nobody took."""

    def __init__(self, values: dict[str, Any], where: str, prefix: str = "") -> None:
        self._values = dict(values)
        self._known: list[str] = []
        self.where = where
        self._prefix = prefix

    def _take(self, key: str) -> object:
        self._known.append(key)
        return self._values.pop(key, None)

    def _wrong(self, key: str, what: str, advice: str) -> WrongUse:
        return WrongUse(f'key "{self._prefix}{key}" {what}', where=self.where, advice=advice)

    @overload
    def number(self, key: str, low: float, high: float, *, unit: str, default: float) -> float: ...
    @overload
    def number(self, key: str, low: float, high: float, *, unit: str) -> float | None: ...
    def number(self, key: str, low: float, high: float, *, unit: str, default: float | None = None) -> float | None:
        """A number within `low` to `high` (inclusive), or `default` where the key is absent."""
        value = self._take(key)
        if value is None:
            return default
        return self._checked(key, value, low, high, unit)

    def whole(self, key: str, low: int, high: int, *, unit: str) -> int | None:
        """A whole number within `low` to `high`; None where the key is absent."""
        value = self.number(key, low, high, unit=unit)
        if value is not None and not value.is_integer():
            raise self._wrong(key, f"is {value:g}", f"{unit.capitalize()} come whole: write a number like 4.")
        return None if value is None else int(value)

    def numbers(self, key: str, low: float, high: float, *, unit: str) -> tuple[float, ...]:
        """A list of numbers, each within `low` to `high`; empty where the key is absent."""
        value = self._take(key)
        if value is None:
            return ()
        if not isinstance(value, list):
            raise self._wrong(key, "must be a list of numbers", f"Write {key} = [3.4, 2.1, 1.5].")
        return tuple(self._checked(key, item, low, high, unit) for item in value)

    def _checked(self, key: str, value: object, low: float, high: float, unit: str) -> float:
        if isinstance(value, bool) or not isinstance(value, int | float):
            kind = unit if unit.startswith("(") else f"in {unit}"
            raise self._wrong(key, f"must be a number {kind}, not {value!r}", "Write it without quotes.")
        if not low <= value <= high:
            bare = "" if unit.startswith("(") else f" {unit}"
            raise self._wrong(
                key,
                f"is {value:g}{bare}, which is outside {low:g} to {high:g}{bare}",
                "Check the figure and its unit." if bare else "Check the figure.",
            )
        return float(value)

    @overload
    def text(self, key: str, *, choices: Iterable[str] = (), default: str) -> str: ...
    @overload
    def text(self, key: str, *, choices: Iterable[str] = ()) -> str | None: ...
    def text(self, key: str, *, choices: Iterable[str] = (), default: str | None = None) -> str | None:
        """A text, one of `choices` where there are any, or `default` where the key is absent."""
        value = self._take(key)
        if value is None:
            return default
        if not isinstance(value, str):
            raise self._wrong(key, f"must be a text, not {value!r}", "Put it in quotes.")
        allowed = tuple(choices)
        if allowed and value not in allowed:
            raise self._wrong(key, f'is "{value}"', f"Use one of: {', '.join(allowed)}.")
        return value

    def moment(self, key: str) -> datetime.datetime | None:
        """A date with a time of day; a bare date counts as midnight.

        The clock on the wall counts, by which test days go: an offset from universal time is dropped.
        """
        value = self._take(key)
        if value is None:
            return None
        if isinstance(value, datetime.datetime):
            return value.replace(tzinfo=None)
        if isinstance(value, datetime.date):
            return datetime.datetime.combine(value, datetime.time())
        raise self._wrong(
            key,
            f"must be a date and time, not {value!r}",
            f"Write {key} = 2026-10-03T16:20:00, without quotes.",
        )

    def raw(self, key: str) -> object:
        """Whatever stands under the key, for values with several spellings; None where it is absent."""
        return self._take(key)

    def table(self, key: str) -> "Sheet":
        """A sub-table; empty where the key is absent."""
        value = self._take(key)
        if value is None:
            value = {}
        if not isinstance(value, dict):
            raise self._wrong(key, "must be a table", f"Write [{key}] on a line of its own.")
        return Sheet(value, self.where, f"{self._prefix}{key}.")

    def tables(self, key: str) -> list["Sheet"]:
        """A list of sub-tables; empty where the key is absent."""
        value = self._take(key)
        if value is None:
            return []
        if not isinstance(value, list) or not all(isinstance(item, dict) for item in value):
            raise self._wrong(key, "must be a list of tables", f"Write [[{key}]] above each entry.")
        return [Sheet(item, self.where, f"{key}[{index}].") for index, item in enumerate(value, 1)]

    def items(self) -> dict[str, Any]:
        """All entries that are left, for a table whose keys the user chooses."""
        left, self._values = self._values, {}
        return left

    def finish(self) -> None:
        """Refuse keys that nobody took: a misspelt key must not be ignored in silence."""
        for key in self._values:
            near = difflib.get_close_matches(key, self._known, n=1)
            advice = f'Did you mean "{near[0]}"?' if near else f"Known keys: {', '.join(self._known)}."
            raise self._wrong(key, "is not known", advice)


def read_sheet(path: Path, kind: str) -> Sheet:
    """The top table of a TOML file.

    Raises
    ------
    CannotRead
        The file is missing, unreadable, or no TOML; the sentence says where.
    """
    try:
        data = path.read_bytes()
    except OSError as error:
        raise CannotRead(
            f"the {kind} cannot be opened ({error.strerror})", where=str(path), advice="Check the path."
        ) from error
    return parse_sheet(data, kind, str(path))


def parse_sheet(data: bytes, kind: str, where: str) -> Sheet:
    """The top table of TOML that is at hand; `where` is what a sentence about it calls it.

    Raises
    ------
    CannotRead
        It is no TOML; the sentence says where.
    """
    try:
        return Sheet(tomllib.loads(data.decode("utf-8-sig")), where)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise CannotRead(
            f"the {kind} is not UTF-8 text", where=f"{where}, line {line}", advice="Save it as UTF-8."
        ) from error
    except tomllib.TOMLDecodeError as error:
        raise CannotRead(f"the {kind} is not valid TOML: {error}", where=where, advice="Mend that line.") from error
