"""SAE J1979, service 01: descriptions and byte scalings of the vocabulary.

Witnesses: scapy's decoder of the same standard (`scapy.contrib.automotive.obd.pid`), and byte examples whose values
the standard's formulas give. Where the two are known to differ from the standard, it is said.
"""

from fractions import Fraction

import pytest
from scapy.contrib.automotive.obd.pid import pids_00_1F, pids_20_3F, pids_40_5F, pids_60_7F

from pullproof.reading import read_log
from pullproof.reading.vocabulary import vocabulary
from pullproof.units import parse_unit

MODULES = (pids_00_1F, pids_20_3F, pids_40_5F, pids_60_7F)
FIELDS = {
    ("70", 1): "commanded_boost_pressure_a",
    ("70", 3): "boost_pressure_sensor_a",
    ("75", 2): "turbocharger_a_compressor_outlet_temperature",
    ("77", 1): "bank1_sensor1",
    ("78", 1): "sensor1",
    ("66", 1): "sensor_a",
}
SKIPPED = {
    "10": "scapy 2.8 reads one byte of the air mass flow where the standard has two",
    "24": "scapy rounds 2/65536 to 3.05e-5",
    "34": "scapy rounds 2/65536 to 3.05e-5",
    "44": "scapy rounds 2/65536 to 3.05e-5",
}
PARAMETERS = vocabulary().parameters


def packet(pid):
    """Scapy's packet class of a PID."""
    name = f"OBD_PID{pid.upper()}"
    return next(getattr(module, name) for module in MODULES if hasattr(module, name))


def field_of(parameter, decoded):
    """Scapy's value of the quantity."""
    names = [field.name for field in decoded.fields_desc]
    wanted = FIELDS.get((parameter.pid, parameter.first))
    return decoded.getfieldval(wanted if wanted in names else names[0])


@pytest.mark.parametrize("parameter", PARAMETERS, ids=lambda entry: f"{entry.pid}+{entry.first}")
def test_scalings_agree_with_scapy(parameter):
    """The value of any byte pattern is what another decoder of the standard makes of it, which gives three digits."""
    if parameter.pid in SKIPPED:
        pytest.skip(SKIPPED[parameter.pid])
    for raw in (0, 1, 0x1A, 0x7F, 0xF8, 0x1AF8, 0x7FFF, 0xC123):
        if raw >= 256**parameter.length:
            continue
        data = bytearray(16)
        data[0] = 0xFF if parameter.first else 0
        data[parameter.first : parameter.first + parameter.length] = raw.to_bytes(parameter.length, "big")
        decoded = packet(parameter.pid)(bytes(data))
        assert parameter.physical(raw) == pytest.approx(float(field_of(parameter, decoded)), rel=1e-6, abs=6e-4)


@pytest.mark.parametrize(
    ("pid", "data", "value"),
    [
        # Worked from the formulas of the standard: (256 A + B)/4, A/2 - 64, (256 A + B)/100, 2 (256 A + B)/65536.
        ("0C", "1AF8", Fraction(0x1AF8, 4)),
        ("0E", "A0", Fraction(0xA0, 2) - 64),
        ("10", "5DC0", Fraction(240)),
        ("24", "6CCD", Fraction(2 * 0x6CCD, 65536)),
        ("44", "8000", Fraction(1)),
        ("04", "FF", Fraction(100)),
        ("0F", "00", Fraction(-40)),
        ("42", "3138", Fraction(12600, 1000)),
    ],
)
def test_byte_examples(pid, data, value):
    """Examples that can be reckoned by hand come out exactly."""
    parameter = next(entry for entry in PARAMETERS if entry.pid == pid and not entry.first)
    assert parameter.length == len(data) // 2
    assert parameter.physical(int(data, 16)) == pytest.approx(float(value), rel=1e-12)


def test_ends_of_the_ranges():
    """The largest values are those of the standard: one byte of manifold pressure ends at 255 kPa."""
    largest = {entry.pid: entry.largest for entry in PARAMETERS if not entry.first}
    assert largest["0B"] == 255
    assert largest["0C"] == 16_383.75
    assert largest["10"] == 655.35
    assert largest["23"] == 655_350
    assert largest["0E"] == 63.5


@pytest.mark.parametrize("parameter", PARAMETERS, ids=lambda entry: entry.description)
def test_descriptions_are_recognised(parameter, tmp_path):
    """A column that is called as the standard calls it is that channel."""
    path = tmp_path / "log.csv"
    low, high = vocabulary().channels[parameter.channel].usual
    usual = (low + 0.4 * (high - low) - parameter.offset) * parameter.denominator / parameter.numerator
    values = [parameter.physical(round(usual) + step) for step in (0, 1, 2, 3, 2, 1) * 20]
    header = f"{parameter.description} [{parameter.unit}]".replace(",", "")
    path.write_text(
        f"Time (s);{header}\n" + "".join(f"{row / 10};{value}\n" for row, value in enumerate(values)), encoding="utf-8"
    )
    assert parse_unit(parameter.unit) is not None
    assert read_log(path).columns[1].channel == parameter.channel
