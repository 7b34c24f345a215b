import datetime
import re
from dataclasses import replace

import pytest

from pullproof.car import Car
from pullproof.report.content import build_report
from pullproof.report.evidence import pulls_section
from pullproof.report.model import Facts, Paragraph, Plate, Points, Table
from pullproof.report.rounding import MINUS, NBSP

MADE_AT = datetime.datetime.fromisoformat("2026-10-05T20:15")

DIFFERENCE = re.compile(
    rf"^[+{MINUS}]?[\d.]+[{NBSP}]?\S* \([+{MINUS}]?[\d.]+{NBSP}to{NBSP}[+{MINUS}]?[\d.]+[{NBSP}]?\S*\)$"
)
BARE_NUMBER = re.compile(rf"^[+{MINUS}]?\d[\d.]*$")


def section(report, heading):
    return next((section for section in report.sections if section.heading == heading), None)


def table(report, heading) -> Table:
    return next(block for block in section(report, heading).blocks if isinstance(block, Table))


def words(report) -> str:
    """All text of a report, page by page."""
    return repr(report).replace("\\xa0", " ")


def test_sections_of_a_full_report(realistic_report) -> None:
    """The record has its parts in the order in which a sceptic reads them."""
    assert [section.heading for section in realistic_report.sections] == [
        "What was compared",
        "Curves",
        "Measures",
        "Fairness checks",
        "Pulls",
        "Conditions",
        "Doubts and gaps",
        "How the interval is made",
        "Cautions",
        "What to do next",
    ]


def test_the_sentence_is_the_comparisons_own(realistic_report, realistic_comparison) -> None:
    """The verdict is not worded a second time: but for the minus it is the sentence of the comparison."""
    shown = realistic_report.headline.sentence.replace(MINUS, "-").replace(NBSP, " ")
    assert shown == realistic_comparison.sentence


def test_the_number_of_the_headline(realistic_report) -> None:
    """Number, unit, level and interval of the main measure stand beside the sentence."""
    head = realistic_report.headline
    assert (head.number, head.unit, head.word) == (f"{MINUS}1.90", "percentage points", "lower")
    assert head.interval.replace(NBSP, " ") == "95 % interval −2.80 to −1.00 points"
    assert any("3 pulls on 1 test day before" in line for line in head.meaning)


def test_no_number_without_unit_and_no_difference_without_interval(realistic_report) -> None:
    """In the table of measures every cell that is a number has a unit, and every difference its interval."""
    for row in table(realistic_report, "Measures").rows:
        for cell in row.cells[1:]:
            assert not BARE_NUMBER.match(cell.text)
        difference = row.cells[4]
        assert DIFFERENCE.match(difference.text), difference.text
        assert difference.drawing is not None


def test_nothing_unspeakable_is_printed(report) -> None:
    """nan, inf and None are for machines."""
    for word in (r"\bnan\b", r"\binf\b", r"'None", r"\bNone '"):
        text = re.sub(r"array\(.*?\)", "", words(report), flags=re.DOTALL)
        text = re.sub(r"drawing=None", "", text)
        assert not re.search(word, text), word


def test_only_the_main_measure_carries_the_verdict(realistic_report) -> None:
    """It is marked and comes first, and a word says how many looks were taken: 6 at 95 % give 0.3 by chance."""
    rows = table(realistic_report, "Measures").rows
    assert [row.main for row in rows] == [True, False, False, False, False, False]
    looks = [block.text for block in section(realistic_report, "Measures").blocks if isinstance(block, Paragraph)]
    assert "6 measures were looked at" in looks[0]
    assert "about 0.3 of 6" in looks[0]


def test_a_pinned_measure_says_so(comparison) -> None:
    """A measure at its limit gets no number, no interval and no verdict of the four."""
    report = build_report(comparison, car=Car("car"), made_at=MADE_AT)
    for measure, row in zip(
        comparison.measures, table(report, "Measures").rows if comparison.measures else (), strict=True
    ):
        assert measure.censored == ("pinned" in row.cells[5].text)
    if comparison.measures and comparison.measures[0].censored:
        assert report.headline.number == ""
        assert report.headline.word == "pinned"


def test_checks_tell_the_worst_first_and_in_words(realistic_report) -> None:
    """What is not fair heads the list; sign and word say it, and how much it could explain has a unit."""
    rows = table(realistic_report, "Fairness checks").rows
    statuses = [row.cells[1].text for row in rows]
    assert statuses == sorted(statuses, key=("✗ not fair", "! in doubt", "✓ fair").index)
    assert statuses.count("✗ not fair") == 1
    boost = next(row for row in rows if row.cells[0].text == "Boost matched")
    assert boost.cells[3].text == f"peak wastegate duty +0.4{NBSP}points"
    direction = next(row for row in rows if row.cells[0].text == "Direction")
    assert direction.cells[3].text == f"mean wheel power +6.1{NBSP}kW; time through the window −0.2{NBSP}s"
    assert "Accounted for" in boost.cells[1].note


def test_the_main_measures_curve_comes_first(realistic_comparison) -> None:
    """The picture has room for one curve: it is the one that the verdict speaks of."""
    report = build_report(replace(realistic_comparison, main="boost.mean"), car=Car("car"), made_at=MADE_AT)
    plates = section(report, "Curves").blocks
    assert [plate.heading for plate in plates] == ["Charge pressure", "Wastegate duty", "Wheel power"]
    assert [plate.picture for plate in plates] == [True, False, False]


