"""Cells of text as numbers, and what is no number counted."""

import numpy as np
import polars as pl
import pytest

from pullproof.reading.cells import NumberCells


def read(cells, decimal="."):
    reader = NumberCells(decimal)
    return reader, reader.read(pl.Series(cells, dtype=pl.String), lambda row: row + 2)


@pytest.mark.parametrize(
    ("cell", "value"),
    [
        ("1", 1),
        ("-1.5", -1.5),
        ("+.5", 0.5),
        ("2.", 2),
        (" 7 ", 7),
        ("1e3", 1000),
        ("1,234.5", 1234.5),
        ("12,345,678", 12345678),
    ],
)
def test_numbers(cell, value):
    """Signs, blanks, powers of ten and marked thousands are numbers."""
    reader, numbers = read([cell, "3"])
    assert numbers[0] == value
    assert reader.unreadable == 0


@pytest.mark.parametrize(
    ("cell", "value"), [("1,5", 1.5), ("1.234,5", 1234.5), ("-0,25", -0.25), ("12.345.678,9", 12345678.9)]
)
def test_decimal_comma(cell, value):
    """With a decimal comma, points mark thousands."""
    reader, numbers = read([cell, "3"], ",")
    assert numbers[0] == value
    assert reader.unreadable == 0


@pytest.mark.parametrize("cell", ["", " ", "-", "--", "n/a", "NaN", "NULL", "inf", "1e999", None])
def test_words_for_nothing_are_blanks(cell):
    """No value, however it is written, is a blank and no fault."""
    reader, numbers = read([cell, "3"])
    assert np.isnan(numbers[0])
    assert reader.unreadable == 0


@pytest.mark.parametrize("cell", ["6.1.2", "Off", "1:23", "12abc34", "0x10", "1 2", "five"])
def test_other_text_is_counted(cell):
    """Anything else is a blank, counted, and the first is kept with its line."""
    reader, numbers = read(["1", cell, "3", cell])
    assert np.isnan(numbers[1])
    assert reader.unreadable == 2
    assert (reader.first.line, reader.first.text) == (3, cell)


def test_a_unit_behind_most_values_is_learned():
    """A unit glued to the values is taken off and kept; another one behind a single value is a fault."""
    reader, numbers = read(["2124RPM", "2617 RPM", "3005RPM", "44kPa"])
    np.testing.assert_array_equal(numbers, [2124, 2617, 3005, np.nan])
    assert reader.suffix == "RPM"
    assert reader.unreadable == 1


def test_a_single_unit_among_numbers_is_a_fault():
    """One cell with letters behind its number does not make a unit of them."""
    reader, numbers = read(["14.5", "14.6", "14.7kPa", "14.8"])
    assert np.isnan(numbers[2])
    assert (reader.suffix, reader.unreadable) == ("", 1)
