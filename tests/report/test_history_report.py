"""A season's report, JSON and pictures, from a season small enough to be read in full."""

import datetime
import json
import re
import xml.etree.ElementTree as ET

import pytest
from jsonschema import Draft202012Validator

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.history import (
    AloneUnknown,
    ChangeEffect,
    DayPoint,
    Drift,
    Estimate,
    Explained,
    History,
    MeasureHistory,
    NearlyAlike,
    PullPoint,
    Rank,
    Scatter,
    SeasonChange,
    SeasonDay,
    Step,
)
from pullproof.car import Car
from pullproof.pulls import Pull
from pullproof.report.documents import schema
from pullproof.report.figures import to_svg
from pullproof.report.history_document import history_document
from pullproof.report.history_drawables import effects_drawing, season_drawing
from pullproof.report.history_sections import history_report
from pullproof.report.html import to_html
from pullproof.report.pdf import to_pdf, to_png

MADE = datetime.datetime.fromisoformat("2026-11-25T12:00+00:00")


def at(day: int) -> datetime.datetime:
    return datetime.datetime.fromisoformat(f"2026-07-{day:02d}T10:00")


def effect(changes, value: float, weights=(1.0,), **more) -> ChangeEffect:
    given = {
        "whole": Estimate(value + 1.0, (value, value + 2.0)),
        "verdict": "lower" if value < -0.5 else "unclear",
        "explained": Explained(
            value + 0.4, Estimate(0.3, (0.1, 0.5)), Estimate(0.1, (0.0, 0.2)), 0.0, 0.0, (("air_temperature", 0.3),)
        ),
    } | more
    return ChangeEffect(
        changes, weights, Estimate(value, (value - 0.6, value + 0.4)), pulls_with=4, pulls_without=8, days_with=1,
        days_without=2, **given,
    )  # fmt: skip


def about(value: float, half: float) -> Estimate:
    return Estimate(value, (value - half, value + half))


STEP = Step("1 July", "8 July", 0.91, 0.95, flagged=True, size=Estimate(3.0, (2.0, 4.1)), tested=2, untested=())


@pytest.fixture
def measure() -> MeasureHistory:
    builds = {"1 July": frozenset(), "8 July": frozenset({"pipe <b>"}), "15 July": frozenset({"pipe <b>", "valve"})}
    return MeasureHistory(
        id="wastegate_duty.peak",
        unit="%",
        smallest_worth_having=0.5,
        better="less",
        effects=(
            effect(("pipe <b>",), -1.87, nearly_alike=(NearlyAlike("air temperature", -0.91, None),)),
            effect(("valve", "hose"), -0.2, weights=(1.0, 1.0), whole=None),
        ),
        alone_unknown=(AloneUnknown("valve", ("hose",), "it cannot be told apart from hose"),),
        run_to_run=Scatter(0.42, (0.3, 0.6), 0.85, (0.3, 2.6)),
        day_to_day=Scatter(0.9, (0.4, 1.7), 1.2, (0.5, 3.4)),
        weather_swing=Estimate(3.8, (1.5, 6.0)),
        weather_days=("1 July", "8 July"),
        drift=Drift("30 days", Estimate(0.1, (-0.5, 0.7)), 0.36),
        step=STEP,
        ranking=(Rank(("pipe <b>",), 190.0, "EUR", Estimate(-0.98, (-1.3, -0.6)), known=True),),
        pulls=tuple(
            PullPoint(day, f"{day}.csv", 10.0, at(8), build, value, value - 0.3, censored=False, stands_out=False)
            for (day, build), value in zip(builds.items(), (95.0, 93.2, 92.9), strict=True)
        ),
        days=tuple(
            DayPoint(day, at(8), build, 4, about(value, 2.0), about(value, 1.0))
            for (day, build), value in zip(builds.items(), (94.7, 92.9, 92.6), strict=True)
        ),
        doubts=("a pull stands out",),
    )


