"""The owner's word in the car sheet goes before everything that is found out."""

from pathlib import Path

import numpy as np
import pytest
from tests.reading.drive import AMBIENT, drive, log_of, table

from pullproof.car import Boost, Car, ColumnRule, Engine, load_car
from pullproof.errors import WrongUse

DRIVE = drive(60, 10)


def car(columns=None, **about):
    return Car("blue hatch", columns=columns or {}, **about)


def test_a_rule_names_channel_and_unit(read):
    """A column of any name is what the owner says, in the owner's unit."""
    log = read(
        table(["t", "Kanal 7", "Kanal 8"], [DRIVE["time"], DRIVE["engine_speed"], DRIVE["vehicle_speed"] / 1.609344]),
        car(
            {
                "t": ColumnRule("time", "s"),
                "Kanal 7": ColumnRule("engine_speed"),
                "Kanal 8": ColumnRule("vehicle_speed", "mph"),
            }
        ),
    )
    assert [column.channel for column in log.columns] == ["time", "engine_speed", "vehicle_speed"]
    np.testing.assert_allclose(log.traces["vehicle_speed"].values, DRIVE["vehicle_speed"], atol=2e-3)
    assert all(column.doubt is None for column in log.columns)
    assert log.columns[2].confidence == 1


def test_a_rule_beats_a_better_name(read):
    """Of two columns the owner's is taken, however well the other is called."""
    names = {"engine_speed": "Engine RPM (rpm)", "vehicle_speed": "Aux 1"}
    log = read(log_of(DRIVE, names), car({"Aux 1": ColumnRule("engine_speed", "rpm")}))
    assert [column.channel for column in log.columns] == ["time", None, "engine_speed"]


def test_ignored_columns_stay_as_they_are(read):
    """`ignore` keeps a column under its own header."""
    log = read(log_of(DRIVE, {"engine_speed": "RPM"}), car({"RPM": ColumnRule(None)}))
    assert log.columns[1].channel is None
    assert "RPM" in log.traces


@pytest.mark.parametrize("ambient", [True, False])
def test_gauge_by_the_owner(read, ambient):
    """`psi gauge` counts from the log's own ambient pressure, or from 101.325 kPa, and the reference is on record."""
    psi = (DRIVE["charge_pressure"] - AMBIENT) / 6.894757293168361
    headers, values = ["Time (s)", "P2"], [DRIVE["time"], psi]
    if ambient:
        headers, values = [*headers, "Baro (kPa)"], [*values, DRIVE["ambient_pressure"]]
    log = read(table(headers, values, digits=5), car({"P2": ColumnRule("charge_pressure", "psi gauge")}))
    reference = log.gauge_reference_kpa["charge_pressure"]
    assert reference == pytest.approx(AMBIENT if ambient else 101.325)
    boost = log.traces["charge_pressure"].values - reference
    np.testing.assert_allclose(boost, DRIVE["charge_pressure"] - AMBIENT, atol=1e-3)


def test_absolute_by_the_owner(read):
    """A plain unit from the owner is absolute pressure, whatever the values look like."""
    log = read(
        table(["Time (s)", "Boost (kPa)"], [DRIVE["time"], DRIVE["charge_pressure"] - AMBIENT + 5]),
        car({"Boost (kPa)": ColumnRule("charge_pressure", "kPa")}),
    )
    np.testing.assert_allclose(log.traces["charge_pressure"].values, DRIVE["charge_pressure"] - AMBIENT + 5, atol=1e-3)
    assert "charge_pressure" not in log.gauge_reference_kpa


def test_the_ratio_of_another_fuel(read):
    """`AFR 9.8` says what the logger multiplied lambda by."""
    log = read(
        table(["Time (s)", "AFR"], [DRIVE["time"], DRIVE["lambda"] * 9.8], digits=5),
        car({"AFR": ColumnRule("lambda", "AFR 9.8")}),
    )
    np.testing.assert_allclose(log.traces["lambda"].values, DRIVE["lambda"], atol=1e-4)


def test_a_fuel_that_is_not_petrol_makes_a_ratio_doubtful(read):
    """With E85 in the sheet nobody knows what a logger's air-fuel ratio is counted in."""
    text = table(["Time (s)", "AFR"], [DRIVE["time"], DRIVE["lambda"] * 14.7], digits=5)
    assert "e85" in read(text, car(engine=Engine(fuel="e85"))).columns[1].doubt
    assert read(text, car(engine=Engine(fuel="petrol"))).columns[1].doubt is None


@pytest.mark.parametrize(("closed", "turned"), [(100.0, False), (0.0, True)])
def test_the_sense_of_the_duty(read, closed, turned):
    """`wastegate_duty_closed = 0` turns the logged duty; 100 leaves it; neither is doubtful then."""
    log = read(log_of(DRIVE, {"wastegate_duty": "WGDC (%)"}), car(boost=Boost(closed)))
    expected = 100 - DRIVE["wastegate_duty"] if turned else DRIVE["wastegate_duty"]
    np.testing.assert_allclose(log.traces["wastegate_duty"].values, expected, atol=1e-3)
    assert log.columns[1].doubt is None


def test_headers_as_they_look_on_the_screen(read):
    """A header with a broken degree sign may be written with a sound one."""
    log = read(
        table(["Time (s)", "T4 [Â°C]"], [DRIVE["time"], DRIVE["oil_temperature"]]),
        car({"T4 [°C]": ColumnRule("oil_temperature", "degC")}),
    )
    assert log.columns[1].channel == "oil_temperature"


