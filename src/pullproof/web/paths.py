"""Air paths as a page edits them: elements with their dimensions in the fields of a form, and the TOML of a path file.

The fields stand in the address, `before-0-kind=pipe&before-0-length_mm=420&...`, so a path that somebody is drawing can
be reloaded, gone back to and sent on before anything is kept.
"""

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any, Final, Literal

from pullproof.errors import WrongUse
from pullproof.web.sheets import to_toml

__all__ = ["EXAMPLE", "HEAD", "KINDS", "Drawn", "PathField", "Side", "drawn_in", "drawn_of"]

Side = Literal["before", "after"]
MOST_ELEMENTS: Final = 40


@dataclass(frozen=True, slots=True)
class PathField:
    """One dimension of an element, as a path file calls it. `choices` are given where it is no number."""

    key: str
    label: str
    needed: bool = False
    choices: tuple[str, ...] = ()


_BORE = PathField("bore_mm", "bore, mm")
_TO = PathField("to_bore_mm", "to bore, mm")

KINDS: Final[Mapping[str, tuple[PathField, ...]]] = {
    "pipe": (PathField("length_mm", "length, mm", needed=True), _BORE),
    "bend": (PathField("angle_deg", "angle, °", needed=True), PathField("radius_mm", "radius, mm", needed=True), _BORE),
    "mitre": (PathField("angle_deg", "angle, °", needed=True), PathField("cuts", "cuts"), _BORE),
    "hose": (_TO, PathField("hose_bore_mm", "hose bore, mm"), PathField("gap_mm", "gap, mm"), _BORE),
    "reducer": (replace(_TO, needed=True), PathField("length_mm", "length, mm", needed=True), _BORE),
    "step": (replace(_TO, needed=True), _BORE),
    "flattened": (
        PathField("height_mm", "height, mm", needed=True),
        PathField("length_mm", "length, mm", needed=True),
        _BORE,
    ),
    "oval": (
        PathField("width_mm", "width, mm", needed=True),
        PathField("height_mm", "height, mm", needed=True),
        PathField("length_mm", "length, mm", needed=True),
        PathField("shape", "shape", choices=("flat-sided", "ellipse")),
    ),
    "cooler": (
        PathField("loss_kpa", "known loss, kPa", needed=True),
        PathField("at_air_mass_flow_gs", "at flow, g/s", needed=True),
        PathField("at_pressure_kpa", "at pressure, kPa", needed=True),
        PathField("at_temperature_c", "at mean, °C", needed=True),
        PathField("volume_l", "volume, l"),
        _TO,
        _BORE,
    ),
    "throttle": (PathField("throttle_bore_mm", "throttle bore, mm", needed=True), _BORE),
    "mesh": (PathField("open_pct", "open, %", needed=True), PathField("opening_mm", "opening, mm", needed=True), _BORE),
    "plate": (PathField("open_pct", "open, %", needed=True), _BORE),
    "entrance": (PathField("edge_radius_mm", "edge radius, mm"), _BORE),
    "exit": (_BORE,),
}
"""Kinds of element with the dimensions that are asked for, the usual ones first."""

HEAD: Final = (
    PathField("bore_mm", "Bore, mm", needed=True),
    PathField("wall_mm", "Wall, mm"),
    PathField(
        "material", "Material", choices=("aluminium", "steel", "stainless steel", "titanium", "plastic", "silicone")
    ),
    PathField("finish", "Finish", choices=("drawn", "steel", "hose", "cast")),
    PathField("side", "Side of the cooler", choices=("hot", "cold")),
)
"""What stands at the head of a path file."""

EXAMPLE: Final = """name = "example"
side = "hot"
bore_mm = 50
[[element]]
kind = "hose"
[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 60
[[element]]
kind = "pipe"
length_mm = 500
[[element]]
kind = "hose"
"""
"""Where somebody begins who has no path yet: made to be overwritten."""


