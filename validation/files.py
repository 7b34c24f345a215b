"""Write logs as people's programs write them: words, languages, units, delimiters, decimal signs, clocks, encodings.

A `Style` is drawn at random; `write` returns the bytes and, for every column, what it holds in truth.
"""

import datetime
import tomllib
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from validation.batches import Array
from validation.loggers import Sampled

__all__ = ["Style", "TrueColumn", "draw_style", "write"]

WORDS: dict[str, dict[str, list[str]]] = tomllib.loads(
    Path(__file__).with_name("header_words.toml").read_text(encoding="utf-8")
)

PRESSURES = ("manifold_pressure", "charge_pressure", "charge_pressure_target")
TEMPERATURES = tuple(name for name in WORDS if name.endswith("_temperature"))

Convert = Callable[[Array, float], Array]
UNITS: dict[str, tuple[str, Convert, str]] = {
    "kPa": ("kPa", lambda values, _: values, "kPa"),
    "kPa gauge": ("kPa", lambda values, ambient: values - ambient, "kPa gauge"),
    "psi gauge": ("psi", lambda values, ambient: (values - ambient) / 6.894757, "psi gauge"),
    "psi": ("psi", lambda values, _: values / 6.894757, "psi"),
    "bar": ("bar", lambda values, _: values / 100.0, "bar"),
    "bar gauge": ("bar", lambda values, ambient: (values - ambient) / 100.0, "bar gauge"),
    "mbar": ("mbar", lambda values, _: values * 10.0, "mbar"),
    "hPa": ("hPa", lambda values, _: values * 10.0, "hPa"),
    "degC": ("°C", lambda values, _: values, "degC"),
    "degF": ("°F", lambda values, _: values * 1.8 + 32.0, "degF"),
    "km/h": ("km/h", lambda values, _: values, "km/h"),
    "mph": ("mph", lambda values, _: values / 1.609344, "mph"),
    "g/s": ("g/s", lambda values, _: values, "g/s"),
    "kg/h": ("kg/h", lambda values, _: values * 3.6, "kg/h"),
    "lambda": ("", lambda values, _: values, "1"),
    "AFR": ("AFR", lambda values, _: values * 14.7, "AFR"),
    "%": ("%", lambda values, _: values, "%"),
    "rpm": ("rpm", lambda values, _: values, "rpm"),
    "1/min": ("1/min", lambda values, _: values, "rpm"),
    "deg": ("°", lambda values, _: values, "deg"),
    "N m": ("Nm", lambda values, _: values, "N m"),
    "V": ("V", lambda values, _: values, "V"),
    "1": ("", lambda values, _: values, "1"),
}
"""Unit in which a column is written: its print, its conversion (values, ambient pressure in kPa), the name it has."""

PLAIN = {
    "vehicle_speed": "km/h",
    "air_mass_flow": "g/s",
    "ignition_timing": "deg",
    "knock_retard": "deg",
    "engine_torque": "N m",
    "battery_voltage": "V",
    "gear": "1",
    "lambda": "lambda",
    "turbo_speed": "rpm",
    "engine_speed": "rpm",
    "ambient_pressure": "kPa",
}


@dataclass(frozen=True, slots=True)
class TrueColumn:
    """What a column holds in truth: a channel or None for a decoy, and the unit in which it is written."""

    header: str
    channel: str | None
    unit: str | None


@dataclass(frozen=True, slots=True)
class Style:
    """How one program writes its files."""

    language: str
    delimiter: str
    decimal: str
    encoding: str
    clock: str
    unit_place: str
    """`brackets`, `square`, `comma`, `row` or `none`."""
    says_reference: bool
    """Whether a header says gauge or absolute."""
    preamble: int
    trailing: bool
    newline: str
    units: dict[str, str]
    words: dict[str, str]
    decoys: bool
    closed_duty: float


def draw_style(rng: np.random.Generator) -> Style:
    """A random style; a decimal comma never comes with a comma as delimiter."""
    language = str(rng.choice(["en", "en", "en", "de", "fr", "es", "it", "sv", "pl", "nl"]))
    decimal = "," if language != "en" and rng.random() < 0.5 else "."
    delimiter = str(rng.choice([";", "\t"])) if decimal == "," else str(rng.choice([",", ",", ";", "\t"]))
    encodings = ["utf-8", "utf-8-sig", "utf-16"] + ([] if language == "pl" else ["latin-1", "cp1252"])
    imperial = language == "en" and rng.random() < 0.4
    pressure = (
        str(rng.choice(["psi gauge", "psi"]))
        if imperial
        else str(rng.choice(["kPa", "kPa gauge", "bar", "bar gauge", "mbar", "hPa"]))
    )
    warm = "degF" if imperial else "degC"
    units = PLAIN | dict.fromkeys(PRESSURES, pressure) | dict.fromkeys(TEMPERATURES, warm)
    if imperial:
        units["vehicle_speed"] = "mph"
    if rng.random() < 0.25:
        units["air_mass_flow"] = "kg/h"
    if rng.random() < 0.25:
        units["lambda"] = "AFR"
    if language == "de" and rng.random() < 0.6:
        units["engine_speed"] = "1/min"
    words = {name: _word(rng, by_language, language) for name, by_language in WORDS.items()}
    if words["charge_pressure"] == words["manifold_pressure"]:
        words["manifold_pressure"] = WORDS["manifold_pressure"][language][0]
    return Style(
        language,
        delimiter,
        decimal,
        str(rng.choice(encodings)),
        str(rng.choice(["seconds", "milliseconds", "time of day", "date and time"])),
        str(rng.choice(["brackets", "square", "comma", "row", "none"])),
        bool(rng.random() < 0.6),
        int(rng.choice([0, 0, 0, 1, 3])),
        bool(rng.random() < 0.2),
        str(rng.choice(["\n", "\r\n"])),
        units,
        words,
        bool(rng.random() < 0.5),
        100.0 if rng.random() < 0.9 else 0.0,
    )


