"""The page on the air system cannot lie: its table is complete, its map is read, its code runs."""

import re
from pathlib import Path

import numpy as np

import pullproof.analysis.air_system as package
from pullproof.analysis.air_system import air_system, load_compressor_map
from pullproof.analysis.comparison import compare_records

PAGE = (Path(__file__).parents[3] / "docs" / "air-system.md").read_text(encoding="utf-8")


def test_table_lists_every_quantity_with_its_unit(outing, car):
    """Each part of an air system has its row, and the unit of the row is the unit of the curve."""
    system = air_system(outing("a.csv", "a", 1, pulls=1)[0], car)
    rows = dict(re.findall(r"^\| `(\w+)` \| ([^|]+) \|", PAGE, re.MULTILINE))
    assert set(rows) == set(system.curves) | set(system.missing)
    for name, curve in system.curves.items():
        assert rows[name].strip() == curve.unit


def test_the_map_on_the_page_is_read(tmp_path):
    """The file that the page shows is a map."""
    file = tmp_path / "page.csv"
    file.write_text(re.search(r"```csv\n(.*?)```", PAGE, re.DOTALL)[1], encoding="utf-8")
    found = load_compressor_map(file).locate(60.0, 1.35)
    np.testing.assert_allclose(found.efficiency, 0.70)


def test_the_code_on_the_page_runs(outing, car, monkeypatch):
    """The examples run as they stand, one after the other, with two sets of pulls and a car."""
    monkeypatch.chdir(Path(__file__).parents[3])
    before, after = outing("a.csv", "a", 1, pulls=1), outing("b.csv", "b", 2, pulls=1)
    comparison = compare_records(before, after, car=car)
    names = {"record": before[0], "before": before, "after": after, "comparison": comparison, "car": car}
    names["print"] = lambda *_: None
    for code in re.findall(r"```python\n(.*?)```", PAGE, re.DOTALL):
        exec(code, names)
    assert names["line"].surge_margin.unit == "1"


def test_the_page_names_every_function():
    """What the package offers to call stands on the page."""
    for name in package.__all__:
        if name[0].islower():
            assert f"`{name}" in PAGE or f"{name}(" in PAGE, name
