"""Hand simulated logs and sheets to the package, as the plain dataclasses that its reader would have made."""

import datetime
from dataclasses import dataclass
from types import MappingProxyType

import numpy as np

from pullproof import car as sheets
from pullproof.channels import CHANNELS, Trace
from pullproof.conditions import Air as RecordedAir
from pullproof.conditions import Conditions, ConditionsSheet
from pullproof.reading.log import Column, Log
from validation.batches import Array
from validation.cars import Car
from validation.garage import TYRES
from validation.loggers import Sampled
from validation.measure import Sheet

__all__ = ["Recorded", "car_sheet", "conditions_sheet", "log_object", "oracle_sheet"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """What the owner wrote down of one log. None where nobody looked."""

    file: str
    when: datetime.datetime
    day: str
    temperature_c: float | None
    pressure_kpa: float | None
    humidity_pct: float | None
    direction: str | None


def log_object(sampled: Sampled, file: str) -> Log:
    """The log as the reader would return it."""
    traces, columns = {}, [Column("time", "time", "s", 1.0, None)]
    length = float(sampled.time[-1]) if len(sampled.time) else 0.0
    for name, values in sampled.values.items():
        unit = CHANNELS[name].unit
        traces[name] = Trace(name, unit, sampled.time, values)
        columns.append(Column(name, name, unit, 1.0, _rate(values, length)))
    return Log(
        file=file,
        rows=len(sampled.time),
        duration_s=length,
        encoding="utf-8",
        delimiter=",",
        decimal=".",
        columns=tuple(columns),
        traces=MappingProxyType(traces),
    )


def _rate(values: Array, length: float) -> float | None:
    known = values[~np.isnan(values)]
    return float((1 + np.count_nonzero(np.diff(known))) / length) if length > 0 and len(known) > 1 else None


def car_sheet(car: Car, row: int, rng: np.random.Generator) -> sheets.Car:
    """The sheet that an owner fills in: gearing from the handbook, mass from a scale, resistance from a brochure."""
    vehicle, engine = car.vehicle, car.engine
    diesel = engine.diesel[row] > 0
    return sheets.Car(
        name="trial car",
        mass_kg=float(round(vehicle.mass[row] * rng.normal(1.0, 0.012), 0)),
        tyre=TYRES[int(vehicle.tyre[row])],
        gear_ratios=tuple(float(ratio) for ratio in vehicle.gear_ratios[row]),
        final_drive=float(vehicle.final_drive[row]),
        drag_area_m2=float(round(vehicle.drag_area[row] * rng.normal(1.0, 0.06), 3)),
        rolling_resistance=0.012 if rng.random() < 0.7 else None,
        driveline_efficiency=None,
        engine=sheets.Engine(
            displacement_l=float(round(engine.displacement[row] * 1e3, 1)),
            cylinders=int(engine.cylinders[row]),
            redline_rpm=float(engine.redline[row]),
            fuel="diesel" if diesel else "petrol",
            aspiration="turbo",
        ),
        boost=sheets.Boost(100.0),
    )


def oracle_sheet(car: Car, row: int, gear: int) -> Sheet:
    """The same for the oracle, who knows the car."""
    vehicle = car.vehicle
    ratio = float(vehicle.gear_ratios[row, gear - 1] * vehicle.final_drive[row])
    radius = float(vehicle.tyre_radius[row])
    turning = float(vehicle.wheel_inertia[row] + ratio**2 * vehicle.engine_inertia[row]) / radius**2
    per_rpm = np.pi / 30.0 * radius / ratio
    return Sheet(float(vehicle.mass[row]), turning, per_rpm, float(vehicle.rolling[row]), float(vehicle.drag_area[row]))


def conditions_sheet(recorded: list[Recorded]) -> ConditionsSheet:
    """The conditions file as it would be read."""
    logs = {}
    for entry in recorded:
        values = {
            "temperature_c": entry.temperature_c,
            "pressure_kpa": entry.pressure_kpa,
            "relative_humidity_pct": entry.humidity_pct,
        }
        origin = {name: "conditions file" for name, value in values.items() if value is not None}
        logs[entry.file] = Conditions(
            entry.file,
            entry.when,
            entry.day,
            RecordedAir(**values, origin=MappingProxyType(origin)),
            entry.direction,
        )
    return ConditionsSheet(MappingProxyType(logs))