def _word(rng: np.random.Generator, by_language: dict[str, list[str]], language: str) -> str:
    choices = by_language["short"] if rng.random() < 0.25 else by_language[language]
    return str(rng.choice(choices))


def write(
    sampled: Sampled, style: Style, ambient_kpa: float, rng: np.random.Generator
) -> tuple[bytes, tuple[TrueColumn, ...]]:
    """The file's bytes, and its columns as they are in truth, the clock first."""
    columns = [_clock(sampled.time, style)]
    truths = [TrueColumn(columns[0][0], "time", None)]
    units = ["s" if style.clock == "seconds" else "ms" if style.clock == "milliseconds" else ""]
    for name, values in sampled.values.items():
        header, unit, cells, truth = _column(name, values, style, ambient_kpa)
        columns.append((header, cells))
        units.append(unit)
        truths.append(truth)
    if style.decoys:
        for header, cells in _decoys(sampled, style, rng):
            columns.append((header, cells))
            units.append("%")
            truths.append(TrueColumn(header, None, None))
    tail = style.delimiter if style.trailing else ""
    lines = [f"recording {index + 1} of the day" for index in range(style.preamble)]
    lines.append(style.delimiter.join(header for header, _ in columns) + tail)
    if style.unit_place == "row":
        lines.append(style.delimiter.join(units) + tail)
    lines += [style.delimiter.join(cells) + tail for cells in zip(*(cells for _, cells in columns), strict=True)]
    text = style.newline.join(lines) + style.newline
    return text.encode(style.encoding, errors="replace"), tuple(truths)


def _column(name: str, values: Array, style: Style, ambient: float) -> tuple[str, str, list[str], TrueColumn]:
    key = style.units.get(name, "%")
    printed, convert, truth_unit = UNITS[key]
    converted = convert(values, ambient)
    if name == "wastegate_duty" and style.closed_duty == 0.0:
        converted = 100.0 - converted
    header = style.words[name]
    if name in PRESSURES and style.says_reference and "absolut" not in header.lower():
        header += " (gauge)" if "gauge" in key else " (absolute)"
    if printed and style.unit_place in ("brackets", "square", "comma"):
        header += {"brackets": " ({})", "square": " [{}]", "comma": ", {}"}[style.unit_place].format(printed)
    header = header.replace(style.delimiter, " ")
    digits = 3 if key in ("lambda", "bar", "bar gauge") else 2
    return header, printed, _cells(converted, digits, style), TrueColumn(header, name, truth_unit)


def _cells(values: Array, digits: int, style: Style) -> list[str]:
    cells = ["" if np.isnan(value) else f"{value:.{digits}f}" for value in values]
    return [cell.replace(".", ",") for cell in cells] if style.decimal == "," else cells


def _clock(time: Array, style: Style) -> tuple[str, list[str]]:
    """The clock's header and cells."""
    word = style.words["time"]
    if style.clock == "seconds":
        mark = {"brackets": " (s)", "square": " [s]", "comma": " s"}.get(style.unit_place, "")
        return word + mark, _cells(time, 3, style)
    if style.clock == "milliseconds":
        return f"{word} (ms)", [f"{1000 * instant:.0f}" for instant in time]
    begin = datetime.datetime.fromisoformat("2026-05-09T14:31:07.250")
    stamps = [begin + datetime.timedelta(seconds=float(instant)) for instant in time]
    form = "%H:%M:%S.%f" if style.clock == "time of day" else "%Y-%m-%d %H:%M:%S.%f"
    return word, [stamp.strftime(form)[:-3] for stamp in stamps]


def _decoys(sampled: Sampled, style: Style, rng: np.random.Generator) -> list[tuple[str, list[str]]]:
    """Columns that resemble channels and are none."""
    count = len(sampled.time)
    slow = np.cumsum(rng.normal(0.0, 0.05, count))
    return [
        ("Short term fuel trim", _cells(2.0 * np.sin(slow), 2, style)),
        ("Boost error", _cells(np.clip(5.0 * np.sin(slow) + 2.0, -10.0, 10.0), 2, style)),
        ("Steering wheel angle", _cells(4.0 * slow, 1, style)),
        ("Wastegate maximum", _cells(np.full(count, 95.0), 1, style)),
    ]
