"""The invented loggers: a drive goes in, a text file with noise, steps and held values comes out.

Two styles, as different as real ones are: rows with a comma and units in brackets, and rows with a semicolon, a decimal
comma and a row of units below the header. A logger asks its channels one after another, some seldom; between two
answers it repeats the old value, and that is how the files are written. Both have two spare inputs, to which the owner
wired sensors behind the compressor: what those are only the car sheet tells.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from pullproof.arrays import Array
from pullproof.demo.simulator import Drive
from pullproof.units import UNITS

__all__ = ["BRACKETS", "UNIT_ROW", "Column", "LogStyle", "write_log"]

PSI = UNITS["psi"].factor
"""[kPa]"""


@dataclass(frozen=True, slots=True)
class Column:
    """One column: a signal as its sensor and the logger show it, in the file's own unit."""

    header: str
    unit: str
    signal: str
    step: float
    """Smallest step that the file shows."""
    noise: float = 0.0
    """Standard deviation of the sensor's own noise."""
    every: int = 1
    """Asked again only every so many rows."""
    factor: float = 1.0
    gauge: bool = False
    """Counted from ambient pressure."""


@dataclass(frozen=True, slots=True)
class LogStyle:
    """What a file of this logger looks like."""

    columns: tuple[Column, ...]
    time_header: str
    time_unit: str
    row_period: float
    """[s]"""
    delimiter: str
    decimal: str
    unit_row: bool
    encoding: str
    newline: str


BRACKETS = LogStyle(
    columns=(
        Column("Engine Speed", "rpm", "engine_speed", 1.0, 5.0),
        Column("Vehicle Speed", "km/h", "vehicle_speed", 0.1, 0.1),
        Column("Accelerator Pedal Position", "%", "pedal_position", 0.4),
        Column("Throttle Position", "%", "throttle_position", 0.4),
        Column("Boost Pressure", "psi", "charge_pressure", 0.01, 0.06, factor=1.0 / PSI, gauge=True),
        Column("Boost Pressure Target", "psi", "charge_pressure_target", 0.01, factor=1.0 / PSI, gauge=True),
        Column("Manifold Absolute Pressure", "kPa", "manifold_pressure", 0.1, 0.5),
        Column("Ambient Pressure", "kPa", "ambient_pressure", 0.1, every=15),
        Column("Ambient Temperature", "°C", "ambient_temperature", 0.5, every=15),
        Column("Wastegate Duty Cycle", "%", "wastegate_duty", 0.1),
        Column("Mass Air Flow", "g/s", "air_mass_flow", 0.01, 0.8),
        Column("Intake Air Temperature", "°C", "intake_air_temperature", 0.5, 0.1, every=3),
        Column("Charge Air Temperature", "°C", "charge_air_temperature", 0.5, 0.1, every=3),
        Column("Coolant Temperature", "°C", "coolant_temperature", 0.1, 0.05, every=15),
        Column("Oil Temperature", "°C", "oil_temperature", 0.1, 0.05, every=15),
        Column("Lambda", "", "lambda", 0.001, 0.004),
        Column("Lambda Target", "", "lambda_target", 0.001),
        Column("Ignition Timing", "deg", "ignition_timing", 0.25),
        Column("Knock Retard", "deg", "knock_retard", 0.25),
        Column("Battery Voltage", "V", "battery_voltage", 0.1, 0.04, every=5),
        Column("Input 1", "bar", "compressor_outlet_pressure", 0.001, 0.004, factor=0.01, gauge=True),
        Column("Input 2", "°C", "compressor_outlet_temperature", 0.5, 0.2, every=3),
    ),
    time_header="Time",
    time_unit="s",
    row_period=1.0 / 15.0,
    delimiter=",",
    decimal=".",
    unit_row=False,
    encoding="utf-8",
    newline="\n",
)
"""Comma, units in brackets, boost in psi over ambient."""

