"""A car sheet from the fields of a form, and back: what a form fills in is the TOML that an owner may type as well."""

import json
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, Final

from pullproof.car import FUELS
from pullproof.errors import WrongUse
from pullproof.web.routing import Form

__all__ = ["FIELDS", "SheetField", "missing_entries", "sheet_from", "values_of"]


@dataclass(frozen=True, slots=True)
class SheetField:
    """One entry of the data sheet: where it stands in TOML, what it is called, and what its absence prevents."""

    key: str
    label: str
    unit: str
    kind: str
    prevents: str
    choices: tuple[str, ...] = ()

    @property
    def name(self) -> str:
        """Name of its field in a form."""
        return self.key.replace(".", "-")


FIELDS: Final = (
    SheetField("mass_kg", "Mass as tested", "kg", "number", "there is no power at the wheels"),
    SheetField("tyre", "Tyre", "", "text", "a usual rolling radius tells the gears apart where the log does not"),
    SheetField(
        "gear_ratios", "Gear ratios, first to last", "", "numbers", "a pull has a gear only where the log says it"
    ),
    SheetField("final_drive", "Final drive", "", "number", "a pull has a gear only where the log says it"),
    SheetField("drag_area_m2", "Drag area", "m²", "number", "a usual one is taken, and power is in more doubt"),
    SheetField(
        "rolling_resistance", "Rolling resistance", "", "number", "a usual one is taken: power is in more doubt"
    ),
    SheetField("driveline_efficiency", "Driveline efficiency", "", "number", "power at the crankshaft is a wide guess"),
    SheetField("engine.displacement_l", "Displacement", "l", "number", "there is no air flow where it is not logged"),
    SheetField("engine.cylinders", "Cylinders", "", "integer", "reports do not name them"),
    SheetField("engine.redline_rpm", "Redline", "rpm", "number", "the highest end of a pull is taken for it"),
    SheetField(
        "engine.fuel", "Fuel", "", "choice", "limits and mixture are taken for petrol, and said to be in doubt", FUELS
    ),
    SheetField(
        "engine.aspiration",
        "Aspiration",
        "",
        "choice",
        "a diesel is not corrected to a standard day",
        ("turbo", "none"),
    ),
    SheetField(
        "boost.wastegate_duty_closed",
        "Logged wastegate duty at which it is held closed",
        "%",
        "choice",
        "the log itself has to show which way the duty counts",
        ("100", "0"),
    ),
)
"""What the form asks for. Whatever else a sheet holds is kept as it is."""


def values_of(sheet: str) -> dict[str, str]:
    """The entries of a sheet as the form shows them, by field name."""
    said = tomllib.loads(sheet)
    return {field.name: _shown(_at(said, field.key)) for field in FIELDS} | {"name": str(said.get("name", ""))}


def missing_entries(sheet: str) -> list[SheetField]:
    """Entries that the sheet leaves out."""
    said = tomllib.loads(sheet)
    return [field for field in FIELDS if _at(said, field.key) in (None, [])]


def sheet_from(form: Form, sheet: str = "") -> str:
    """The sheet with what a form says: fields that the form does not hold stay as they are.

    Raises
    ------
    WrongUse
        A field holds something that is no number.
    """
    said: dict[str, Any] = tomllib.loads(sheet)
    if form.has("name"):
        said["name"] = form.text("name")
    for field in FIELDS:
        if not form.has(field.name):
            continue
        *tables, key = field.key.split(".")
        place = said
        for table in tables:
            place = place.setdefault(table, {})
        value = _typed(field, form.text(field.name))
        if value is None:
            place.pop(key, None)
        else:
            place[key] = value
    return to_toml(said)


def to_toml(said: Mapping[str, Any]) -> str:
    """A sheet as TOML: plain entries first, then its tables."""
    plain = {key: value for key, value in said.items() if not isinstance(value, dict)}
    tables = {key: value for key, value in said.items() if isinstance(value, dict) and value}
    lines = [f"{_key(key)} = {_value(value)}" for key, value in plain.items()]
    for name, table in tables.items():
        lines += ["", f"[{_key(name)}]", *(f"{_key(key)} = {_value(value)}" for key, value in table.items())]
    return "\n".join(lines) + "\n"


def _key(key: str) -> str:
    return key if key.isascii() and key.replace("_", "").isalnum() else _value(key)


def _value(value: Any) -> str:  # noqa: ANN401  (whatever TOML holds)
    if isinstance(value, str):
        kept = "".join(letter for letter in value if letter.isprintable() or letter in "\n\t")
        return json.dumps(kept, ensure_ascii=False)
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, list):
        return f"[{', '.join(_value(one) for one in value)}]"
    if isinstance(value, dict):
        return "{ " + ", ".join(f"{_key(key)} = {_value(one)}" for key, one in value.items()) + " }"
    return str(value)


def _at(said: Mapping[str, Any], key: str) -> Any:  # noqa: ANN401  (whatever TOML holds)
    *tables, last = key.split(".")
    for table in tables:
        said = said.get(table, {})
    return said.get(last)


def _shown(value: Any) -> str:  # noqa: ANN401  (whatever TOML holds)
    if value is None:
        return ""
    if isinstance(value, list):
        return ", ".join(f"{one:g}" for one in value)
    return f"{value:g}" if isinstance(value, float) else str(value)


def _typed(field: SheetField, text: str) -> Any:  # noqa: ANN401  (what TOML shall hold)
    if not text:
        return None
    if field.kind == "text" or (field.kind == "choice" and not field.choices[0].isdigit()):
        return text
    try:
        if field.kind == "numbers":
            # Several numbers are parted by blanks or semicolons, or by commas where points are the decimal signs.
            parts = text.replace(";", " ").split()
            parts = text.split(",") if len(parts) == 1 else [part.rstrip(",").replace(",", ".") for part in parts]
            return [float(part) for part in parts if part.strip()]
        value = float(text.replace(",", "."))
    except ValueError:
        raise WrongUse(f'{field.label} is "{text}"', advice="Give a number, or leave it empty.") from None
    return int(value) if field.kind in ("integer", "choice") else value
