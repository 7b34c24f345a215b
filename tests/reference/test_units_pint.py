"""Units against pint, a general-purpose library of units (version in requirements/dev.txt)."""

import pint
import pytest

from pullproof.units import UNITS, convert

PINT = {
    "rpm": "revolution/minute",
    "1/s": "revolution/second",
    "km/h": "kilometer/hour",
    "mph": "mile/hour",
    "m/s": "meter/second",
    "kn": "knot",
    "kPa": "kilopascal",
    "Pa": "pascal",
    "hPa": "hectopascal",
    "mbar": "millibar",
    "bar": "bar",
    "MPa": "megapascal",
    "psi": "psi",
    "inHg": "inch_Hg",
    "mmHg": "mmHg",
    "inH2O": "inch_H2O",
    "Torr": "torr",
    "atm": "standard_atmosphere",
    "kgf/cm2": "kilogram_force/centimeter**2",
    "degC": "degC",
    "degF": "degF",
    "K": "kelvin",
    "g/s": "gram/second",
    "kg/h": "kilogram/hour",
    "kg/min": "kilogram/minute",
    "kg/s": "kilogram/second",
    "mg/s": "milligram/second",
    "lb/min": "pound/minute",
    "lb/h": "pound/hour",
    "deg": "degree",
    "rad": "radian",
    "N m": "newton*meter",
    "lbf ft": "force_pound*foot",
    "kgf m": "kilogram_force*meter",
    "V": "volt",
    "mV": "millivolt",
    "m/s2": "meter/second**2",
    "g": "g_0",
    "ft/s2": "foot/second**2",
    "mph/s": "mile/hour/second",
    "km/h/s": "kilometer/hour/second",
    "m": "meter",
    "km": "kilometer",
    "ft": "foot",
    "mi": "mile",
    "mm": "millimeter",
    "cm": "centimeter",
    "s": "second",
    "ms": "millisecond",
    "us": "microsecond",
    "ns": "nanosecond",
    "min": "minute",
    "h": "hour",
    "kW": "kilowatt",
    "hp": "horsepower",
    "PS": "metric_horsepower",
    "l/h": "liter/hour",
    "l/min": "liter/minute",
    "gal/h": "gallon/hour",
    "ft3/min": "foot**3/minute",
    "cm3/min": "centimeter**3/minute",
}


@pytest.fixture(scope="module")
def registry():
    return pint.UnitRegistry(autoconvert_offset_to_baseunit=True)


@pytest.mark.parametrize("name", PINT)
def test_factors_agree_with_pint(registry, name):
    """Every convertible unit turns into the base unit as it does in pint, to nine digits."""
    unit = UNITS[name]
    base = next(other for other in UNITS.values() if other.dimension == unit.dimension and other.factor == 1)
    expected = registry.Quantity(12.5, PINT[name]).to(PINT[base.name]).magnitude
    assert convert(12.5, unit, base) == pytest.approx(expected, rel=1e-9)


def test_no_convertible_unit_is_left_out():
    """A dimension with more than one unit has all its units checked above."""
    by_dimension = {}
    for unit in UNITS.values():
        by_dimension.setdefault(unit.dimension, []).append(unit.name)
    convertible = {name for names in by_dimension.values() if len(names) > 1 for name in names}
    assert convertible - set(PINT) == {"rpm x1000"}, "a multiple by a thousand has no name in pint"
