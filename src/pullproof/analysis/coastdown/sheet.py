"""Write what a coast-down found into the car sheet: two keys and their doubts change, all else stays byte for byte.

The sheet is the owner's, with comments and an order of their own, so it is edited line by line. What was written is
read back before it replaces the sheet: if anything else changed, nothing is written.
"""

import itertools
import os
import re
import tomllib
from pathlib import Path
from typing import Any

from pullproof.analysis.coastdown.result import CoastDown
from pullproof.errors import CannotAnswer, CannotRead

__all__ = ["write_into_car_sheet"]


def write_into_car_sheet(path: str | Path, result: CoastDown) -> None:
    """Put rolling resistance and drag area, and the half widths of their intervals, into a car sheet.

    Parameters
    ----------
    path : str or Path
        The car sheet; it is replaced in one step, so that a power cut leaves the old or the new one.
    result : CoastDown
        What to write.

    Raises
    ------
    CannotRead
        The sheet cannot be read or is not TOML, or cannot be written.
    CannotAnswer
        The sheet is laid out so that the keys cannot be set without touching anything else.
    """
    path = Path(path)
    try:
        old = path.read_bytes()
        text = old.decode("utf-8-sig")
        before = tomllib.loads(text)
    except OSError as error:
        raise CannotRead(f"the car sheet cannot be opened ({error.strerror})", where=str(path)) from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise CannotRead(f"the car sheet is not valid TOML: {error}", where=str(path), advice="Mend it.") from error
    values = {
        "drag_area_m2": f"{result.drag_area_m2.value:.3f}",
        "rolling_resistance": f"{result.rolling_resistance.value:.5f}",
    }
    doubts = {
        "drag_area_m2": f"{result.drag_area_m2.half_width:.3f}",
        "rolling_resistance": f"{result.rolling_resistance.half_width:.5f}",
    }
    new = text
    for key, value in values.items():
        new = _set(new, "", key, value)
    for key, value in doubts.items():
        new = _set(new, "doubt", key, value)
    if _parsed(new) != _expected(before, values, doubts):
        raise CannotAnswer(
            "the car sheet is laid out so that its keys cannot be set without touching anything else",
            where=str(path),
            advice="Type the values in: " + ", ".join(f"{key} = {value}" for key, value in values.items()) + ".",
        )
    mark = b"\xef\xbb\xbf" if old.startswith(b"\xef\xbb\xbf") else b""
    _replace(path, mark + new.encode("utf-8"))


def _expected(before: dict[str, Any], values: dict[str, str], doubts: dict[str, str]) -> dict[str, Any]:
    changed = before | {key: float(value) for key, value in values.items()}
    table = before.get("doubt", {})
    return changed | {"doubt": table | {key: float(value) for key, value in doubts.items()}}


def _parsed(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _set(text: str, table: str, key: str, value: str) -> str:
    """The text with a key of a table ("" for the top) set; a comment behind an old value stays."""
    newline = "\r\n" if "\r\n" in text else "\n"
    lines = text.splitlines(keepends=True)
    first, last = _extent(lines, table)
    if first is None:
        gap = "" if not text or text.endswith(newline) else newline
        return f"{text}{gap}{newline}[{table}]{newline}{key} = {value}{newline}"
    for index in range(first, last):
        found = re.fullmatch(
            rf'(\s*(?:{key}|"{key}"|\'{key}\')\s*=\s*)[^#\r\n]*?(\s*(?:#[^\r\n]*)?\r?\n?)', lines[index]
        )
        if found:
            lines[index] = f"{found[1]}{value}{found[2]}"
            return "".join(lines)
    at = last
    while at > first and not lines[at - 1].strip():
        at -= 1
    if at > 0 and not lines[at - 1].endswith("\n"):
        lines[at - 1] += newline
    lines.insert(at, f"{key} = {value}{newline}")
    return "".join(lines)


def _extent(lines: list[str], table: str) -> tuple[int | None, int]:
    """First line of a table's body and the line behind it; (None, 0) where there is no such table."""
    heads = [index for index, line in enumerate(lines) if re.match(r"\s*\[", line)]
    if not table:
        return 0, heads[0] if heads else len(lines)
    for head, behind in itertools.pairwise([*heads, len(lines)]):
        if re.match(rf"\s*\[\s*{table}\s*\]\s*(#.*)?$", lines[head].rstrip("\r\n")):
            return head + 1, behind
    return None, 0


def _replace(path: Path, data: bytes) -> None:
    """Write beside the file, make sure that it is on the disk, then put it in the file's place."""
    beside = path.with_name(f".{path.name}.new")
    try:
        with beside.open("wb") as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        beside.chmod(path.stat().st_mode & 0o777)
        beside.replace(path)
    except OSError as error:
        beside.unlink(missing_ok=True)
        raise CannotRead(
            f"the car sheet cannot be written ({error.strerror})", where=str(path), advice="Check its folder."
        ) from error
