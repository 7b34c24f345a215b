"""Car sheets and path files by way of forms: nothing is lost, nothing is made up."""

import tomllib

import pytest
from hypothesis import given
from hypothesis import strategies as st
from starlette.datastructures import FormData

from pullproof.analysis.airpath import parse_path
from pullproof.car import parse_car
from pullproof.errors import WrongUse
from pullproof.web.paths import EXAMPLE, KINDS, drawn_in, drawn_of
from pullproof.web.routing import Form
from pullproof.web.sheets import FIELDS, missing_entries, sheet_from, to_toml, values_of

FULL = """name = "blue hatch"
mass_kg = 1510
tyre = "235/35R19"
gear_ratios = [3.36, 2.09, 1.47]
rotating_mass_factor = [1.4, 1.18, 1.09]

[engine]
redline_rpm = 6800
fuel = "petrol"

[columns]
"Boost (psi)" = "charge_pressure, psi gauge"

[doubt]
mass_kg = 20.0
"""


def form(**fields):
    return Form(FormData(fields))


def test_form_of_a_sheet_gives_the_sheet_back():
    """A sheet that is shown in a form and saved unchanged says what it said, fields or no fields."""
    assert tomllib.loads(sheet_from(form(**values_of(FULL)), FULL)) == tomllib.loads(FULL)


def test_emptied_field_leaves_the_sheet_and_a_filled_one_enters_it():
    """What the owner clears is gone; what the owner types is there, in its table, as a number."""
    said = tomllib.loads(sheet_from(form(mass_kg="", **{"engine-displacement_l": "1,984"}), FULL))
    assert "mass_kg" not in said
    assert said["engine"]["displacement_l"] == 1.984


@pytest.mark.parametrize(
    ("typed", "numbers"),
    [("3.36, 2.09, 1.47", [3.36, 2.09, 1.47]), ("3,36; 2,09; 1,47", [3.36, 2.09, 1.47]), ("3.36 2.09", [3.36, 2.09])],
)
def test_ratios_may_be_typed_in_any_usual_way(typed, numbers):
    """Points or commas, parted by commas, semicolons or blanks."""
    assert tomllib.loads(sheet_from(form(gear_ratios=typed), FULL))["gear_ratios"] == numbers


def test_number_that_is_none_is_named():
    """A word where a number belongs is refused by the name of its field."""
    with pytest.raises(WrongUse, match="Mass as tested"):
        sheet_from(form(mass_kg="heavy"), FULL)


def test_missing_entries_are_those_that_the_sheet_leaves_out():
    """A bare sheet misses every entry, and each says what it prevents."""
    assert missing_entries('name = "x"') == list(FIELDS)
    assert {field.key for field in missing_entries(FULL)}.isdisjoint({"mass_kg", "engine.redline_rpm"})
    assert all(field.prevents for field in FIELDS)


@given(st.text(min_size=1, max_size=60).filter(lambda text: text.strip()))
def test_any_name_survives_the_sheet(name):
    """Quotes, backslashes, emoji: a name is TOML text, and printable letters come back as they were."""
    text = to_toml({"name": name})
    printable = "".join(letter for letter in name if letter.isprintable() or letter in "\n\t")
    assert tomllib.loads(text)["name"] == printable


def test_sheet_of_a_form_is_a_car_sheet():
    """What a form makes is what the rest of the program reads."""
    said = sheet_from(form(name='the "quick" one', **{"engine-redline_rpm": "6800"}))
    assert parse_car(said).name == 'the "quick" one'
    assert parse_car(said).engine.redline_rpm == 6800


def test_path_goes_through_the_address_and_back():
    """A path file, the fields of an address, and the path file made from them say the same."""
    drawn = drawn_of(EXAMPLE)
    again = drawn_in(drawn.fields("before"), "before", {})
    assert tomllib.loads(again.toml()) == tomllib.loads(EXAMPLE)
    assert parse_path(again.toml(), "path") == parse_path(EXAMPLE, "path")


def test_elements_are_added_moved_and_dropped():
    """The buttons of the page do what they say, and nothing at the edges."""
    drawn = drawn_of(EXAMPLE)
    kinds = [element["kind"] for element in drawn.elements]
    assert [one["kind"] for one in drawn.done("add").elements] == [*kinds, "pipe"]
    assert [one["kind"] for one in drawn.done("up-1").elements] == ["bend", "hose", "pipe", "hose"]
    assert drawn.done("up-0") == drawn.done("drop-9") == drawn.done("nonsense") == drawn
    assert len(drawn.done("drop-0").elements) == len(kinds) - 1


def test_element_of_another_kind_keeps_only_what_it_has():
    """A bend that becomes a pipe has no angle any more."""
    fields = {"before-0-kind": "pipe", "before-0-angle_deg": "90", "before-0-length_mm": "200"}
    assert drawn_in(fields, "before", {}).elements == ({"kind": "pipe", "length_mm": "200"},)


def test_every_kind_of_the_page_is_a_kind_of_path_files():
    """Each kind with its dimensions, filled in, is read by the door that path files go through."""
    usual = {"angle_deg": "45", "open_pct": "60", "opening_mm": "1", "shape": "ellipse", "cuts": "2", "height_mm": "30"}
    usual |= {"loss_kpa": "5", "at_air_mass_flow_gs": "200", "at_pressure_kpa": "200", "at_temperature_c": "60"}
    for kind, fields in KINDS.items():
        element = {f"before-0-{field.key}": usual.get(field.key, "50") for field in fields} | {"before-0-kind": kind}
        drawn = drawn_in({"before-bore_mm": "50", **element}, "before", {})
        assert parse_path(drawn.toml(), kind).elements