def test_small_print_of_an_adjustment_adds_up(realistic_comparison) -> None:
    """The two larger parts of an adjustment are named, the rest is one number, and what vanishes is left out."""
    shares = (("humidity", 0.05), ("air_temperature", 0.4), ("boost", -0.2), ("start_speed", 0.05), ("gear", 0.0001))
    first, *rest = realistic_comparison.measures
    report = build_report(
        replace(realistic_comparison, measures=(replace(first, adjusted_for=shares), *rest)),
        car=Car("car"),
        made_at=MADE_AT,
    )
    note = table(report, "Measures").rows[0].cells[3].note.replace(NBSP, " ")
    assert note == "air temperature +0.40 points; boost −0.20 points; others +0.10 points"


def test_what_is_not_counted_is_not_called_nothing(realistic_report) -> None:
    """A check in doubt without figures must not read as if it explained nothing."""
    for row in table(realistic_report, "Fairness checks").rows:
        if row.cells[1].text != "✓ fair":
            assert row.cells[3].text != "nothing"


def test_refused_pulls_give_reason_and_assumptions(realistic_report) -> None:
    """Each pull is listed with its log and time; a refused one says why."""
    rows = table(realistic_report, "Pulls").rows
    assert len(rows) == 7
    refused = [row for row in rows if "refused" in row.cells[-1].text]
    assert len(refused) == 1
    assert "Too short" in refused[0].cells[-1].note
    assert "no pedal channel" in refused[0].cells[-1].note
    assert refused[0].cells[2].text == f"212.4 to 214.1{NBSP}s"


def test_what_was_assumed_of_all_pulls_is_said_once(realistic_comparison) -> None:
    """An assumption that holds for every pull stands above the table, and in no row of it."""
    sides = {
        side: tuple(replace(pull, assumptions=("no pedal in the log",)) for pull in getattr(realistic_comparison, side))
        for side in ("before", "after")
    }
    found = pulls_section(replace(realistic_comparison, **sides))
    assert [block.text for block in found.blocks if isinstance(block, Paragraph)][1:] == [
        "Of every pull: no pedal in the log."
    ]
    rows = next(block for block in found.blocks if isinstance(block, Table)).rows
    assert not any("no pedal" in row.cells[-1].note for row in rows)


def test_conditions_say_where_a_value_comes_from(realistic_report) -> None:
    """Air has units and origins, and what nobody knows is called that."""
    row = table(realistic_report, "Conditions").rows[-1]
    assert row.cells[3].text == f"17.8{NBSP}°C"
    assert row.cells[3].note == "conditions file"
    assert row.cells[5].text == "not known"


def test_doubts_of_reading_and_gaps_are_told(realistic_report) -> None:
    """A recognised column in doubt is named with its file; one that was not recognised is no doubt of the verdict."""
    lists = [block.items for block in section(realistic_report, "Doubts and gaps").blocks if isinstance(block, Points)]
    assert any('before-1.csv, column "Boost"' in item for item in lists[0])
    assert not any("spare 2" in item for item in lists[0])
    assert any("No log has a pressure at the compressor outlet" in item for item in lists[1])


def test_the_curve_says_where_it_changed(realistic_report) -> None:
    """Engine speeds at which the band leaves zero, and the largest difference with its interval, are in words."""
    plates = [block for block in section(realistic_report, "Curves").blocks if isinstance(block, Plate)]
    assert len(plates) == 3
    notes = " ".join(plates[0].notes).replace(NBSP, " ")
    assert re.search(r"Largest difference: −3\.\d+ points \(−\d\.\d+ to −\d\.\d+ points\) at 5200 rpm", notes)
    assert re.search(r"Band wholly below zero: \d{4} rpm to \d{4} rpm", notes)
    assert "holds zero at every engine speed" in " ".join(plates[1].notes)


@pytest.mark.parametrize("clear", [[(0, 5)], [(10, 20), (40, 45)], [(0, 71)]])
def test_stretches_of_the_curve_are_found(realistic_comparison, clear) -> None:
    """The engine speeds named are exactly those at which the band lies below zero."""
    curve = realistic_comparison.curves[0]
    curve.upper[:] = 1.0
    for first, last in clear:
        curve.upper[first:last] = -0.1
    report = build_report(
        replace(realistic_comparison, curves=(curve,)),
        car=Car("car"),
        made_at=MADE_AT,
    )
    plate = section(report, "Curves").blocks[0]
    found = [(float(a), float(b)) for a, b in re.findall(rf"(\d+){NBSP}rpm to (\d+){NBSP}rpm", plate.notes[1])]
    assert found == [(curve.rpm[first], curve.rpm[last - 1]) for first, last in clear]


def test_cautions_stand_in_every_report(report, realistic_comparison) -> None:
    """Page, paper and picture show the cautions, and none of them clears an engine."""
    cautions = section(report, "Cautions")
    assert cautions.picture
    assert cautions.blocks[0].picture
    assert cautions.blocks[0].items
    assert "no figure here clears an engine as safe" in report.footer[-1]


def test_the_title_can_be_given_and_else_names_car_and_change(realistic_comparison, realistic_report) -> None:
    """Who shares a report can head it; without a word the car and the change do."""
    assert realistic_report.title == "blue hatch: charge pipe, 63.5 mm in place of 57 mm"
    given = build_report(realistic_comparison, car=Car("car"), made_at=MADE_AT, title="Mine")
    assert given.title == "Mine"
    facts = given.sections[0].blocks[0]
    assert isinstance(facts, Facts)
    assert {fact.term: fact.text for fact in facts.items}["Change"] == "not stated"


def test_the_interval_is_explained_in_two_sentences(realistic_report) -> None:
    """Scatter between pulls and between days is given with unit, in two sentences."""
    text = section(realistic_report, "How the interval is made").blocks[0].text
    assert len(re.findall(r"\.(?= |$)", text)) == 2
    assert f"0.3{NBSP}points between pulls of one day and 0.36{NBSP}points between days" in text
