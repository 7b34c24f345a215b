"""What a report says of its own kind is what the trial found."""

import re
from pathlib import Path

import pytest

from pullproof.measures import MEASURES
from pullproof.report.track_record import how_often_held

PAGE = Path(__file__).parents[2] / "docs" / "validation.md"


def _printed(measure: str) -> str | None:
    """The 95 % column of the page's table of levels."""
    text = PAGE.read_text(encoding="utf-8").partition("## Intervals of 50 and 80 %")[2]
    found = re.search(rf"^\| `{re.escape(measure)}` \| [^|]+ \| [^|]+ \| ([0-9.]+) ± ", text, re.MULTILINE)
    return found[1] if found else None


@pytest.mark.parametrize("measure", MEASURES)
def test_the_report_says_what_the_page_says(measure: str) -> None:
    """A sheet names the share that docs/validation.md prints for the measure, to its digit."""
    sentence = how_often_held(measure, 0.95)
    if sentence is not None:
        assert f"held the truth {_printed(measure)}\N{NO-BREAK SPACE}%" in sentence


def test_the_main_measure_has_a_record() -> None:
    """The measure that most verdicts speak of was tried often enough."""
    assert how_often_held("wastegate_duty.peak", 0.95) is not None


def test_nothing_is_said_of_a_level_that_was_not_tried() -> None:
    """A 90 % interval has no record, and none is made up for it."""
    assert how_often_held("wastegate_duty.peak", 0.9) is None
