import re
from pathlib import Path

import pytest

from pullproof.demo import DemoFiles
from pullproof.demo.weekends import OUTINGS

PAGE = (Path(__file__).parents[2] / "docs" / "demo.md").read_text(encoding="utf-8")


def test_page_prints_the_true_effect(demo: DemoFiles) -> None:
    """Every true effect on the page is the one that the demo computes, to the digits printed."""
    rows = re.findall(r"^\| `([a-z_.]+)` \| (-?[0-9.]+) \| \S+ \|$", PAGE, re.MULTILINE)
    assert len(rows) >= 6
    for measure, printed in rows:
        digits = len(printed.partition(".")[2])
        assert demo.truth[measure] == pytest.approx(float(printed), abs=0.5 * 10**-digits), measure


def test_page_tells_the_story_that_is_driven() -> None:
    """Each log stands on the page with its air."""
    for outing in OUTINGS:
        air = f"{outing.weather.temperature_c:.1f} °C, {outing.weather.pressure_kpa:.1f} kPa"
        assert re.search(rf"^\| `{re.escape(outing.file)}` .* \| {air} \|", PAGE, re.MULTILINE)
