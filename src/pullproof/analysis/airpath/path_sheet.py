"""Read a path file: TOML that somebody typed with a tape measure in the other hand.

Millimetres, degrees and kilopascals here, SI units behind this door. An element starts with the bore that the one
before it ends with, unless it says its own; where the two do not fit, a square step is put between and said so.
"""

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from types import MappingProxyType

from pullproof.analysis.airpath.elements import (
    Bend,
    Cooler,
    Element,
    Entrance,
    Exit,
    Flattened,
    HoseJoint,
    Mitre,
    Oval,
    Pipe,
    Reducer,
    Screen,
    Step,
    Throttle,
    Tube,
)
from pullproof.analysis.airpath.path import AirPath, FlowSheet, Side
from pullproof.errors import WrongUse
from pullproof.physics import dry_air
from pullproof.physics.sections import elliptical, stadium
from pullproof.sheets import Sheet, parse_sheet, read_sheet

__all__ = ["FINISHES", "MATERIALS", "load_path", "parse_path"]

FINISHES: Mapping[str, float] = MappingProxyType({"drawn": 1.5e-6, "steel": 45e-6, "hose": 10e-6, "cast": 250e-6})
"""Roughness of a wall by its finish [m]. Drawn and commercial steel from Crane TP-410; hose and cast from memory."""

MATERIALS: Mapping[str, float] = MappingProxyType(
    {
        "aluminium": 2700.0,
        "steel": 7850.0,
        "stainless steel": 7930.0,
        "titanium": 4500.0,
        "plastic": 1150.0,
        "silicone": 1200.0,
    }
)
"""Density of what pipes are made of [kg/m3]. Handbook values, from memory."""

MM, UM, KPA, GRAMS, LITRES = 1e-3, 1e-6, 1e3, 1e-3, 1e-3
ZERO_CELSIUS = 273.15


@dataclass(frozen=True, slots=True)
class _Start:
    """What an element takes over from the file's head and from the element before it."""

    bore: float
    tube: Tube
    place: str
    """File and number of the element, for messages."""


def load_path(path: str | Path) -> AirPath:
    """Read a path file.

    Raises
    ------
    CannotRead
        The file cannot be opened or is not TOML.
    WrongUse
        A key or a kind of element is unknown, a figure is missing or far outside any car.
    """
    return _path(read_sheet(Path(path), "path file"), Path(path).stem)


def parse_path(text: str, where: str) -> AirPath:
    """A path from the text of its file, such as a library keeps it; `where` names it in messages.

    Raises
    ------
    CannotRead, WrongUse
        As `load_path`.
    """
    return _path(parse_sheet(text.encode(), "path file", where), where)


def _path(sheet: Sheet, missing_name: str) -> AirPath:
    name = sheet.text("name") or missing_name
    side: Side = "hot" if sheet.text("side", choices=("hot", "cold")) == "hot" else "cold"
    bore = sheet.number("bore_mm", 10, 200, unit="mm")
    tube = _tube(sheet, Tube(2.0 * MM, FINISHES["drawn"], "aluminium"))
    entries = sheet.tables("element")
    flow = _flow(sheet.table("flow"))
    sheet.finish()
    if not entries:
        raise WrongUse(
            "the path has no [[element]]",
            where=sheet.where,
            advice='Add one entry for each piece, such as [[element]] with kind = "pipe" and length_mm = 350.',
        )
    elements, doubts = _elements(entries, bore, tube)
    return AirPath(name, sheet.where, elements, side, flow, doubts)


def _elements(entries: list[Sheet], bore: float | None, tube: Tube) -> tuple[tuple[Element, ...], tuple[str, ...]]:
    elements: list[Element] = []
    doubts: list[str] = []
    for number, entry in enumerate(entries, 1):
        place = f"{entry.where}, element {number}"
        kind = entry.text("kind", choices=tuple(_KINDS))
        if kind is None:
            raise _missing(place, "kind", f"Use one of: {', '.join(_KINDS)}.")
        before = elements[-1].outlet if elements else None
        taken_over = before if before is not None or bore is None else bore * MM
        own = entry.number("bore_mm", 10, 200, unit="mm")
        start = taken_over if own is None else own * MM
        if start is None:
            raise _missing(place, "bore_mm", "Write it here, or once at the top of the file.")
        element = _KINDS[kind](entry, _Start(start, _tube(entry, tube), place))
        entry.finish()
        if before is not None and not math.isclose(before, element.inlet, rel_tol=0, abs_tol=0.05 * MM):
            elements.append(Step(before, element.inlet, found=True))
            doubts.append(
                f"element {number} starts with {element.inlet / MM:.4g} mm and the one before it ends with "
                f"{before / MM:.4g} mm: a square step is counted between them"
            )
        elements.append(element)
    return tuple(elements), tuple(doubts)


