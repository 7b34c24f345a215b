"""Exact factors, and gauge against absolute pressure: the only place where units change.

A `Unit` says how its values turn into the base unit of its dimension (`base = value * factor + offset`). The base
units are those of `pullproof.channels`. Pressures carry a reference besides: `gauge` pressure counts from the
ambient pressure of the moment, `absolute` from vacuum. One never turns into the other without the ambient
pressure being named, see `convert`.

Factors follow from the definitions: pound 0.453 592 37 kg, foot 0.3048 m, mile 1609.344 m, standard gravity
9.806 65 m/s2, atmosphere 101 325 Pa (all exact: NIST SP 811, appendix B.8 and its footnotes). Inch of mercury and
inch of water are the conventional ones: 13 595.1 kg/m3 and 1000 kg/m3 at standard gravity.
"""

import re
import unicodedata
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Literal, TypeVar

from pullproof.arrays import Array

__all__ = ["UNITS", "Reference", "Unit", "convert", "parse_unit", "repair_text"]

Reference = Literal["", "gauge", "absolute"]
Values = TypeVar("Values", float, Array)


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit of measurement.

    `value * factor + offset` is the same quantity in the base unit of `dimension`. `reference` is empty where the
    dimension is not pressure, and for a pressure whose reference nobody stated.
    """

    name: str
    dimension: str
    factor: float = 1.0
    offset: float = 0.0
    reference: Reference = ""

    def referred_to(self, reference: Reference) -> "Unit":
        """The same pressure unit, `gauge` or `absolute`.

        Raises
        ------
        ValueError
            The unit is not a pressure.
        """
        if self.dimension != "pressure":
            raise ValueError(f"{self.name} is not a pressure: it has no gauge or absolute reference")
        bare = self.name.removesuffix(" gauge")
        return replace(self, name=f"{bare} gauge" if reference == "gauge" else bare, reference=reference)


def _units() -> Mapping[str, Unit]:
    pound, foot, mile, gravity = 0.45359237, 0.3048, 1609.344, 9.80665
    inch = foot / 12
    rows = [
        Unit("rpm", "rotation"),
        Unit("rpm x1000", "rotation", 1000.0),
        Unit("1/s", "rotation", 60.0),
        Unit("km/h", "speed"),
        Unit("mph", "speed", mile / 1000),
        Unit("m/s", "speed", 3.6),
        Unit("kn", "speed", 1.852),
        Unit("%", "share"),
        Unit("kPa", "pressure"),
        Unit("Pa", "pressure", 1e-3),
        Unit("hPa", "pressure", 0.1),
        Unit("mbar", "pressure", 0.1),
        Unit("bar", "pressure", 100.0),
        Unit("MPa", "pressure", 1000.0),
        Unit("psi", "pressure", pound * gravity / inch**2 / 1000),
        Unit("inHg", "pressure", 13_595.1 * gravity * inch / 1000),
        Unit("inH2O", "pressure", gravity * inch),
        Unit("mmHg", "pressure", 13_595.1 * gravity / 1e6),
        Unit("Torr", "pressure", 101.325 / 760),
        Unit("atm", "pressure", 101.325),
        Unit("kgf/cm2", "pressure", gravity * 10),
        Unit("degC", "temperature"),
        Unit("degF", "temperature", 5 / 9, -160 / 9),
        Unit("K", "temperature", 1.0, -273.15),
        Unit("g/s", "mass flow"),
        Unit("kg/h", "mass flow", 1 / 3.6),
        Unit("kg/min", "mass flow", 1000 / 60),
        Unit("kg/s", "mass flow", 1000.0),
        Unit("mg/s", "mass flow", 1e-3),
        Unit("lb/min", "mass flow", pound * 1000 / 60),
        Unit("lb/h", "mass flow", pound * 1000 / 3600),
        Unit("deg", "angle"),
        Unit("rad", "angle", 57.29577951308232),
        Unit("lambda", "mixture"),
        Unit("AFR", "air-fuel ratio"),
        Unit("N m", "torque"),
        Unit("lbf ft", "torque", pound * gravity * foot),
        Unit("kgf m", "torque", gravity),
        Unit("V", "voltage"),
        Unit("mV", "voltage", 1e-3),
        Unit("m/s2", "acceleration"),
        Unit("g", "acceleration", gravity),
        Unit("ft/s2", "acceleration", foot),
        Unit("mph/s", "acceleration", mile / 3600),
        Unit("km/h/s", "acceleration", 1 / 3.6),
        Unit("m", "length"),
        Unit("km", "length", 1000.0),
        Unit("ft", "length", foot),
        Unit("mi", "length", mile),
        Unit("mm", "length", 1e-3),
        Unit("cm", "length", 1e-2),
        Unit("s", "time"),
        Unit("ms", "time", 1e-3),
        Unit("us", "time", 1e-6),
        Unit("ns", "time", 1e-9),
        Unit("min", "time", 60.0),
        Unit("h", "time", 3600.0),
        Unit("kW", "power"),
        Unit("hp", "power", 550 * foot * pound * gravity / 1000),
        Unit("PS", "power", 75 * gravity / 1000),
        Unit("l/h", "volume flow"),
        Unit("l/min", "volume flow", 60.0),
        Unit("gal/h", "volume flow", 231 * inch**3 * 1000),
        Unit("ft3/min", "volume flow", foot**3 * 60_000),
        Unit("cm3/min", "volume flow", 0.06),
        # No channel is measured in what follows; knowing the unit tells that the column is something else.
        Unit("g/rev", "mass per turn"),
        Unit("mg/stroke", "mass per stroke"),
        Unit("%/s", "change of share"),
        Unit("rpm/s", "change of rotation"),
        Unit("l/100km", "consumption"),
        Unit("km/l", "distance per volume"),
        Unit("A", "current"),
        Unit("Hz", "frequency"),
        Unit("l", "volume"),
        Unit("kg", "mass"),
        Unit("bit", "count"),
        Unit("1", "number"),
    ]
    return MappingProxyType({row.name: row for row in rows})


UNITS: Mapping[str, Unit] = _units()
"""Every unit by the name that is printed."""

_SPELLED = """
rpm: r/min, rev/min, revs/min, 1/min, min-1, min^-1, /min, u/min, upm, tr/min, tpm, giri/min, obr/min, rot/min, 1/mn
rpm x1000: krpm, 1000rpm, rpm*1000, x1000 rpm, x1000 1/min, 1000 1/min, 1000/min
1/s: rps, rev/s, r/s
km/h: kmh, kph, kmph, km/hr, km/std, kmh-1, km h-1, kilometers per hour, kilometres per hour
mph: mi/h, miles/h, mile/h, miles/hr, miles per hour
m/s: mps, m/sec, meters per second, metres per second
kn: knot, knots, kt, kts
%: pct, percent, per cent, prozent, procent, por ciento, pour cent
kPa: kilopascal, kilopascals
Pa: pascal, pascals
hPa: hektopascal, hectopascal
mbar: millibar, mbars
bar: bars
MPa: megapascal
psi: lb/in2, lb/in^2, lbf/in2, lbf/in^2, lbs/in2, pounds per square inch
inHg: in.hg, inches hg, "hg
inH2O: in.h2o, inches h2o, "h2o, inwc
kgf/cm2: kg/cm2, kg/cm^2, kgf/cm^2, kp/cm2
degC: °c, c, deg. c, celsius, grad c, grad celsius, ℃, ºc, *c, 'c, degrees c, degrees celsius, stopnie c
degF: °f, f, deg. f, fahrenheit, ℉, ºf, *f, 'f, degrees f, degrees fahrenheit
K: kelvin, °k, deg k
g/s: g/sec, gm/s, gm/sec, gr/s, grams/s, grams/sec, grams per second
kg/h: kg/hr, kg/std, kg/hour
kg/s: kg/sec
lb/min: lbs/min, lbm/min, pounds/min
lb/h: lb/hr, lbs/hr, lbs/h, lbm/h
deg: °, º, degree, degrees, grad, grados, gradi, graus, degrés, stopnie, btdc, deg btdc, degbtdc, °btdc, ° btdc, °bt
deg: °ca, °crk, °kw, degkw, deg ca, deg crk, °cs, °v.ot, degrees btdc
rad: radian, radians
lambda: λ
AFR: a/f, a:f, air/fuel, o2
N m: nm, n.m, n*m, newton metre, newton meter, newton meters
lbf ft: lbft, lb-ft, lb.ft, lb/ft, lb ft, ft-lb, ft.lb, ft lb, ft/lb, ft-lbs, ft lbs, lbs-ft, lbs/ft, lbs ft, ft-lbf
kgf m: kgm, kg-m, kg.m, mkg, kpm, mkp
V: volt, volts, vdc
mV: millivolt, millivolts
m/s2: m/s^2, m/s/s, mps2, m/sec2, m/sec^2, m_sec2
g: gs, g's, g-force
ft/s2: ft/s^2, ft/s/s
mph/s: mi/h/s
km/h/s: kph/s, kmh/s
m: meter, metre, meters, metres
ft: feet, foot
mi: mile, miles
s: sec, secs, second, seconds, sek, sekunde, sekunden, seconde, secondes, segundo, segundos, secondi, sekundy
ms: msec, msecs, millis, millisecond, milliseconds, millisekunden, millisecondes, milisegundos, millisecondi
us: µs, usec, microseconds
min: mins, minute, minutes, minuten
h: hr, hrs, hour, hours
PS: cv, ch, metric hp
hp: bhp
l/h: l/hr
gal/h: gal/hr
ft3/min: cfm, ft^3/min
cm3/min: cc/min
g/rev: g/r, gm/rev, grams/rev
mg/stroke: mg/st, mg/hub, mg/cyl, mg/str, mg/cp
%/s: %/sec, pct/s
rpm/s: rpm/sec
l/100km: l/100 km
km/l: km/l.
A: amp, amps, ampere
Hz: hertz
bit: bits, counts, count, raw, steps, adc, flag
1: mult, ratio, factor, gear
"""
"""What header texts call the units, in several languages; case and spaces are ignored."""


def _spellings() -> Mapping[str, Unit]:
    table = {_folded(name): unit for name, unit in UNITS.items()}
    for line in _SPELLED.strip().splitlines():
        name, _, spellings = line.partition(": ")
        table |= {_folded(spelling): UNITS[name] for spelling in spellings.split(", ")}
    for bare in ("psi", "bar", "mbar", "kpa"):
        table[f"{bare}g"] = table[bare].referred_to("gauge")
        table[f"{bare}a"] = table[bare].referred_to("absolute")
    return MappingProxyType(table)


def repair_text(text: str) -> str:
    """Text that was encoded as UTF-8 twice (`Â°C`), put right; any other text unchanged."""
    if not any(sign in text for sign in "ÂÃâ"):
        return text
    for codec in ("latin-1", "cp1252"):
        try:
            return text.encode(codec).decode("utf-8")
        except UnicodeError:
            continue
    return text


def _folded(text: str) -> str:
    plain = unicodedata.normalize("NFKC", repair_text(text)).casefold()
    return re.sub(r"\s+", "", plain.replace("·", "."))


_REFERENCE = re.compile(
    r"(?P<gauge>\bgauge\b|\brel(?:ative|ativ)?\b\.?|\(g\)|überdruck)"
    r"|(?P<absolute>\babs(?:olute?|olut|oluta?)?\b\.?|\(a\))"
)


def parse_unit(text: str) -> Unit | None:
    """The unit that a piece of header text names, or None where it names none that is known.

    Understands the spellings of several languages, double-encoded degree signs, brackets around, and a stated
    pressure reference (`psi gauge`, `bar (abs)`, `psig`).

    >>> parse_unit("[Â°C]").name, parse_unit("PSIG").name
    ('degC', 'psi gauge')
    """
    inner = repair_text(text).strip()
    while len(inner) > 1 and inner[0] in "([{<" and inner[-1] in ")]}>":
        inner = inner[1:-1].strip()
    known = _SPELLINGS.get(_folded(inner))
    if known is not None:
        return known
    lowered = inner.casefold()
    stated = _REFERENCE.search(lowered)
    if stated is None:
        return None
    unit = _SPELLINGS.get(_folded(lowered[: stated.start()] + lowered[stated.end() :]))
    if unit is None or unit.dimension != "pressure":
        return None
    return unit.referred_to("gauge" if stated["gauge"] else "absolute")


_SPELLINGS = _spellings()


def convert(values: Values, source: Unit, target: Unit, *, ambient_kpa: float | None = None) -> Values:
    """Values of one unit in another unit of the same dimension.

    Parameters
    ----------
    values : number or (n,)
        What is to be converted. [source]
    ambient_kpa : number or None
        Ambient pressure, absolute; needed where gauge turns into absolute or back. [kPa]

    Returns
    -------
    same shape
        The same quantity. [target]

    Raises
    ------
    ValueError
        The dimensions differ, or one is gauge and the other is not and no ambient pressure was given.

    A pressure whose reference nobody stated counts as absolute here; deciding that is the reader's business.

    >>> round(convert(10.0, UNITS["psi"].referred_to("gauge"), UNITS["kPa"], ambient_kpa=100.0), 3)
    168.948
    """
    if source.dimension != target.dimension:
        raise ValueError(f"{source.name} measures {source.dimension}, {target.name} measures {target.dimension}")
    shift = 0.0
    if (source.reference == "gauge") != (target.reference == "gauge"):
        if ambient_kpa is None:
            raise ValueError(f"{source.name} to {target.name} needs the ambient pressure")
        shift = ambient_kpa if source.reference == "gauge" else -ambient_kpa
    if source.factor == target.factor and source.offset == target.offset and not shift:
        return values
    return (values * source.factor + (source.offset + shift - target.offset)) / target.factor
