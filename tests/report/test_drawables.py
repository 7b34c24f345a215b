import numpy as np
import pytest

from pullproof.report.drawables import curve_drawing, interval_drawing, worth_for_curve


def test_what_a_curve_drawing_holds(realistic_comparison) -> None:
    """Both means stand on top; the difference, its band, zero and the smallest worth having stand below."""
    curve = realistic_comparison.curves[0]
    drawing = curve_drawing(curve, 0.95, 0.5)
    top, bottom = drawing.panels
    assert [line.role for line in top.lines] == ["before", "after"]
    np.testing.assert_array_equal(top.lines[0].y, curve.before)
    np.testing.assert_array_equal(top.lines[1].y, curve.after)
    np.testing.assert_array_equal(bottom.lines[0].y, curve.difference)
    np.testing.assert_array_equal(bottom.bands[0].lower, curve.lower)
    np.testing.assert_array_equal(bottom.bands[0].upper, curve.upper)
    assert [(level.kind, level.y) for level in bottom.levels] == [("zero", 0.0), ("worth", 0.5), ("worth", -0.5)]


def test_axes_name_their_quantity_and_unit(realistic_comparison) -> None:
    """No axis is without a name, and none without a unit."""
    drawing = curve_drawing(realistic_comparison.curves[1], 0.95, None)
    assert drawing.x_label == "engine speed, rpm"
    assert [panel.label for panel in drawing.panels] == ["charge pressure, kPa", "after − before, kPa"]


def test_axes_show_everything(realistic_comparison) -> None:
    """Zero, the whole band and both curves lie inside the axes."""
    for curve in realistic_comparison.curves:
        top, bottom = curve_drawing(curve, 0.95, None).panels
        assert top.y_range[0] < min(curve.before.min(), curve.after.min())
        assert top.y_range[1] > max(curve.before.max(), curve.after.max())
        assert bottom.y_range[0] < min(curve.lower.min(), 0)
        assert bottom.y_range[1] > max(curve.upper.max(), 0)


def test_a_gap_stays_a_gap(realistic_comparison) -> None:
    """An engine speed that one side lacks is neither dropped nor bridged; one that both lack is not drawn."""
    curve = realistic_comparison.curves[0]
    curve.before[:5] = np.nan
    curve.after[:3] = np.nan
    before, after = curve_drawing(curve, 0.95, None).panels[0].lines
    assert len(before.x) == len(curve.rpm) - 3
    assert np.isnan(before.y[:2]).all()
    assert np.isfinite(after.y).all()


def test_nothing_to_draw(realistic_comparison) -> None:
    """A curve without values, and a measure without an interval, give no drawing and no error."""
    curve = realistic_comparison.curves[0]
    curve.before[:] = curve.after[:] = np.nan
    assert curve_drawing(curve, 0.95, None) is None


def test_a_flat_curve_has_axes(realistic_comparison) -> None:
    """A duty that sits at 100 % the whole way can be drawn."""
    curve = realistic_comparison.curves[0]
    for values, level in ((curve.before, 100.0), (curve.after, 100.0), (curve.difference, 0.0)):
        values[:] = level
    curve.lower[:] = curve.upper[:] = 0.0
    for panel in curve_drawing(curve, 0.95, None).panels:
        low, high = panel.y_range
        assert low < high


def test_zero_stands_in_the_middle_of_every_interval(comparison) -> None:
    """Rows compare at a glance: left of the middle is always lower, and nothing lies outside."""
    for measure in comparison.measures:
        drawing = interval_drawing(measure)
        if not np.isfinite(measure.difference):
            assert drawing is None
            continue
        low, high = drawing.x_range
        assert low == -high
        assert low < min(measure.interval) <= measure.difference <= max(measure.interval) < high
        assert drawing.worth < high
        assert drawing.interval == measure.interval


def test_words_for_those_who_cannot_see_it(realistic_comparison) -> None:
    """The alternative text of an interval gives the number, its unit and the interval."""
    drawing = interval_drawing(realistic_comparison.measures[0])
    text = drawing.description.replace("\N{NO-BREAK SPACE}", " ")
    assert "−1.90 points" in text
    assert "−2.80 to −1.00 points" in text


@pytest.mark.parametrize(("index", "worth"), [(0, 0.5), (1, 3.0), (2, 4.0)])
def test_a_curve_is_judged_by_its_own_measure(realistic_comparison, index, worth) -> None:
    """Charge pressure is judged by boost, the others by their own name."""
    assert worth_for_curve(realistic_comparison, realistic_comparison.curves[index]) == worth