def _tube(entry: Sheet, default: Tube) -> Tube:
    wall = entry.number("wall_mm", 0.3, 10, unit="mm")
    finish = entry.text("finish", choices=tuple(FINISHES))
    roughness = entry.number("roughness_um", 0, 2000, unit="um")
    by_finish = default.roughness if finish is None else FINISHES[finish]
    return Tube(
        default.wall if wall is None else wall * MM,
        by_finish if roughness is None else roughness * UM,
        entry.text("material", choices=tuple(MATERIALS), default=default.material),
    )


def _flow(sheet: Sheet) -> FlowSheet:
    flow = FlowSheet(
        rpm=sheet.numbers("rpm", 200, 20_000, unit="rpm"),
        air_mass_flow_gs=sheet.numbers("air_mass_flow_gs", 1, 3_000, unit="g/s"),
        charge_pressure_kpa=sheet.numbers("charge_pressure_kpa", 60, 600, unit="kPa absolute"),
        charge_temperature_c=sheet.number("charge_temperature_c", -40, 200, unit="degC"),
        compressor_outlet_temperature_c=sheet.number("compressor_outlet_temperature_c", -40, 300, unit="degC"),
        volumetric_efficiency_pct=sheet.number("volumetric_efficiency_pct", 30, 140, unit="%"),
    )
    sheet.finish()
    lists = {"air_mass_flow_gs": flow.air_mass_flow_gs, "charge_pressure_kpa": flow.charge_pressure_kpa}
    for key, values in lists.items():
        if values and len(values) != len(flow.rpm):
            raise WrongUse(
                f"flow.{key} has {len(values)} entries and flow.rpm {len(flow.rpm)}",
                where=sheet.where,
                advice="Give one entry for each engine speed.",
            )
    if any(later <= earlier for earlier, later in zip(flow.rpm, flow.rpm[1:], strict=False)):
        raise WrongUse("flow.rpm does not rise", where=sheet.where, advice="List the engine speeds from low to high.")
    return flow


def _missing(place: str, key: str, advice: str) -> WrongUse:
    return WrongUse(f'key "{key}" is missing', where=place, advice=advice)


def _needed(entry: Sheet, start: _Start, key: str, limits: tuple[float, float], unit: str) -> float:
    value = entry.number(key, *limits, unit=unit)
    if value is None:
        raise _missing(start.place, key, f"Add {key} = ... ({unit}).")
    return value


def _pipe(entry: Sheet, start: _Start) -> Element:
    return Pipe(start.bore, _needed(entry, start, "length_mm", (1, 5_000), "mm") * MM, start.tube)


def _bend(entry: Sheet, start: _Start) -> Element:
    angle = math.radians(_needed(entry, start, "angle_deg", (1, 180), "deg"))
    radius = _needed(entry, start, "radius_mm", (5, 2_000), "mm, of the centre line") * MM
    if radius < 0.5 * start.bore:
        raise WrongUse(
            f'key "radius_mm" is {radius / MM:g} mm, less than half the bore of {start.bore / MM:g} mm',
            where=start.place,
            advice='Give the radius of the centre line; for a corner cut and welded use kind = "mitre".',
        )
    return Bend(start.bore, angle, radius, start.tube, _flag(entry, start, "formed"))


def _flag(entry: Sheet, start: _Start, key: str) -> bool:
    value = entry.raw(key)
    if value is not None and not isinstance(value, bool):
        raise WrongUse(
            f'key "{key}" must be true or false, not {value!r}',
            where=start.place,
            advice=f"Write {key} = true, without quotes.",
        )
    return bool(value)


def _mitre(entry: Sheet, start: _Start) -> Element:
    angle = math.radians(_needed(entry, start, "angle_deg", (1, 150), "deg"))
    cuts = entry.number("cuts", 1, 6, unit="cuts", default=1)
    length = entry.number("length_mm", 0, 1_000, unit="mm", default=0.0)
    return Mitre(start.bore, angle, round(cuts), length * MM, start.tube)


def _hose(entry: Sheet, start: _Start) -> Element:
    outlet = entry.number("to_bore_mm", 10, 200, unit="mm")
    outlet_bore = start.bore if outlet is None else outlet * MM
    hose = entry.number("hose_bore_mm", 10, 250, unit="mm")
    outside = max(start.bore, outlet_bore) + 2.0 * start.tube.wall
    return HoseJoint(
        start.bore,
        outlet_bore,
        hose_diameter=outside if hose is None else hose * MM,
        gap=entry.number("gap_mm", 0, 500, unit="mm", default=15.0) * MM,
        hose_length=entry.number("length_mm", 20, 1_000, unit="mm", default=75.0) * MM,
        outside_diameter=outside,
    )


