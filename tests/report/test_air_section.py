"""The air system in a report: every number with an interval, estimates marked, what is missing in few words."""

import jsonschema
from tests.report.airs import SUSPECTED, breathed, nothing

from pullproof.report.air_document import air_part
from pullproof.report.air_section import air_lines, air_rows, air_section
from pullproof.report.documents import comparison_document, schema
from pullproof.report.model import Paragraph, Plate, Points, Table


def blocks(section, kind):
    return [block for block in section.blocks if isinstance(block, kind)]


def test_every_difference_has_an_interval_and_says_whether_it_was_measured():
    """A row for each quantity, drawn, in the digits of its interval; an estimate is marked with what was assumed."""
    table = blocks(air_section(breathed()), Table)[0]
    rows = {row.cells[0].text: row for row in table.rows}
    assert list(rows) == [
        "Pressure ratio", "Corrected air mass flow", "Loss of charge cooler and pipes", "Mean knock retard",
    ]  # fmt: skip
    for row in rows.values():
        assert " to " in row.cells[2].text.replace("\N{NO-BREAK SPACE}", " ")
        assert row.cells[2].drawing is not None
    assert rows["Pressure ratio"].cells[3].text == "≈ estimate"
    assert "loss of filter and inlet pipe" in rows["Pressure ratio"].cells[3].note
    assert rows["Loss of charge cooler and pipes"].cells[3].text == "measured"


def test_only_curves_that_say_something_are_drawn():
    """An estimate whose interval is wider than three per cent of it has no picture; a measurement has."""
    plates = blocks(air_section(breathed()), Plate)
    assert [plate.heading for plate in plates] == ["Pressure ratio", "Loss of charge cooler and pipes"]
    assert all(plate.drawing.panels[1].bands for plate in plates)
    assert any("estimate" in note for note in plates[0].notes)


def test_what_is_missing_takes_one_line():
    """Quantities that lack the same thing share its reason."""
    line = next(line for line in air_lines(breathed()) if line.startswith("Not told"))
    assert line.count("no outlet temperature") == 1
    assert "isentropic efficiency and effectiveness of the cooler (no outlet temperature)" in line
    assert "injector duty (no injector duty in the log)" in line


def test_logs_without_the_channels_give_a_few_lines_and_no_table():
    """No clutter: no table, no picture, no list."""
    section = air_section(nothing())
    assert {type(block) for block in section.blocks} == {Paragraph}
    assert len(section.blocks) <= 4
    assert air_rows(nothing()) == []


def test_a_suspicion_comes_with_what_else_it_may_be_and_what_to_do():
    """A leak is suspected, never found: the other reasons and the next steps stand below it."""
    shown = [item for block in blocks(air_section(breathed(SUSPECTED)), Points) for item in block.items]
    assert "A sticking wastegate." in shown
    assert any("oil mist" in item for item in shown)
    calm = [item for block in blocks(air_section(breathed()), Points) for item in block.items]
    assert not any("oil mist" in item for item in calm)


def test_drift_is_told_for_the_side_that_has_the_days():
    """The other side's reason stands there too."""
    lines = air_lines(breathed())
    assert any(line.startswith("Before: Over 3 test days") for line in lines)
    assert any("not told after: fewer than three test days" in line for line in lines)


def test_json_has_the_numbers_of_the_page(realistic_comparison):
    """The key is optional and holds what was computed, unrounded; without it the document is as it was."""
    found = breathed(SUSPECTED)
    document = comparison_document(realistic_comparison, air=found)
    jsonschema.validate(document, schema("comparison"))
    without = comparison_document(realistic_comparison)
    assert {key: document[key] for key in without} == without
    part = document["air_system"]
    assert [one["id"] for one in part["quantities"]] == ["pressure_ratio", "corrected_flow", "cooler_loss"]
    assert part["quantities"][2]["interval"] == [-6.6 - 0.3, -6.6 + 0.3]
    assert part["quantities"][0]["estimate"] is True
    assert part["leak"]["share_of_flow_pct"] == 2.1
    assert part["duty_drift"]["before"]["interval_pct"] == [-1.0, 1.4]
    assert part["duty_drift"]["after"]["suspicion"] is None
    assert [one["quantity"] for one in part["left_out"]][-1] == "injector_duty"


def test_json_of_nothing_is_valid(realistic_comparison):
    """Logs that show nothing of the air still answer in the schema."""
    document = comparison_document(realistic_comparison, air=nothing())
    jsonschema.validate(document, schema("comparison"))
    assert air_part(nothing())["leak"]["duty_interval_pct"] is None
