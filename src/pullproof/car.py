"""The car sheet: what an owner knows of the car, typed in TOML."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from types import MappingProxyType

from pullproof.errors import WrongUse
from pullproof.physics.tyre import nominal_diameter
from pullproof.sheets import Sheet, parse_sheet, read_sheet

__all__ = ["LIMITS", "Boost", "Car", "ColumnRule", "Engine", "load_car", "parse_car"]

DOUBTS = {
    "mass_kg": (5_000.0, "kg"),
    "drag_area_m2": (2.0, "m2"),
    "rolling_resistance": (0.02, "(coefficient)"),
    "driveline_efficiency": (0.2, "(fraction)"),
}
"""Keys for which the sheet may state a doubt, the largest that makes sense, and its unit."""

LIMITS = {
    "knock_retard_deg": (0.1, 30, "deg"),
    "lambda_full_load": (0.5, 3, "(lambda)"),
    "lambda_over_target": (0.005, 1, "(lambda)"),
    "boost_kpa": (5, 500, "kPa"),
    "boost_over_target_kpa": (1, 200, "kPa"),
    "charge_temperature_c": (20, 250, "degC"),
    "compressor_outlet_temperature_c": (50, 300, "degC"),
    "coolant_temperature_c": (60, 140, "degC"),
    "coolant_temperature_least_c": (0, 120, "degC"),
    "oil_temperature_c": (70, 180, "degC"),
    "oil_temperature_least_c": (0, 120, "degC"),
    "exhaust_gas_temperature_c": (400, 1_200, "degC"),
    "oil_pressure_kpa_per_1000_rpm": (5, 300, "kPa"),
    "oil_pressure_fall_kpa": (5, 500, "kPa"),
    "fuel_pressure_sag_pct": (1, 90, "%"),
    "fuel_rail_pressure_fall_pct": (1, 90, "%"),
    "injector_duty_pct": (20, 120, "%"),
    "battery_voltage_least_v": (6, 32, "V"),
    "battery_voltage_v": (10, 36, "V"),
    "engine_speed_rpm": (800, 20_000, "rpm"),
    "turbo_speed_rpm": (10_000, 400_000, "rpm"),
}
"""Keys of the table `[limits]`: what the owner wants watched, the range that makes sense, and its unit."""

FUELS = ("petrol", "e10", "e85", "ethanol", "methanol", "diesel", "lpg", "cng")


@dataclass(frozen=True, slots=True)
class Engine:
    """The engine. None where the sheet does not say."""

    displacement_l: float | None = None
    cylinders: int | None = None
    redline_rpm: float | None = None
    fuel: str | None = None
    aspiration: str | None = None
    fuel_mg_per_l: float | None = None
    """Of a diesel at full load and rated speed: milligrams of fuel per litre of displacement and working cycle."""
    boost_ratio: float | None = None
    """Absolute charge pressure over ambient pressure at full load, where no log shows it."""
    charge_cooling: str | None = None
    """What cools the charge: `air`, `liquid` or `none`."""


@dataclass(frozen=True, slots=True)
class Boost:
    """Boost control."""

    wastegate_duty_closed: float | None = None
    """The logged percentage at which the wastegate is held closed: 100 or 0. None where nobody said."""


@dataclass(frozen=True, slots=True)
class ColumnRule:
    """The owner's word on a column; it overrules recognition. `channel` None keeps the column unrecognised."""

    channel: str | None
    unit: str | None = None


@dataclass(frozen=True, slots=True)
class Car:
    """One vehicle. None or empty where the sheet does not say; what needs it then says so."""

    name: str
    mass_kg: float | None = None
    tyre: str | None = None
    gear_ratios: tuple[float, ...] = ()
    final_drive: float | None = None
    drag_area_m2: float | None = None
    rolling_resistance: float | None = None
    driveline_efficiency: float | None = None
    rotating_mass_factor: tuple[float, ...] = ()
    engine: Engine = field(default_factory=Engine)
    boost: Boost = field(default_factory=Boost)
    doubts: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    """Key of the sheet to the half width, in the key's unit, that holds 95 %; what is not in here gets a usual one."""
    columns: Mapping[str, ColumnRule] = field(default_factory=lambda: MappingProxyType({}))
    decimal: str | None = None
    """Decimal sign of this car's logs, where the owner had to say."""
    limits: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    """Key of `LIMITS` to the owner's own limit, in the key's unit; usual ones hold for what is not in here."""


def load_car(path: str | Path) -> Car:
    """Read a car sheet.

    Raises
    ------
    CannotRead
        The file cannot be opened or is not TOML.
    WrongUse
        A key is unknown, or a value is not of its kind or far outside any road car.
    """
    return _car(read_sheet(Path(path), "car sheet"))