UNIT_ROW = LogStyle(
    columns=(
        Column("Motordrehzahl", "1/min", "engine_speed", 1.0, 5.0),
        Column("Geschwindigkeit", "km/h", "vehicle_speed", 0.1, 0.1, every=2),
        Column("Fahrpedalstellung", "%", "pedal_position", 0.1),
        Column("Drosselklappenstellung", "%", "throttle_position", 0.1, every=2),
        Column("Ladedruck Ist", "mbar", "charge_pressure", 1.0, 4.0, factor=10.0),
        Column("Ladedruck Soll", "mbar", "charge_pressure_target", 1.0, factor=10.0, every=2),
        Column("Saugrohrdruck", "mbar", "manifold_pressure", 1.0, 5.0, factor=10.0, every=2),
        Column("Umgebungsdruck", "mbar", "ambient_pressure", 1.0, factor=10.0, every=20),
        Column("Umgebungstemperatur", "°C", "ambient_temperature", 0.5, every=20),
        Column("Tastverhältnis Wastegate", "%", "wastegate_duty", 0.1),
        Column("Luftmasse", "kg/h", "air_mass_flow", 0.1, 3.0, factor=3.6),
        Column("Ansauglufttemperatur", "°C", "intake_air_temperature", 0.5, 0.1, every=4),
        Column("Ladelufttemperatur", "°C", "charge_air_temperature", 0.5, 0.1, every=4),
        Column("Kühlmitteltemperatur", "°C", "coolant_temperature", 0.1, 0.05, every=20),
        Column("Öltemperatur", "°C", "oil_temperature", 0.1, 0.05, every=20),
        Column("Lambda Ist", "-", "lambda", 0.001, 0.004, every=2),
        Column("Lambda Soll", "-", "lambda_target", 0.001, every=2),
        Column("Zündwinkel", "°KW", "ignition_timing", 0.5),
        Column("Zündwinkelrücknahme Klopfen", "°KW", "knock_retard", 0.75, every=2),
        Column("Eingang 1", "mbar", "compressor_outlet_pressure", 1.0, 4.0, factor=10.0, every=2),
        Column("Eingang 2", "°C", "compressor_outlet_temperature", 0.5, 0.2, every=4),
    ),
    time_header="Zeit",
    time_unit="s",
    row_period=1.0 / 20.0,
    delimiter=";",
    decimal=",",
    unit_row=True,
    encoding="cp1252",
    newline="\r\n",
)
"""Semicolon, decimal comma, row of units, pressures absolute; German words of the trade."""


def write_log(drive: Drive, style: LogStyle, path: Path, rng: np.random.Generator) -> None:
    """Write what a logger of this style would have recorded of a drive.

    Raises
    ------
    OSError
        The file cannot be written.
    """
    rows = _row_times(drive, style, rng)
    texts = [_texts(rows, style.decimal, 3)]
    for column in style.columns:
        shown = _shown(column, drive.signals, rows, rng)
        texts.append(_texts(shown, style.decimal, _decimals(column.step)))
    lines = _header(style) + [style.delimiter.join(row) for row in zip(*texts, strict=True)]
    path.write_bytes((style.newline.join(lines) + style.newline).encode(style.encoding))


def _row_times(drive: Drive, style: LogStyle, rng: np.random.Generator) -> Array:
    """Instants of the rows [s]: regular, but for the few milliseconds that a laptop is late."""
    end = drive.signals["time"][-1]
    regular = np.arange(style.row_period, end - style.row_period, style.row_period)
    late = np.abs(rng.normal(0.0, 0.03 * style.row_period, regular.size))
    return np.asarray(np.round(regular + np.minimum(late, 0.4 * style.row_period), 3), dtype=np.float64)


def _shown(column: Column, signals: Mapping[str, Array], rows: Array, rng: np.random.Generator) -> Array:
    """Values in the file's unit: read at the column's own rows, noisy, in steps, and held until read again."""
    values = np.interp(rows, signals["time"], signals[column.signal])
    if column.gauge:
        values = values - np.interp(rows, signals["time"], signals["ambient_pressure"])
    noisy = values * column.factor + rng.normal(0.0, 1.0, rows.size) * column.noise
    stepped = np.round(noisy / column.step) * column.step
    phase = int(rng.integers(column.every))
    asked = np.maximum((np.arange(rows.size) - phase) // column.every * column.every + phase, 0)
    return np.asarray(stepped[asked], dtype=np.float64)


def _header(style: LogStyle) -> list[str]:
    named = [(style.time_header, style.time_unit), *((column.header, column.unit) for column in style.columns)]
    if style.unit_row:
        return [style.delimiter.join(name for name, _ in named), style.delimiter.join(unit for _, unit in named)]
    return [style.delimiter.join(f"{name} ({unit})" if unit else name for name, unit in named)]


def _decimals(step: float) -> int:
    """Digits after the decimal sign that a step needs: 0.25 needs two."""
    return next(digits for digits in range(6) if abs(step * 10**digits - round(step * 10**digits)) < 1e-9)


def _texts(values: Array, decimal: str, digits: int) -> list[str]:
    write: Callable[[float], str] = f"%.{digits}f".__mod__
    return [write(value).replace(".", decimal) for value in (values + 0.0).tolist()]
