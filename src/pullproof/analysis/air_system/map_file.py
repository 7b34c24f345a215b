"""Read a compressor map from a small file of our own layout, strictly.

    # what follows a hash is for people
    setting,value,unit
    name,invented 53 mm wheel,
    reference_temperature,25,degC
    reference_pressure,100,kPa
    corrected_speed,corrected_flow,pressure_ratio,efficiency
    rpm,g/s,1,1
    90000,38.5,1.42,0.66
    ...

First the settings, one a line with its unit; then a row of column names in any order, a row of their units, and one row
for each point. `efficiency` may be left out. Rows of equal corrected speed make a speed line, of three points or more;
the lowest flow of each is its surge limit. Nothing is guessed: a map referred to a wrong state looks right and is not.
"""

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType
from typing import NoReturn

import numpy as np

from pullproof.analysis.air_system.compressor_map import CompressorMap, SpeedLine
from pullproof.analysis.air_system.scene import ZERO_CELSIUS
from pullproof.arrays import Array
from pullproof.errors import CannotRead, WrongUse
from pullproof.physics import dry_air
from pullproof.physics.compressor import ReferenceState
from pullproof.units import UNITS, Unit, convert, parse_unit

__all__ = ["load_compressor_map"]

SETTINGS = ("name", "origin", "reference_temperature", "reference_pressure")
COLUMNS = ("corrected_speed", "corrected_flow", "pressure_ratio", "efficiency")
RANGES: Mapping[str, tuple[float, float, str]] = MappingProxyType(
    {
        "reference_temperature": (0.0, 50.0, "degC"),
        "reference_pressure": (80.0, 110.0, "kPa"),
        "corrected_speed": (1_000.0, 400_000.0, "rpm"),
        "corrected_flow": (0.1, 5_000.0, "g/s"),
        "pressure_ratio": (1.0, 8.0, ""),
        "efficiency": (0.3, 0.9, ""),
    }
)
"""What a turbocharger of a road vehicle can have; a value outside is nearly always a unit."""

FEWEST_POINTS = 3
VOLUME = "m3/s"


@dataclass(frozen=True, slots=True)
class _Row:
    line: int
    cells: tuple[str, ...]


def load_compressor_map(path: str | Path) -> CompressorMap:
    """Read a compressor map.

    Parameters
    ----------
    path : path
        A text file, see the module's own text or `docs/air-system.md`.

    Raises
    ------
    CannotRead
        The file cannot be opened, is no text, or does not have the layout; the sentence names the line.
    WrongUse
        It has the layout, but no wheel has such a map: a value or unit is impossible, or speed lines cross.
    """
    where = str(path)
    rows = _rows(_text(Path(path)), where)
    head = next((number for number, row in enumerate(rows) if row.cells[0] in COLUMNS), None)
    if head is None:
        raise CannotRead(
            f"no row of column names ({', '.join(COLUMNS)})",
            where=where,
            advice=f"Write {','.join(COLUMNS)} above the points, and their units below it.",
        )
    settings = _settings(rows[:head], where)
    reference = ReferenceState(
        temperature=_setting(settings, "reference_temperature", UNITS["degC"], where) + ZERO_CELSIUS,
        pressure=1e3 * _setting(settings, "reference_pressure", UNITS["kPa"], where),
    )
    columns, units = _columns(rows[head:], where)
    table = _table(rows[head + 2 :], columns, units, reference, where)
    name = settings["name"].cells[1] if "name" in settings else Path(path).stem
    origin = settings["origin"].cells[1] if "origin" in settings else ""
    return CompressorMap(name, reference, _lines(table, where), origin, where)


def _text(path: Path) -> str:
    try:
        return path.read_bytes().decode("utf-8-sig")
    except OSError as error:
        raise CannotRead(
            f"the compressor map cannot be opened ({error.strerror})", where=str(path), advice="Check the path."
        ) from error
    except UnicodeDecodeError as error:
        raise CannotRead("the compressor map is not UTF-8 text", where=str(path), advice="Save it as UTF-8.") from error


def _rows(text: str, where: str) -> list[_Row]:
    """Rows with something in them, cells stripped, trailing empty cells dropped."""
    rows = []
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip(" ,\t") or line.lstrip().startswith("#"):
            continue
        if ";" in line and "," not in line.split(";")[0]:
            _refuse(where, number, "cells are parted by semicolons", "Save it with commas and decimal points.")
        cells = [cell.strip() for cell in next(csv.reader(io.StringIO(line)))]
        while not cells[-1]:
            cells.pop()
        rows.append(_Row(number, tuple(cells)))
    if not rows:
        raise CannotRead("the compressor map is empty", where=where, advice="See docs/air-system.md for the layout.")
    return rows


def _settings(rows: list[_Row], where: str) -> dict[str, _Row]:
    found: dict[str, _Row] = {}
    for row in rows:
        key = row.cells[0]
        if key == "setting":
            continue
        if key not in SETTINGS:
            _refuse(where, row.line, f'"{key}" is no setting', f"Known settings: {', '.join(SETTINGS)}.")
        if key in found:
            _refuse(where, row.line, f"{key} is set twice", "Leave one of the two.")
        if len(row.cells) < 2:
            _refuse(where, row.line, f"{key} has no value", f"Write it as {key},value,unit.")
        found[key] = row
    return found