def parse_car(text: str, where: str = "car sheet") -> Car:
    """Read a car sheet that is at hand as text; `where` is what a sentence about it calls it.

    Raises
    ------
    CannotRead
        It is not TOML.
    WrongUse
        As `load_car`.
    """
    return _car(parse_sheet(text.encode(), "car sheet", where))


def _car(sheet: Sheet) -> Car:
    name = sheet.text("name")
    if not name:
        raise WrongUse('key "name" is missing', where=sheet.where, advice='Add a line like name = "blue hatch".')
    engine, boost = sheet.table("engine"), sheet.table("boost")
    columns, reading, doubt = sheet.table("columns"), sheet.table("reading"), sheet.table("doubt")
    doubts = {key: doubt.number(key, 0, most, unit=unit) for key, (most, unit) in DOUBTS.items()}
    limit = sheet.table("limits")
    limits = {key: limit.number(key, low, high, unit=unit) for key, (low, high, unit) in LIMITS.items()}
    car = Car(
        name=name,
        mass_kg=sheet.number("mass_kg", 200, 60_000, unit="kg"),
        tyre=_tyre(sheet),
        gear_ratios=sheet.numbers("gear_ratios", 0.2, 25, unit="(ratio)"),
        final_drive=sheet.number("final_drive", 0.5, 20, unit="(ratio)"),
        drag_area_m2=sheet.number("drag_area_m2", 0.2, 12, unit="m2"),
        rolling_resistance=sheet.number("rolling_resistance", 0.002, 0.06, unit="(coefficient)"),
        driveline_efficiency=sheet.number("driveline_efficiency", 0.5, 1, unit="(fraction)"),
        rotating_mass_factor=sheet.numbers("rotating_mass_factor", 1, 4, unit="(factor)"),
        engine=Engine(
            displacement_l=engine.number("displacement_l", 0.1, 40, unit="l"),
            cylinders=engine.whole("cylinders", 1, 16, unit="cylinders"),
            redline_rpm=engine.number("redline_rpm", 800, 20_000, unit="rpm"),
            fuel=engine.text("fuel", choices=FUELS),
            aspiration=engine.text("aspiration", choices=("turbo", "none")),
            fuel_mg_per_l=engine.number("fuel_mg_per_l", 5, 300, unit="mg per litre and cycle"),
            boost_ratio=engine.number("boost_ratio", 1, 5, unit="(ratio)"),
            charge_cooling=engine.text("charge_cooling", choices=("air", "liquid", "none")),
        ),
        boost=Boost(wastegate_duty_closed=_closed_duty(boost)),
        doubts=MappingProxyType({key: value for key, value in doubts.items() if value is not None}),
        columns=MappingProxyType(
            {header: _column_rule(header, value, sheet.where) for header, value in columns.items().items()}
        ),
        decimal=reading.text("decimal", choices=(".", ",")),
        limits=MappingProxyType({key: value for key, value in limits.items() if value is not None}),
    )
    if car.rotating_mass_factor and len(car.rotating_mass_factor) != len(car.gear_ratios):
        raise WrongUse(
            f"rotating_mass_factor has {len(car.rotating_mass_factor)} entries and gear_ratios {len(car.gear_ratios)}",
            where=sheet.where,
            advice="Give one factor per gear, or leave rotating_mass_factor out.",
        )
    for part in (engine, boost, reading, doubt, limit, sheet):
        part.finish()
    return car


def _tyre(sheet: Sheet) -> str | None:
    size = sheet.text("tyre")
    if size is not None:
        try:
            nominal_diameter(size)
        except ValueError as error:
            raise WrongUse(
                f'key "tyre": {error}', where=sheet.where, advice="Leave the line out where you do not know it."
            ) from error
    return size


def _closed_duty(boost: Sheet) -> float | None:
    closed = boost.number("wastegate_duty_closed", 0, 100, unit="%")
    if closed not in (None, 0.0, 100.0):
        raise WrongUse(
            f"boost.wastegate_duty_closed is {closed:g}",
            where=boost.where,
            advice="Write 100 where a logged 100 % means that the wastegate is held closed, 0 where it means open.",
        )
    return closed


def _column_rule(header: str, value: object, where: str) -> ColumnRule:
    """`"channel"`, `"channel, unit"` or `{ channel = ..., unit = ... }`; channel `ignore` keeps the column as it is."""
    channel: object
    unit: object
    if isinstance(value, str):
        channel, _, unit = (part.strip() for part in value.partition(","))
    elif isinstance(value, dict) and set(value) <= {"channel", "unit"}:
        channel, unit = value.get("channel"), value.get("unit", "")
    else:
        channel = unit = None
    if not isinstance(channel, str) or not channel or not isinstance(unit, str):
        raise WrongUse(
            f'columns."{header}" is {value!r}',
            where=where,
            advice=f'Write "{header}" = "charge_pressure, psi gauge" (channel, then the unit that the file uses).',
        )
    return ColumnRule(None if channel == "ignore" else channel, unit or None)
