"""A watch on paper and on a page: what passed first, then how near, then what nobody saw."""

import datetime
import io
import re

import jsonschema
import numpy as np
import pypdf
import pytest

from pullproof.analysis.watch import Event, Limit, NotWatched, Place, SensorDoubt, Trend, Watch, Watched
from pullproof.car import Car
from pullproof.report.documents import schema
from pullproof.report.html import to_html
from pullproof.report.pdf import to_pdf, to_png
from pullproof.report.watch_document import watch_document
from pullproof.report.watch_drawable import event_drawing
from pullproof.report.watch_sections import event_cells, unwatched_lines, watch_report, watched_cells

MADE_AT = datetime.datetime.fromisoformat("2026-10-05T20:15")
HOT = Limit("coolant_temperature_c", "degC", "above", 108.0, "common practice, no source")
LEAN = Limit("lambda_full_load", "1", "above", 0.92, "car sheet, limits.lambda_full_load", from_sheet=True)
LOGS = ("drive <1>.csv", "drive 2.csv")
PLACE = Place("drive <1>.csv", 42.31, 5210.0, 2)


def event(kind="sustained", at_most=1.9, samples=8, at_least=1.4) -> Event:
    around = tuple((40.0 + 0.2 * step, 100.0 + 12.0 * np.exp(-(((step - 12) / 5) ** 2))) for step in range(30))
    return Event(
        "coolant_temperature:coolant_temperature:drive <1>.csv:41.60", "coolant_temperature", "coolant temperature",
        "coolant_temperature", kind, HOT, 112.0, 4.0, PLACE, 41.6, 43.0, samples, 1, at_least, at_most, "", around,
    )  # fmt: skip


def watch_of(*events: Event) -> Watch:
    hot = Watched(
        "coolant_temperature", "coolant temperature", ("coolant_temperature",), HOT, 112.0, -4.0, PLACE,
        ("drive <1>.csv",), 812, 0.2, "passed the limit" if events else "within",
    )  # fmt: skip
    lean = Watched(
        "lambda_full_load", "lambda at full load", ("lambda",), LEAN, 0.874, 0.046, PLACE, ("drive <1>.csv",), 90, 0.1,
        "within", ("the sensor is slow",),
    )  # fmt: skip
    return Watch(
        sentence="2 of 22 things could be watched. This clears nothing: an engine can fail without a sign.",
        logs=LOGS,
        pulls=(),
        watched=(hot, lean),
        events=events,
        not_watched=(
            NotWatched("oil_pressure", "oil pressure", LOGS, "oil pressure is not logged", "Log oil pressure."),
            NotWatched("knock_retard", "knock retard", LOGS[1:], "knock retard is not logged", "Log knock retard."),
        ),
        sensors=(SensorDoubt("drive <1>.csv", "lambda", "at its end", "lambda repeats 0.750 at full load"),),
        trends=(
            Trend("oil_temperature", "oil temperature", "degC", ("saturday", "sunday"), (97.0, 103.0), 6, 5.5,
                  (1.0, 10.0), 0.95, "worse", "days by date; air temperature taken out"),
        ),
        doubts=("the car sheet names no fuel",),
        cautions=("Closed course or dynamometer.",),
    )  # fmt: skip


def words_of(pdf: bytes) -> str:
    return " ".join(" ".join(page.extract_text() for page in pypdf.PdfReader(io.BytesIO(pdf)).pages).split())


def test_the_json_fits_its_schema() -> None:
    """With events and without, with an open bound of time and a place outside every pull."""
    for found in (watch_of(event(), event("single sample", None, 1, 0.0)), watch_of()):
        document = watch_document(found)
        jsonschema.validate(document, schema("watch"))
        assert document["schema"] == "pullproof.watch/1"


def test_paper_page_and_picture_are_made() -> None:
    """All three forms; names of files are shown as text, never as markup."""
    report = watch_report(watch_of(event()), car=Car("blue hatch"), made_at=MADE_AT)
    page, paper = to_html(report), words_of(to_pdf(report))
    for words in ("How near", "What could not be watched", "From day to day", "What lasts less than"):
        assert words in page
        assert words in paper
    assert "drive &lt;1&gt;.csv" in page
    assert "<1>" not in page
    assert to_png(report).startswith(b"\x89PNG")


def test_without_an_event_no_word_of_comfort() -> None:
    """A clean watch says that nothing was passed in what could be watched, and what was not seen, and no more."""
    page = to_html(watch_report(watch_of(), car=Car("blue hatch"), made_at=MADE_AT))
    assert "None in what could be watched." in page
    assert "no limit passed" in page
    words = re.sub(r"<style>.*?</style>|<[^>]+>", " ", page, flags=re.DOTALL).lower()
    assert words.count("safe") == words.count("no figure here clears an engine as safe")


def test_one_sample_alone_has_no_seconds() -> None:
    """Its length is told as unknown; that of several between two bounds."""
    assert event_cells(event("single sample", 0.4, 1, 0.0))[-1] == "one sample alone: length unknown"
    assert event_cells(event())[-1] == "1.4 to 1.9\N{NO-BREAK SPACE}s, 8 samples"
    assert event_cells(event(at_most=None))[-1].startswith("1.4\N{NO-BREAK SPACE}s or more")


def test_a_margin_is_what_is_left_to_the_limit() -> None:
    """Negative where it was passed, in kelvins for temperatures."""
    hot, lean = (watched_cells(entry) for entry in watch_of(event()).watched)
    shown = [cell.replace("\N{NO-BREAK SPACE}", " ") for cell in hot[1:4]]
    assert shown == ["112 °C", "at most 108 °C", "\N{MINUS SIGN}4 K"]
    assert lean[3].replace("\N{NO-BREAK SPACE}", " ") == "+0.046 λ"


def test_what_is_logged_nowhere_is_one_sentence() -> None:
    """What is missing in every log stands together; what is missing in some names them."""
    found = watch_of()
    lines = unwatched_lines(found.not_watched, found.logs)
    assert lines == (
        "Not logged: oil pressure.",
        "Knock retard (in drive 2.csv): Knock retard is not logged. Log knock retard.",
    )


def test_the_figure_marks_what_is_past_the_limit() -> None:
    """As many samples as were kept, those above the limit marked, the limit inside the axes."""
    drawing = event_drawing(event())
    assert drawing.time.size == 30
    assert np.array_equal(drawing.past, drawing.values > 108.0)
    assert drawing.y_range[0] < 108.0 < drawing.y_range[1]
    assert drawing.x_range[0] == pytest.approx(40.0 - 41.6)