@pytest.fixture
def history(measure: MeasureHistory) -> History:
    return History(
        car="blue hatch",
        level=0.95,
        window_rpm=(4080.0, 6590.0),
        main="wastegate_duty.peak",
        sentence="Peak wastegate duty moved with 1 of 3 changes: pipe <b> -1.87 (-2.47 to -1.47).",
        changes=(
            SeasonChange("pipe <b>", at(5), "part", 190.0, "EUR"),
            SeasonChange("valve", at(12), "part"),
            SeasonChange("hose", at(12), temporary=True, removed=at(20)),
        ),
        days=(
            SeasonDay("1 July", at(1)),
            SeasonDay("8 July", at(8)),
            SeasonDay("15 July", at(15), 84_000.0, "field"),
        ),
        measures=(measure,),
        refused=(Pull("a.csv", 1.0, 3.0, 3, 2500.0, 4000.0, used=False, reason="pedal lifted"),),
        left_out=(),
        next_steps=("Look for a leak.",),
        doubts=("2 intervals were looked at",),
        cautions=CAUTIONS,
    )


def text_of(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("\N{NO-BREAK SPACE}", " ")


def test_document_is_what_its_schema_says(history: History) -> None:
    """The JSON validates, and holds effects, what cannot be told, scatter, trend, step, ranking and the cautions."""
    document = json.loads(json.dumps(history_document(history), allow_nan=False))
    Draft202012Validator(schema("history")).validate(document)
    (measure,) = document["measures"]
    assert measure["effects"][0]["effect"] == {"value": -1.87, "interval": [-2.47, -1.4700000000000002]}
    assert measure["effects"][1]["whole"] is None
    assert measure["step"]["flagged"] is True
    assert document["cautions"] == list(CAUTIONS)


def test_report_says_the_same_numbers_as_the_document(history: History) -> None:
    """Effect, interval, difference as driven, cost and step stand in the page, names as text and never as markup."""
    page = to_html(history_report(history, car=Car("blue hatch"), made_at=MADE))
    assert "pipe <b>" not in page
    text = text_of(page)
    for wanted in ("−1.87 points", "−2.47 to −1.47", "−1.47", "190 EUR", "+3.0 points", "probability 0.91"):
        assert wanted in text, wanted
    assert "Valve: It cannot be told apart from hose." in text
    for caution in CAUTIONS:
        assert caution in text.replace("&#39;", "'")


def test_every_way_of_writing_it_works(history: History) -> None:
    """The same report as PDF and as a picture."""
    report = history_report(history, car=Car("blue hatch"), made_at=MADE)
    assert to_pdf(report).startswith(b"%PDF")
    assert to_png(report).startswith(b"\x89PNG")


def test_season_picture_marks_changes_and_steps(history: History, measure: MeasureHistory) -> None:
    """One slot a build and day; the change stands before its slot by its number, the step before its day."""
    drawing = season_drawing(history, measure)
    assert [slot.label for slot in drawing.slots] == ["1 July", "8 July", "15 July"]
    assert [(mark.before, mark.text) for mark in drawing.marks] == [(1, "1"), (2, "2")]
    assert drawing.step_before == 1
    low, high = drawing.y_range
    ends = [end for slot in drawing.slots for end in (*slot.interval, *slot.model_interval, *slot.pulls)]
    assert low < min(ends) < max(ends) < high


def test_a_part_taken_off_is_marked_so(history: History, measure: MeasureHistory) -> None:
    """What comes off again has its number with the word off."""
    days = (*measure.days, DayPoint("22 July", at(22), frozenset(), 2, Estimate(1, (0, 2)), Estimate(1, (0, 2))))
    moved = MeasureHistory(**{name: getattr(measure, name) for name in measure.__slots__} | {"days": days})
    assert season_drawing(history, moved).marks[-1].text == "1 off, 2 off"


def test_effects_are_drawn_about_zero(history: History, measure: MeasureHistory) -> None:
    """Zero stands in the middle, and every interval, whole effect and difference as driven lies inside."""
    drawing = effects_drawing(history, measure)
    assert drawing is not None
    assert drawing.x_range[0] == -drawing.x_range[1]
    ends = [end for row in drawing.rows for end in (*row.interval, *(row.whole_interval or ()), row.raw)]
    assert max(map(abs, ends)) < drawing.x_range[1]
    assert [row.label for row in drawing.rows] == ["1  pipe <b>", "2+3  valve and hose together"]


@pytest.mark.parametrize("for_page", [True, False])
def test_pictures_are_whole_svg(history: History, measure: MeasureHistory, *, for_page: bool) -> None:
    """Each picture is well-formed and says in words what it shows."""
    for drawing in (season_drawing(history, measure), effects_drawing(history, measure)):
        assert drawing is not None
        root = ET.fromstring(to_svg(drawing, "f", for_page=for_page))
        assert root[0].text == drawing.title
        assert root[1].text == drawing.description
