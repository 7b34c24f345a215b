"""What is taken for granted where a log does not say, and how far each sensor is believed; on one page.

All half widths hold 95 %. None has a published source: they are what people who calibrate such sensors would call
usual (common practice, no source). SI units.
"""

__all__ = [
    "AIR_METER",
    "AMBIENT_KELVIN",
    "AMBIENT_PASCAL",
    "ASSUMED_PRESSURE",
    "ASSUMED_TEMPERATURE",
    "CHARGE_PATH_LOSS",
    "COMPRESSOR_EFFICIENCY",
    "COOLANT_RISE",
    "DYNAMIC_SHARE",
    "EFFICIENCY_RANGE",
    "FILLING",
    "FILLING_RANGE",
    "INLET_LOSS",
    "INLET_RISE",
    "LAG",
    "LAMBDA",
    "LEAST_RATIO",
    "PRESSURE_SENSOR",
    "REVERSION_RPM",
    "STEADY_KELVIN",
    "TEMPERATURE_SENSOR",
    "THROTTLE_LOSS",
    "USUAL_DUTY",
]

Band = tuple[float, float, float]
"""Lowest, usual and highest value."""

AIR_METER = 0.05
"""Half width of an air meter in its own housing, as a share of its reading."""

PRESSURE_SENSOR = 3_000.0
"""Half width of a sensor for 300 kPa: 1 % of its range. Two of them differ by up to 4.2 kPa for no reason. [Pa]"""

TEMPERATURE_SENSOR = 3.0
"""Half width of a temperature sensor that has settled. [K]"""

LAG = 2.0
"""Longest time constant of a temperature sensor in moving air; the shortest is next to nothing. [s]"""

AMBIENT_KELVIN, AMBIENT_PASCAL = 2.0, 1_000.0
"""Half widths of ambient air that somebody wrote down or the car logged: barometers move in steps of 1 kPa."""

ASSUMED_TEMPERATURE: Band = (273.15, 288.15, 308.15)
ASSUMED_PRESSURE: Band = (95_000.0, 100_000.0, 103_500.0)
"""Ambient air that nobody wrote down, within 500 m of the sea. [K], [Pa]"""

INLET_RISE: Band = (0.0, 4.0, 12.0)
"""By how much the air at the compressor is warmer than ambient: filter box and pipe in a hot engine bay. [K]"""

COOLANT_RISE: Band = (0.0, 4.0, 15.0)
"""By how much the air at the cooler's face is warmer than ambient: 5 to 15 K behind another cooler. [K]"""

INLET_LOSS: Band = (500.0, 2_500.0, 6_000.0)
"""Loss of filter and inlet pipe at the largest flow of a pull. [Pa]"""

CHARGE_PATH_LOSS: Band = (2_000.0, 8_000.0, 18_000.0)
"""Loss of cooler and charge pipes at the largest flow of a pull. [Pa]"""

THROTTLE_LOSS: Band = (0.0, 2_000.0, 5_000.0)
"""Loss of an open throttle at the largest flow of a pull. [Pa]"""

DYNAMIC_SHARE = 0.01
"""Sensors read static pressure; at 45 m/s behind the compressor the total is this share higher."""

COMPRESSOR_EFFICIENCY: Band = (0.65, 0.70, 0.75)
"""Isentropic efficiency where no temperature tells it. [1]"""

EFFICIENCY_RANGE = (0.50, 0.80)
"""An efficiency outside, from a log, means a sensor, not a wheel. [1]"""

LEAST_RATIO = 1.3
"""Pressure ratio below which a compressor's temperatures say more of its surroundings than of its wheel. [1]"""

FILLING: Band = (0.80, 0.92, 1.04)
"""Volumetric efficiency at full load, referred to the manifold, where no air meter tells it. [1]"""

FILLING_RANGE = (0.60, 1.10)
"""A volumetric efficiency outside, at full load, means a slip in a unit. [1]"""

STEADY_KELVIN = 0.5
"""Fastest change of the cooler's outlet temperature that counts as steady: a core of 5 kJ/K then stores or gives a
sixth of the usual 15 kW. [K/s]"""

LAMBDA = 0.02
"""Half width of a wide-band probe. [1]"""

REVERSION_RPM = 2_500.0
"""Engine speed below which an air meter may count air twice that swings back and forth. [rpm]"""

USUAL_DUTY = 85.0
"""Injector duty above which port injectors usually stop answering in proportion. [%]"""
