"""From a drawing to what a page shows: a chart, its values in a table, a picture without styles of its own."""

import json

import numpy as np
import pytest

from pullproof.report.drawables import Band, CurveDrawing, IntervalDrawing, Line, Panel
from pullproof.web.charts import chart_of, interval_marks, picture, value_table

X = np.array([1000.0, 2000.0, 3000.0])


def drawing(*lines, bands=()):
    return CurveDrawing(
        "title", "description", "engine speed, rpm", (1000.0, 3000.0), (Panel("boost, kPa", (0.0, 9.0), lines, bands),)
    )


def test_gap_in_a_curve_is_null():
    """What is not known is a gap in the line; JSON has no other word for it."""
    said = json.loads(chart_of(drawing(Line("before", "before", X, np.array([1.0, np.nan, 3.0])))))
    assert said["panels"][0]["lines"][0]["y"] == [1.0, None, 3.0]


def test_lines_of_different_axes_share_one():
    """Two pulls over different engine speeds stand on one axis, each only where it was driven."""
    short = Line("pull", "", X[1:], np.array([5.0, 6.0]))
    said = json.loads(chart_of(drawing(Line("before", "before", X, X / 1000), short)))
    panel = said["panels"][0]
    assert panel["x"] == X.tolist()
    assert panel["lines"][1]["y"] == [None, 5.0, 6.0]


def test_table_has_every_line_and_both_ends_of_a_band():
    """Who cannot see the lines reads the same numbers."""
    band = Band("95 % band", X, X / 1000 - 1, X / 1000 + 1)
    headings, rows = value_table(drawing(Line("difference", "after − before", X, X / 1000), bands=(band,)))
    assert headings == [
        "engine speed, rpm",
        "boost, kPa, after − before",
        "boost, kPa, lower end",
        "boost, kPa, upper end",
    ]
    assert rows[0] == ["1000", "1.000", "0", "2.000"]


@pytest.mark.parametrize(("value", "at"), [(-2.0, 0.0), (0.0, 50.0), (2.0, 100.0), (1.0, 75.0)])
def test_marks_of_an_interval_stand_where_its_numbers_are(value, at):
    """The picture of an interval runs from 0 to 100 across its range, zero in the middle."""
    marks = interval_marks(IntervalDrawing("t", "d", "x", (-2.0, 2.0), value, (-1.0, 1.0), 0.5))
    assert marks["value"] == at
    assert (marks["low"], marks["zero"], marks["high"]) == (25.0, 50.0, 75.0)


def test_picture_needs_no_exception_from_the_policy():
    """The report's picture comes without style attributes or style sheets, its colours kept as attributes."""
    svg = picture(drawing(Line("before", "<before>", X, X / 1000), Line("after", "after", X, X / 900)))
    assert " style=" not in svg
    assert "<style" not in svg
    assert "var(--before)" in svg
    assert "<before>" not in svg