@dataclass(frozen=True, slots=True)
class Drawn:
    """A path as it stands in a form: texts as they were typed."""

    head: Mapping[str, str]
    elements: tuple[Mapping[str, str], ...]
    flow: Mapping[str, Any]
    """What a path file says of the flow; it has no fields here and is carried along where it is known."""

    def toml(self) -> str:
        """The path file that says this.

        Raises
        ------
        WrongUse
            A dimension is no number.
        """
        said: dict[str, Any] = {key: _typed(key, value, "the path") for key, value in self.head.items() if value}
        lines = [to_toml(said)]
        for number, element in enumerate(self.elements, 1):
            entries = {key: _typed(key, value, f"element {number}") for key, value in element.items() if value}
            lines.append(f"[[element]]\n{to_toml(entries)}")
        if self.flow:
            lines.append(to_toml({"flow": dict(self.flow)}))
        return "\n".join(lines)

    def fields(self, side: Side) -> dict[str, str]:
        """The fields of the address that hold this path."""
        found = {f"{side}-{key}": value for key, value in self.head.items() if value}
        for number, element in enumerate(self.elements):
            found |= {f"{side}-{number}-{key}": value for key, value in element.items() if value}
        return found

    def done(self, what: str) -> "Drawn":
        """With an element added behind the last (`add`), or one dropped or moved up (`drop-3`, `up-3`)."""
        verb, _, place = what.partition("-")
        elements = list(self.elements)
        at = int(place) if place.isdigit() else -1
        if verb == "add" and len(elements) < MOST_ELEMENTS:
            elements.append({"kind": "pipe", "length_mm": "100"})
        elif verb == "drop" and 0 <= at < len(elements):
            del elements[at]
        elif verb == "up" and 0 < at < len(elements):
            elements[at - 1], elements[at] = elements[at], elements[at - 1]
        return replace(self, elements=tuple(elements))


def drawn_of(sheet: str) -> Drawn:
    """A path file, ready to be edited."""
    said = tomllib.loads(sheet)
    head = {key: _shown(value) for key, value in said.items() if not isinstance(value, dict | list)}
    elements = tuple({key: _shown(value) for key, value in one.items()} for one in said.get("element", ()))
    return Drawn(head, elements, said.get("flow", {}))


def drawn_in(fields: Mapping[str, str], side: Side, flow: Mapping[str, Any]) -> Drawn | None:
    """The path that an address holds; None where it holds none."""
    head: dict[str, str] = {}
    elements: dict[int, dict[str, str]] = {}
    for name, value in fields.items():
        if not name.startswith(f"{side}-") or len(value) > 80:
            continue
        found = re.fullmatch(r"(\d{1,2})-([a-z_]{1,30})", name.removeprefix(f"{side}-"))
        if found is not None:
            elements.setdefault(int(found[1]), {})[found[2]] = value.strip()
        elif re.fullmatch(r"[a-z_]{1,30}", name.removeprefix(f"{side}-")):
            head[name.removeprefix(f"{side}-")] = value.strip()
    if not elements:
        return None
    kept = [_of_its_kind(elements[number]) for number in sorted(elements)[:MOST_ELEMENTS]]
    return Drawn(head, tuple(kept), flow)


def _of_its_kind(element: Mapping[str, str]) -> dict[str, str]:
    """Without the dimensions that only the kind had which it was before."""
    kind = element.get("kind", "pipe")
    if kind not in KINDS:
        return dict(element)
    known = {field.key for field in KINDS[kind]} | {"kind", "wall_mm", "material", "finish", "length_mm", "formed"}
    return {key: value for key, value in element.items() if key in known}


_WORDS = frozenset({"kind", "name", "side", "material", "finish", "shape"})


def _typed(key: str, value: str, where: str) -> Any:  # noqa: ANN401  (what TOML shall hold)
    if key in _WORDS:
        return value
    if value in ("true", "false"):
        return value == "true"
    try:
        return float(value.replace(",", "."))
    except ValueError:
        raise WrongUse(f'{key} is "{value}"', where=where, advice="Give a number.") from None


def _shown(value: Any) -> str:  # noqa: ANN401  (whatever TOML holds)
    if isinstance(value, bool):
        return "true" if value else "false"
    return f"{value:g}" if isinstance(value, float) else str(value)
