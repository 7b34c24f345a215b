"""Units: what header texts mean, and how values change from one unit to another."""

import numpy as np
import pytest

from pullproof.channels import CHANNELS
from pullproof.units import UNITS, convert, parse_unit, repair_text


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("°C", "degC"),
        ("Â°C", "degC"),
        ("[Â°C]", "degC"),
        ("℃", "degC"),
        ("Deg F", "degF"),
        ("° F", "degF"),
        ("PSI", "psi"),
        ("psig", "psi gauge"),
        ("psia", "psi"),
        ("kPa (g)", "kPa gauge"),
        ("bar abs.", "bar"),
        ("mbar rel.", "mbar gauge"),
        ("mph", "mph"),
        ("Volts", "V"),
        ("U/min", "rpm"),
        ("tr/min", "rpm"),
        ("giri/min", "rpm"),
        ("obr/min", "rpm"),
        ("m_sec2", "m/s2"),
        ("m/s²", "m/s2"),
        ("N·m", "N m"),
        ("lbft", "lbf ft"),
        ("SECOND", "s"),
        ("g/sec", "g/s"),
        ("λ", "lambda"),
    ],
)
def test_spellings_found_in_logs_are_understood(text, name):
    """A unit is recognised however the logger spells, brackets or encodes it."""
    unit = parse_unit(text)
    assert unit is not None
    assert unit.name == name


@pytest.mark.parametrize("text", ["", "Gear Position", "O2 sensor", "unit", "kPa per minute", "deg gauge", "()"])
def test_other_text_is_no_unit(text):
    """Text that names no unit gives None, never a guess."""
    assert parse_unit(text) is None


def test_gauge_and_absolute_are_told_apart_by_what_is_written():
    """A stated reference is kept, and an unstated one stays unstated."""
    assert parse_unit("kPa gauge").reference == "gauge"
    assert parse_unit("kPa abs").reference == "absolute"
    assert parse_unit("kPa").reference == ""


def test_gauge_never_turns_into_absolute_without_the_ambient_pressure():
    """The conversion is refused rather than made with a pressure that nobody named."""
    gauge = UNITS["psi"].referred_to("gauge")
    with pytest.raises(ValueError, match="needs the ambient pressure"):
        convert(10.0, gauge, UNITS["kPa"])
    assert convert(0.0, gauge, UNITS["kPa"], ambient_kpa=95.0) == 95.0
    assert convert(95.0, UNITS["kPa"], gauge, ambient_kpa=95.0) == 0.0


def test_dimensions_do_not_mix():
    """Volts are not a mass flow, whatever the header says."""
    with pytest.raises(ValueError, match="voltage"):
        convert(1.0, UNITS["V"], UNITS["g/s"])
    with pytest.raises(ValueError, match="not a pressure"):
        UNITS["degC"].referred_to("gauge")


def test_arrays_keep_their_shape_and_blanks():
    """An array is converted value by value and a blank stays blank."""
    converted = convert(np.array([32.0, np.nan, 212.0]), UNITS["degF"], UNITS["degC"])
    np.testing.assert_allclose(converted, [0.0, np.nan, 100.0], atol=1e-12)


def test_every_channel_has_a_unit_of_this_table():
    """Each canonical channel is measured in a unit that can be converted, or is a plain number."""
    for channel in CHANNELS.values():
        assert channel.unit in UNITS


def test_text_encoded_twice_is_repaired_and_other_text_left_alone():
    """Only what is broken changes."""
    assert repair_text("Temp [Â°C]") == "Temp [°C]"
    assert repair_text("Öltemperatur") == "Öltemperatur"
    assert repair_text("Âge") == "Âge"
