"""The run card is one page, has a line for every pull, and shows when to stop."""

import datetime
import io
from dataclasses import replace

import jsonschema
import pypdf
import pytest

from pullproof.analysis.plan import Request, plan_records
from pullproof.car import Car, Engine
from pullproof.errors import WrongUse
from pullproof.report.documents import schema
from pullproof.report.html import to_html
from pullproof.report.pdf import to_pdf
from pullproof.report.plan_document import plan_document
from pullproof.report.plan_drawable import chance_drawing
from pullproof.report.plan_sections import plan_report
from pullproof.report.run_card import card_html, card_pdf, check_card_path, run_card

MADE_AT = datetime.datetime.fromisoformat("2026-10-05T20:15")
CAR = Car("blue <hatch>", engine=Engine(redline_rpm=6800.0, fuel="e85", aspiration="turbo"))


@pytest.fixture(scope="module")
def planned():
    """A plan by usual values."""
    return plan_records("boost.mean", 2.0, car=CAR, request=Request(draws=10))


def text_of(pdf: bytes) -> tuple[int, str]:
    reader = pypdf.PdfReader(io.BytesIO(pdf))
    return len(reader.pages), " ".join(" ".join(page.extract_text() for page in reader.pages).split())


def test_every_option_fits_on_one_page(planned) -> None:
    """From two pulls to twenty, with changes of parts and test days between them: one sheet of paper."""
    longest = sorted(planned.options, key=lambda option: len(option.runs) + 2 * option.days + option.part_changes)
    for option in (longest[0], *longest[-4:]):
        card = run_card(replace(planned, recommended=option), CAR, MADE_AT)
        assert sum(bool(row.number) for row in card.rows) == len(option.runs)
        pages, text = text_of(card_pdf(card))
        assert pages == 1, option.label
        assert "licensed workshop has the last word" in text  # the last lines are still on it


def test_the_part_is_changed_between_the_states(planned) -> None:
    """Before, after, before: it is fitted once and taken off again once, each with a line of its own."""
    option = next(o for o in planned.options if o.order == "before_after_before" and o.pulls_before == 2)
    rows = run_card(replace(planned, recommended=option), CAR, MADE_AT).rows
    assert [row.what for row in rows] == [
        "before", "Fit the part; look it over.", "after", "after", "Take the part off again; look it over.", "before",
    ]  # fmt: skip


def test_paper_and_page_say_the_same(planned) -> None:
    """Every word of the card stands on both: stop criteria with this car's numbers, boxes, cautions."""
    card = run_card(planned, CAR, MADE_AT)
    page = card_html(card)
    _, paper = text_of(card_pdf(card))
    for words in (*card.columns, *card.fields, *card.stops, *card.cautions, *card.before, *card.each_pull):
        assert " ".join(words.split()) in paper
        assert words.replace("'", "&#39;") in page
    assert "Engine speed above 6800" in page.replace("\N{NO-BREAK SPACE}", " ")
    assert "&lt;hatch&gt;" in page
    assert "<hatch>" not in page


def test_a_plan_that_is_not_enough_says_so_on_its_card(planned) -> None:
    """The card of what comes nearest does not pass for a recommendation."""
    assert "not enough by itself" in run_card(replace(planned, recommended=None), CAR, MADE_AT).answer


@pytest.mark.parametrize("name", ["card.png", "card", "missing/card.pdf"])
def test_a_card_that_cannot_be_written_is_refused_early(tmp_path, name: str) -> None:
    """Another ending, or a folder that is not there."""
    with pytest.raises(WrongUse):
        check_card_path(tmp_path / name)


def test_the_json_fits_its_schema(planned) -> None:
    """Every key and kind is what the schema promises, with and without a recommendation."""
    document = plan_document(planned)
    jsonschema.validate(document, schema("plan"))
    assert document["options"][document["recommended"]]["chance"] >= 0.8
    jsonschema.validate(plan_document(replace(planned, recommended=None)), schema("plan"))


def test_the_report_says_it_on_paper_and_page(planned) -> None:
    """Sentence, options and stop criteria stand in both."""
    report = plan_report(planned, car=CAR, made_at=MADE_AT)
    page = to_html(report)
    pages, paper = text_of(to_pdf(report))
    assert pages <= 5
    for words in ("Before, after, one day", "When to stop", "What to log, and how fast"):
        assert words in page
        assert words in paper
    assert "the one to drive" in page


def test_the_figure_shows_every_option(planned) -> None:
    """One path for each order with its chances in per cent, and the mark on what is recommended."""
    drawing = chance_drawing(planned)
    assert sum(path.pulls.size for path in drawing.paths) == len(planned.options)
    best = planned.recommended
    assert drawing.mark == (best.pulls_before + best.pulls_after, pytest.approx(100.0 * best.chance))
    assert drawing.wanted == pytest.approx(80.0)
