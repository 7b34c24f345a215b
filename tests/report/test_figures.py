import colorsys
import re
import subprocess
import sys
import xml.etree.ElementTree as ET

import matplotlib
import pytest
from tests.report.other_reports import changed, compressor_map, operating
from tests.report.predictions import predicted

from pullproof.errors import CannotAnswer
from pullproof.report.drawables import curve_drawing, interval_drawing
from pullproof.report.figures import COLOURS, PENS, plot, to_svg
from pullproof.report.map_drawable import map_drawing
from pullproof.report.path_drawables import agreement_drawing, stack_drawing

SVG = "{http://www.w3.org/2000/svg}"


@pytest.fixture
def drawings(realistic_comparison, tmp_path):
    paths = changed(tmp_path)
    return [
        curve_drawing(realistic_comparison.curves[0], 0.95, 0.5),
        interval_drawing(realistic_comparison.measures[0]),
        interval_drawing(realistic_comparison.measures[0], large=True),
        agreement_drawing(predicted().agreements[0]),
        map_drawing(compressor_map(), (("before", operating()), ("after", operating()))),
        stack_drawing((paths.before, paths.after)),
    ]


def test_lines_differ_without_colour() -> None:
    """Before and after can be told apart by dash, marker and filling, and in grey by lightness."""
    before, after = PENS["before"], PENS["after"]
    assert before.style != after.style
    assert before.marker != after.marker
    assert before.filled != after.filled
    lightness = [
        colorsys.rgb_to_hls(*(int(pen.colour[i : i + 2], 16) / 255 for i in (1, 3, 5)))[1] for pen in (before, after)
    ]
    assert abs(lightness[0] - lightness[1]) > 0.1


@pytest.mark.parametrize("for_page", [True, False])
def test_svg_stands_alone(drawings, for_page) -> None:
    """Each SVG is well-formed, refers to nothing outside itself, and says in words what it shows."""
    for number, drawing in enumerate(drawings):
        text = to_svg(drawing, f"f{number}", for_page=for_page)
        root = ET.fromstring(text)
        identifiers = [element.get("id") for element in root.iter() if element.get("id")]
        assert len(identifiers) == len(set(identifiers))
        assert all(identifier.startswith(f"f{number}-") for identifier in identifiers)
        used = re.findall(r'url\(#([^)]+)\)|href="#([^"]+)"', text)
        assert {first or second for first, second in used} <= set(identifiers)
        assert "http" not in text.replace("http://www.w3.org/2000/svg", "")
        assert root.get("role") == "img"
        title, description = root[0], root[1]
        assert (title.tag, title.text) == (f"{SVG}title", drawing.title)
        assert (description.tag, description.text) == (f"{SVG}desc", drawing.description)
        assert root.get("aria-labelledby") == f"{title.get('id')} {description.get('id')}"
        assert root.find(f".//{SVG}style") is None


def test_labels_are_text(drawings) -> None:
    """Axis names and direct labels are text that can be searched and read aloud."""
    words = ["".join(element.itertext()) for element in ET.fromstring(to_svg(drawings[0], "f", for_page=True)).iter()]
    for label in (
        "wastegate duty, %",
        "engine speed, rpm",
        "before",
        "after",
        "after − before, points (shaded: 95\xa0% band)",
    ):
        assert label in words


def test_colours_of_a_page_are_the_pages(drawings) -> None:
    """In a page no colour is fixed, so that a figure follows the page into dark mode; on paper all are."""
    for drawing in drawings:
        page, paper = (to_svg(drawing, "f", for_page=for_page) for for_page in (True, False))
        assert not re.search(r"#[0-9a-f]{6}", page)
        assert "var(--" not in paper
        roles = set(re.findall(r"var\(--([a-z]+)\)", page))
        assert roles <= set(COLOURS)


def test_the_same_drawing_gives_the_same_svg(drawings) -> None:
    """Nothing in a figure depends on the clock or on chance."""
    for drawing in drawings:
        assert to_svg(drawing, "f", for_page=True) == to_svg(drawing, "f", for_page=True)


def test_a_name_is_never_read_as_a_formula(realistic_comparison) -> None:
    """A header such as `$p_2$` is shown as it is written."""
    curve = realistic_comparison.curves[0]
    named = type(curve)("$p_2$ & <b>", *(getattr(curve, name) for name in curve.__slots__[1:]))
    text = "".join(ET.fromstring(to_svg(curve_drawing(named, 0.95, None), "f", for_page=True)).itertext())
    assert "$p 2$ & <b>, %" in text


def test_drawing_leaves_no_trace(realistic_comparison, drawings) -> None:
    """Settings of matplotlib that belong to the user are as they were."""
    before = matplotlib.rcParams.copy()
    to_svg(drawings[0], "f", for_page=True)
    plot(realistic_comparison)
    assert matplotlib.rcParams.copy() == before


def test_global_state_of_matplotlib_is_not_loaded() -> None:
    """Drawing an interval in a fresh interpreter loads no pyplot, which would look for a screen."""
    code = (
        "import sys\n"
        "from pullproof.report.drawables import IntervalDrawing\n"
        "from pullproof.report.figures import to_svg\n"
        "to_svg(IntervalDrawing('t', 'd', 'x, kPa', (-2.0, 2.0), 1.0, (0.5, 1.5), 0.3), 'f', for_page=False)\n"
        "print('matplotlib.pyplot' in sys.modules)"
    )
    result = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert result.stdout.strip() == "False"


def test_plot_has_a_column_for_each_curve(realistic_comparison) -> None:
    """`plot` gives one figure with before and after over the difference, axes named, band drawn."""
    figure = plot(realistic_comparison)
    axes = figure.get_axes()
    assert len(axes) == 2 * len(realistic_comparison.curves)
    assert [ax.get_title(loc="left") for ax in axes[::2]] == [
        "wastegate duty, %",
        "charge pressure, kPa",
        "wheel power, kW",
    ]
    for difference in axes[1::2]:
        assert difference.get_xlabel() == "engine speed, rpm"
        assert len(difference.collections) == 1
    figure.canvas.draw()


def test_plot_without_curves_says_so(realistic_comparison) -> None:
    """A comparison without curves is a sentence, not an empty picture."""
    empty = type(realistic_comparison)(
        **{name: getattr(realistic_comparison, name) for name in realistic_comparison.__slots__} | {"curves": ()}
    )
    with pytest.raises(CannotAnswer, match="no curve"):
        plot(empty)


def test_the_ground_of_a_hatching_follows_the_page(tmp_path) -> None:
    """In dark mode a hatched bar is dark: no colour is left in an SVG for a page but the page's own."""
    drawing = stack_drawing((changed(tmp_path).before,))
    assert "<pattern" in to_svg(drawing, "f", for_page=True)
    assert not re.search(r"#[0-9a-fA-F]{6}", to_svg(drawing, "f", for_page=True))
