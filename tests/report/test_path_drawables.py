import numpy as np
import pytest
from tests.report.other_reports import MANY, changed, compressor_map, flow, operating, path_of
from tests.report.predictions import predicted

from pullproof.analysis.airpath import analyse_path
from pullproof.report.map_drawable import map_drawing
from pullproof.report.path_drawables import MOST_SEGMENTS, agreement_drawing, stack_drawing


def test_segments_add_up_to_the_whole(tmp_path) -> None:
    """The segments of a bar stand on each other without gap or overlap, up to the loss of the whole path."""
    found = changed(tmp_path)
    drawing = stack_drawing((found.before, found.after))
    at = int(np.nanargmax(found.before.total.estimate))
    for stack, path in zip(drawing.stacks, (found.before, found.after), strict=True):
        edges = [stack.segments[0].low, *(segment.high for segment in stack.segments)]
        assert [segment.low for segment in stack.segments] == edges[:-1]
        assert edges[0] == 0.0
        assert edges[-1] == pytest.approx(path.total.estimate[at])
        assert stack.interval == (path.total.lower[at], path.total.upper[at])
        assert drawing.y_range[1] > stack.interval[1]


def test_air_passes_from_the_top_down(tmp_path) -> None:
    """The first element stands on top, so that a bar reads like the pipe."""
    drawing = stack_drawing((changed(tmp_path).before,))
    numbers = [segment.label.split()[0] for segment in reversed(drawing.stacks[0].segments)]
    assert numbers == sorted(numbers, key=int)


def test_many_elements_are_put_together_and_none_is_lost(tmp_path) -> None:
    """A long path has as many segments as can be read, and they still add up."""
    path = analyse_path(path_of(tmp_path, MANY), flow())
    stack = stack_drawing((path,)).stacks[0]
    assert len(stack.segments) == MOST_SEGMENTS
    assert stack.segments[0].label.startswith("4 others")
    assert stack.segments[-1].high == pytest.approx(np.nanmax(path.total.estimate))


def test_axes_and_words_have_units(tmp_path) -> None:
    """The axis names kPa; the words for those who cannot see it give total, interval and every segment."""
    drawing = stack_drawing((changed(tmp_path).before,))
    assert drawing.y_label.endswith(", kPa")
    for stack in drawing.stacks:
        assert stack.total_label in drawing.description
        assert all(segment.label in drawing.description for segment in stack.segments)


def test_prediction_and_measurement_lie_inside_their_axes() -> None:
    """Zero stands in the middle, and both intervals lie inside."""
    for one in predicted().agreements:
        drawing = agreement_drawing(one)
        low, high = drawing.x_range
        assert low == -high
        assert low < min(*drawing.predicted_interval, *drawing.measured_interval)
        assert max(*drawing.predicted_interval, *drawing.measured_interval) < high


def test_a_map_shows_every_line_and_says_where_full_load_lies() -> None:
    """All speed lines, the surge line and both operating lines lie inside the axes; the words give flow and ratio."""
    line = operating()
    drawing = map_drawing(compressor_map(), (("before", line), ("after", line)))
    assert len(drawing.speeds) == 4
    np.testing.assert_array_equal(drawing.surge.x, [speed.x[0] for speed in drawing.speeds])
    for part in (*drawing.speeds, *drawing.operating):
        assert drawing.x_range[0] < np.nanmin(part.x) <= np.nanmax(part.x) < drawing.x_range[1]
        assert drawing.y_range[0] < np.nanmin(part.y) <= np.nanmax(part.y) < drawing.y_range[1]
    assert drawing.x_label == "corrected air mass flow, g/s at 25\N{NO-BREAK SPACE}°C and 100\N{NO-BREAK SPACE}kPa"
    assert "ratio" in drawing.description
    assert drawing.island is not None