@pytest.mark.parametrize(
    ("rule", "says"),
    [
        (ColumnRule("boost_pressure"), 'channel "boost_pressure" does not exist'),
        (ColumnRule("engine_sped"), 'Did you mean "engine_speed"'),
        (ColumnRule("engine_speed", "furlongs"), 'unit "furlongs" is no unit of engine_speed'),
        (ColumnRule("engine_speed", "kPa"), 'unit "kPa" is no unit of engine_speed'),
        (ColumnRule("knock_retard_x"), "does not exist"),
    ],
)
def test_slips_in_the_sheet_are_wrong_use(read, rule, says):
    """A channel or unit that does not exist is the sheet's fault, and the sentence says where and what to write."""
    with pytest.raises(WrongUse) as wrong:
        read(log_of(DRIVE, {"engine_speed": "RPM"}), car({"RPM": rule}))
    assert says in str(wrong.value)
    assert 'columns."RPM"' in str(wrong.value)


def test_the_example_of_the_page(tmp_path):
    """The car sheet that docs/reading.md shows is one that loads."""
    page = (Path(__file__).parents[2] / "docs" / "reading.md").read_text(encoding="utf-8")
    sheet = tmp_path / "car.toml"
    sheet.write_text('name = "blue hatch"\n' + page.split("```toml\n")[1].split("```")[0], encoding="utf-8")
    rules = load_car(sheet).columns
    assert rules["Boost"] == ColumnRule("manifold_pressure", "psi gauge")
    assert rules["Aux 3"].channel is None


def test_the_whole_way_from_the_sheet(read, tmp_path):
    """The sentence that a doubt gives can be pasted into the car sheet, and settles it."""
    text = log_of(DRIVE, {"engine_speed": "RPM", "vehicle_speed": "Speed"})
    doubt = read(text).columns[2].doubt
    line = doubt[doubt.index('"Speed" =') : doubt.index(" (or what it is)")]
    sheet = tmp_path / "car.toml"
    sheet.write_text(f'name = "blue hatch"\n[columns]\n{line}\n')
    assert read(text, load_car(sheet)).columns[2].doubt is None


class TestSensorsBesideTheCompressor:
    """Added sensors go by what the owner says, above all how they count."""

    def test_a_named_column_becomes_the_channel(self, read):
        """A spare input is pressure behind the compressor; what it counts from ambient is made absolute."""
        columns = [DRIVE["time"], DRIVE["ambient_pressure"], (DRIVE["charge_pressure"] + 7.0 - AMBIENT) / 100.0]
        log = read(
            table(["Time (s)", "Baro (kPa)", "Input 1"], columns, digits=5),
            car({"Input 1": ColumnRule("compressor_outlet_pressure", "bar gauge")}),
        )
        found = log.traces["compressor_outlet_pressure"].values
        np.testing.assert_allclose(found, DRIVE["charge_pressure"] + 7.0, atol=1e-2)
        assert log.gauge_reference_kpa["compressor_outlet_pressure"] == pytest.approx(AMBIENT)

    def test_charge_pressure_keeps_its_own_column(self, read):
        """The sensor behind the compressor takes nothing from the one before the throttle."""
        columns = [DRIVE["time"], DRIVE["charge_pressure"], DRIVE["charge_pressure"] + 7.0]
        log = read(
            table(["Time (s)", "Charge Pressure (kPa)", "P1 (kPa)"], columns),
            car({"P1 (kPa)": ColumnRule("compressor_outlet_pressure", "kPa absolute")}),
        )
        assert [column.channel for column in log.columns[1:]] == ["charge_pressure", "compressor_outlet_pressure"]

    @pytest.mark.parametrize("unit", [None, "kPa", "psi", "degC"])
    def test_how_it_counts_must_be_said(self, read, unit):
        """Gauge taken for absolute is off by the whole barometer, and no header of a spare input tells."""
        with pytest.raises(WrongUse, match=r"from the air around or from vacuum.*kPa absolute"):
            read(
                table(["Time (s)", "Input 1"], [DRIVE["time"], DRIVE["charge_pressure"]]),
                car({"Input 1": ColumnRule("compressor_outlet_pressure", unit)}),
            )


class TestColumnsThatALogHasNot:
    """One sheet serves several loggers, so a column that is not there is no error; nor is it passed over in silence."""

    def test_a_note_names_them_and_what_there_is(self, read):
        """A slip of the pen shows beside the headers that exist."""
        log = read(log_of(DRIVE, {"engine_speed": "RPM"}), car({"RMP": ColumnRule("engine_speed", "rpm")}))
        note = next(note for note in log.notes if "[columns]" in note)
        assert '"RMP"' in note
        assert '"RPM"' in note

    def test_no_note_where_all_are_there(self, read):
        """Broken degree signs and the time column count as found."""
        columns = [DRIVE["time"], DRIVE["coolant_temperature"]]
        rules = {"t": ColumnRule("time", "s"), "Coolant [°C]": ColumnRule("coolant_temperature", "degC")}
        log = read(table(["t", "Coolant [Â°C]"], columns), car(rules))
        assert not [note for note in log.notes if "[columns]" in note]
