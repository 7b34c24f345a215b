"""Tables for spreadsheets: nothing that somebody typed may act there."""

import pytest

from pullproof.web.reports import safe_cell


@pytest.mark.parametrize(
    "text", ["=1+1", "+1", "-1", "@SUM(A1)", "\t=1", "\r=1", '=HYPERLINK("http://elsewhere.example")', "＝1"]
)
def test_cell_that_looks_like_a_formula_is_led_by_an_apostrophe(text):
    """What OWASP's page on CSV injection lists as dangerous comes out as plain text."""
    assert safe_cell(text) == f"'{text}"


@pytest.mark.parametrize("text", ["", "run-1.csv", "a=b", "3 Oct", "blue hatch"])
def test_other_text_stays(text):
    """Ordinary names are left as they are."""
    assert safe_cell(text) == text
