"""The demo's car sheet, conditions and pipes, as a person would type them."""

import datetime
from collections.abc import Sequence

from pullproof.demo.car import DemoCar
from pullproof.demo.weather import Weather

__all__ = ["NEW_PIPE", "OLD_PIPE", "car_sheet", "conditions_sheet"]

OLD_PIPE = """\
# The invented car's pipe between turbocharger and cooler, as it came.
name = "old hot pipe"
side = "hot"
bore_mm = 46
wall_mm = 2
material = "steel"
finish = "steel"

[[element]]
kind = "hose"

[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 40                     # of the centre line: tight

[[element]]
kind = "pipe"
length_mm = 420

[[element]]
kind = "mitre"                     # cut and welded in one
angle_deg = 90

[[element]]
kind = "pipe"
length_mm = 170

[[element]]
kind = "hose"
"""

NEW_PIPE = """\
# What was made in its place.
name = "new hot pipe"
side = "hot"
bore_mm = 60
wall_mm = 2
material = "aluminium"
finish = "drawn"

[[element]]
kind = "hose"

[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 70
formed = true                      # bent in the tube itself: no weld to its neighbours

[[element]]
kind = "pipe"
length_mm = 360

[[element]]
kind = "mitre"                     # cut and welded: no room for a bend
angle_deg = 60

[[element]]
kind = "pipe"
length_mm = 170

[[element]]
kind = "hose"
"""


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

[columns]                          # sensors added behind the compressor, on the spare inputs of both loggers
"Input 1 (bar)" = "compressor_outlet_pressure, bar gauge"
"Input 2 (°C)" = "compressor_outlet_temperature, degC"
"Eingang 1" = "compressor_outlet_pressure, mbar absolute"
"Eingang 2" = "compressor_outlet_temperature, degC"
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