def _setting(settings: Mapping[str, _Row], key: str, target: Unit, where: str) -> float:
    if key not in settings:
        raise CannotRead(
            f"{key} is missing",
            where=where,
            advice=f"Add a line like {key},{'25,degC' if target.name == 'degC' else '100,kPa'}: it belongs to the map.",
        )
    row = settings[key]
    unit = parse_unit(row.cells[2]) if len(row.cells) > 2 else None
    if unit is None or unit.dimension != target.dimension or unit.reference == "gauge":
        _refuse(where, row.line, f"{key} has no {target.dimension} unit", f"Write it as {key},value,{target.name}.")
    value = convert(_number(row, 1, where, key), unit, target)
    _in_range(value, key, row.line, where)
    return value


def _columns(rows: list[_Row], where: str) -> tuple[tuple[str, ...], tuple[str, ...]]:
    names = rows[0].cells
    for name in names:
        if name not in COLUMNS or names.count(name) > 1:
            _refuse(where, rows[0].line, f'column "{name}" is not known or doubled', f"Columns: {', '.join(COLUMNS)}.")
    for name in COLUMNS[:3]:
        if name not in names:
            _refuse(where, rows[0].line, f"column {name} is missing", f"Columns: {', '.join(COLUMNS)}.")
    if len(rows) < 2 or len(rows[1].cells) != len(names):
        _refuse(where, rows[0].line, "no row of units follows the column names", "Write one like rpm,g/s,1,1.")
    return names, rows[1].cells


def _table(
    rows: list[_Row], columns: tuple[str, ...], units: tuple[str, ...], reference: ReferenceState, where: str
) -> dict[str, Array]:
    """Every column in our units, with the line of the file of each row as `line`."""
    factors = {
        name: _factor(name, text, reference, where, rows[0].line - 1 if rows else 0)
        for name, text in zip(columns, units, strict=True)
    }
    values: dict[str, list[float]] = {name: [] for name in columns}
    for row in rows:
        if len(row.cells) != len(columns):
            _refuse(where, row.line, f"{len(row.cells)} cells for {len(columns)} columns", "Fill in or remove the row.")
        for place, name in enumerate(columns):
            value = _number(row, place, where, name) * factors[name]
            _in_range(value, name, row.line, where)
            values[name].append(value)
    table = {name: np.array(column) for name, column in values.items()}
    table.setdefault("efficiency", np.full(len(rows), np.nan))
    return table | {"line": np.array([row.line for row in rows], dtype=np.float64)}


def _factor(name: str, text: str, reference: ReferenceState, where: str, line: int) -> float:
    """What a column's values are multiplied with to be rpm, g/s or a plain number."""
    if name == "corrected_flow" and text.replace("^", "") in (VOLUME, "m³/s"):
        # Volume at the reference state: its density turns it into mass.
        return 1e3 * float(dry_air.density(reference.pressure, reference.temperature))
    wanted = {"corrected_speed": "rotation", "corrected_flow": "mass flow"}.get(name)
    if wanted is None:
        plain = {"1": 1.0, "": 1.0, "-": 1.0} | ({"%": 0.01} if name == "efficiency" else {})
        if text in plain:
            return plain[text]
        _refuse(where, line, f'the unit "{text}" of {name} is not known', f"Write {' or '.join(plain)}.")
    unit = parse_unit(text)
    if unit is None or unit.dimension != wanted:
        units = "rpm" if wanted == "rotation" else f"g/s, kg/s, kg/h, lb/min or {VOLUME}"
        _refuse(where, line, f'the unit "{text}" of {name} is not known', f"Write {units}.")
    return unit.factor


def _lines(table: Mapping[str, Array], where: str) -> tuple[SpeedLine, ...]:
    speeds = np.unique(table["corrected_speed"])
    lines = []
    for speed in speeds:
        rows = np.flatnonzero(table["corrected_speed"] == speed)
        rows = rows[np.argsort(table["corrected_flow"][rows], kind="stable")]
        flow, at = table["corrected_flow"][rows], table["line"][rows]
        if rows.size < FEWEST_POINTS:
            what = f"the speed line of {speed:g} rpm has {rows.size} of at least {FEWEST_POINTS} points"
            _refuse(where, int(at[0]), what, "Give every point of a line exactly the same corrected speed.")
        if np.any(np.diff(flow) <= 0.0):
            twice = int(at[1:][np.diff(flow) <= 0.0][0])
            _refuse(where, twice, f"the line of {speed:g} rpm has one flow twice", "Remove one of the two rows.")
        efficiency = table["efficiency"][rows]
        lines.append(SpeedLine(float(speed), flow, table["pressure_ratio"][rows], efficiency))
    if len(lines) < 2:
        raise WrongUse("a map needs two speed lines or more", where=where, advice="Add the missing lines.")
    return tuple(lines)


def _number(row: _Row, place: int, where: str, name: str) -> float:
    text = row.cells[place]
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not np.isfinite(value):
        _refuse(where, row.line, f'{name} is "{text}", not a number', "Write it with a decimal point.")
    return value


def _in_range(value: float, name: str, line: int, where: str) -> None:
    low, high, unit = RANGES[name]
    if not low <= value <= high:
        raise WrongUse(
            f"{name} of {value:g} {unit}".rstrip() + f" is outside {low:g} to {high:g}",
            where=f"{where}, line {line}",
            advice="Check the figure and its unit.",
        )


def _refuse(where: str, line: int, what: str, advice: str) -> NoReturn:
    raise CannotRead(what, where=f"{where}, line {line}", advice=advice)