def _reducer(entry: Sheet, start: _Start) -> Element:
    outlet = _needed(entry, start, "to_bore_mm", (10, 200), "mm") * MM
    return Reducer(start.bore, outlet, _needed(entry, start, "length_mm", (1, 1_000), "mm") * MM, start.tube)


def _step(entry: Sheet, start: _Start) -> Element:
    return Step(start.bore, _needed(entry, start, "to_bore_mm", (10, 200), "mm") * MM, found=False)


def _flattened(entry: Sheet, start: _Start) -> Element:
    height = _needed(entry, start, "height_mm", (5, 200), "mm") * MM
    if height > start.bore:
        raise WrongUse(
            f'key "height_mm" is {height / MM:g} mm, more than the bore of {start.bore / MM:g} mm',
            where=start.place,
            advice="Give the inside height where the pipe is pressed flat.",
        )
    flat = _needed(entry, start, "length_mm", (1, 2_000), "mm") * MM
    transition = entry.number("transition_mm", 0, 500, unit="mm", default=0.0) * MM
    return Flattened(start.bore, height, flat, transition, start.tube)


def _oval(entry: Sheet, start: _Start) -> Element:
    width = _needed(entry, start, "width_mm", (5, 300), "mm") * MM
    height = _needed(entry, start, "height_mm", (5, 300), "mm") * MM
    shape = entry.text("shape", choices=("flat-sided", "ellipse"), default="flat-sided")
    long, short = max(width, height), min(width, height)
    section = elliptical(long, short) if shape == "ellipse" else stadium(long, short)
    length = _needed(entry, start, "length_mm", (1, 5_000), "mm") * MM
    return Oval(float(section.equal_area_diameter), section, long, short, length, start.tube)


def _mesh(entry: Sheet, start: _Start) -> Element:
    opened = _needed(entry, start, "open_pct", (5, 95), "% of the area that is open") / 100.0
    return Screen(start.bore, opened, _needed(entry, start, "opening_mm", (0.05, 50), "mm between wires") * MM)


def _plate(entry: Sheet, start: _Start) -> Element:
    return Screen(start.bore, _needed(entry, start, "open_pct", (5, 100), "% of the area that is open") / 100.0, None)


def _cooler(entry: Sheet, start: _Start) -> Element:
    outlet = entry.number("to_bore_mm", 10, 200, unit="mm")
    pressure = _needed(entry, start, "at_pressure_kpa", (60, 600), "kPa absolute in the core")
    celsius = _needed(entry, start, "at_temperature_c", (-40, 250), "degC, mean of inlet and outlet")
    return Cooler(
        start.bore,
        start.bore if outlet is None else outlet * MM,
        known_loss=_needed(entry, start, "loss_kpa", (0.05, 100), "kPa") * KPA,
        known_mass_flow=_needed(entry, start, "at_air_mass_flow_gs", (1, 3_000), "g/s") * GRAMS,
        known_density=float(dry_air.density(pressure * KPA, celsius + ZERO_CELSIUS)),
        loss_doubt=entry.number("loss_doubt_pct", 0, 100, unit="%", default=20.0) / 100.0 / 1.96,
        core_volume=entry.number("volume_l", 0, 50, unit="l", default=0.0) * LITRES,
    )


def _throttle(entry: Sheet, start: _Start) -> Element:
    bore = _needed(entry, start, "throttle_bore_mm", (10, 200), "mm") * MM
    radius = entry.number("edge_radius_mm", 0, 50, unit="mm", default=0.0) * MM
    return Throttle(start.bore, bore, radius)


def _entrance(entry: Sheet, start: _Start) -> Element:
    return Entrance(start.bore, entry.number("edge_radius_mm", 0, 100, unit="mm", default=0.0) * MM)


def _exit(entry: Sheet, start: _Start) -> Element:
    del entry
    return Exit(start.bore)


_KINDS: Mapping[str, Callable[[Sheet, _Start], Element]] = MappingProxyType(
    {
        "pipe": _pipe,
        "bend": _bend,
        "mitre": _mitre,
        "hose": _hose,
        "reducer": _reducer,
        "step": _step,
        "flattened": _flattened,
        "oval": _oval,
        "mesh": _mesh,
        "plate": _plate,
        "cooler": _cooler,
        "throttle": _throttle,
        "entrance": _entrance,
        "exit": _exit,
    }
)
