"""The demo's car sheet and conditions, as a person would type them."""

import datetime
from collections.abc import Sequence

from pullproof.demo.car import DemoCar
from pullproof.demo.weather import Weather

__all__ = ["car_sheet", "conditions_sheet"]


def car_sheet(car: DemoCar) -> str:
    """TOML of the invented car."""
    chassis, engine = car.chassis, car.engine
    return f"""\
# An invented car: its logs come from a simulation.
name = "{car.name}"
mass_kg = {chassis.mass:g}                     # as tested: car, fuel, people
tyre = "{chassis.tyre}"
gear_ratios = [{", ".join(f"{ratio:g}" for ratio in chassis.gear_ratios)}]
final_drive = {chassis.final_drive:g}
drag_area_m2 = {chassis.drag_area:g}                # drag coefficient times frontal area
rolling_resistance = {chassis.rolling_resistance:g}
driveline_efficiency = {chassis.driveline_efficiency:g}
rotating_mass_factor = [{", ".join(f"{factor:g}" for factor in chassis.rotating_mass_factor)}]

[engine]
displacement_l = {engine.displacement * 1e3:.3f}
cylinders = 4
redline_rpm = {engine.redline:g}
fuel = "petrol"
aspiration = "turbo"

[boost]
wastegate_duty_closed = 100        # the logged percentage at which the wastegate is held closed
"""


def conditions_sheet(
    logs: Sequence[tuple[str, datetime.datetime, str, Weather]], change: str, changed_at: datetime.datetime
) -> str:
    """TOML of the weather of each log (file, when, day, weather) and of the one change between them."""
    entries = [
        f"""\
[[log]]
file = "{file}"
when = {when.isoformat()}
day = "{day}"
air_temperature_c = {weather.temperature_c:.1f}
air_pressure_kpa = {weather.pressure_kpa:.1f}           # at the place, not reduced to sea level
relative_humidity_pct = {weather.humidity_pct:.0f}
direction = "out"
"""
        for file, when, day, weather in logs
    ]
    entries.append(f'[[change]]\nwhat = "{change}"\nwhen = {changed_at.isoformat()}\n')
    return "# Invented weather of an invented car.\n" + "\n".join(entries)
