"""The page on air paths cannot lie: its files are read, its table is complete."""

import re
from pathlib import Path

import pytest

from pullproof.analysis.airpath import analyse_path, flow_from_sheets, load_path
from pullproof.analysis.airpath.path_sheet import _KINDS, FINISHES

PAGE = (Path(__file__).parents[3] / "docs" / "airpath.md").read_text(encoding="utf-8")
FILES = re.findall(r"```toml\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize("text", FILES)
def test_files_on_the_page_are_read(tmp_path, car, text):
    """Every path file on the page is read without a doubt and has a loss."""
    file = tmp_path / "page.toml"
    file.write_text(text, encoding="utf-8")
    path = load_path(file)
    assert path.doubts == ()
    result = analyse_path(path, flow_from_sheets(car, path.flow))
    assert (result.total.estimate > 0.0).all()


def test_table_lists_every_kind():
    """The table of kinds is complete, and so is the list of finishes."""
    assert re.findall(r"^\| `(\w+)` \|", PAGE, re.MULTILINE) == list(_KINDS)
    for finish in FINISHES:
        assert f"`{finish}`" in PAGE
