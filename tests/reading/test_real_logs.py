"""Recordings by others: every channel that a file holds is found under its true unit, and no decoy is taken.

The expectations were written down by looking at the files (headers, first and last rows, ranges), channel by channel.
Values are held against polars and pint, which share no code with the reader.
"""

import numpy as np
import pint
import polars as pl
import pytest

from pullproof.errors import CannotRead
from pullproof.reading import read_log

PETROL_A = {
    "Boost (PSI)": ("manifold_pressure", "psi gauge"),
    "Feedback Knock (°)": ("knock_retard", "deg"),
    "Gear Position (Gear)": ("gear", "1"),
    "Ignition Timing (°)": ("ignition_timing", "deg"),
    "MAF (g/s)": ("air_mass_flow", "g/s"),
    "RPM (RPM)": ("engine_speed", "rpm"),
    "Target Boost (PSI)": ("charge_pressure_target", "psi gauge"),
    "Throttle Pos. (%)": ("throttle_position", "%"),
    "Wastegate Duty (%)": ("wastegate_duty", "%"),
    "Time (sec)": ("time", "s"),
}
PETROL_B = {
    **{header: found for header, found in PETROL_A.items() if not header.startswith("Gear")},
    "AF Sens 1 Ratio (AFR)": ("lambda", "AFR"),
    "Accel. Position (%)": ("pedal_position", "%"),
    "Coolant Temp (° F)": ("coolant_temperature", "degF"),
    "Inj. Duty Cycle (%)": ("injector_duty", "%"),
    "Intake Temp (° F)": ("intake_air_temperature", "degF"),
}
ROUND_ROBIN = {
    "Time": ("time", "hh:mm:ss"),
    "Engine Coolant Temperature": ("coolant_temperature", "degC"),
    "Intake Manifold Absolute Pressure": ("manifold_pressure", "kPa"),
    "Engine RPM": ("engine_speed", "rpm"),
    "Vehicle Speed Sensor": ("vehicle_speed", "km/h"),
    "Intake Air Temperature": ("intake_air_temperature", "degC"),
    "Air Flow Rate from Mass Flow Sensor": ("air_mass_flow", "g/s"),
    "Absolute Throttle Position": ("throttle_position", "%"),
    "Ambient Air Temperature": ("ambient_temperature", "degC"),
    "Accelerator Pedal Position D": ("pedal_position", "%"),
}
LONG_SHORT_LIST = {
    "SECONDS": ("time", "s"),
    "Absolute pedal position D": ("pedal_position", "%"),
    "Engine RPM": ("engine_speed", "rpm"),
    "Vehicle speed": ("vehicle_speed", "km/h"),
    "Vehicle acceleration": ("longitudinal_acceleration", "m/s2"),
}
LONG_FULL_LIST = {
    **LONG_SHORT_LIST,
    "Calculated engine load value": ("engine_load", "%"),
    "Intake manifold absolute pressure": ("manifold_pressure", "kPa"),
    "Barometric pressure": ("ambient_pressure", "kPa"),
    "Engine coolant temperature": ("coolant_temperature", "degC"),
    "Intake air temperature": ("intake_air_temperature", "degC"),
    "MAF air flow rate": ("air_mass_flow", "g/s"),
    "Throttle position": ("throttle_position", "%"),
    "Control module voltage": ("battery_voltage", "V"),
    "Ambient air temperature": ("ambient_temperature", "degC"),
    "Fuel rail pressure (absolute)": ("fuel_rail_pressure", "kPa"),
}
TRUCK = {
    "Elapsed Time (SECOND)": ("time", "hh:mm:ss"),
    "Engine Load Factor(%": ("engine_load", "%"),
    "Engine Speed(rpm)": ("engine_speed", "rpm"),
    "Intake Manifold Air Temperature(Deg F)": ("intake_air_temperature", "degF"),
    "Intake Manifold Pressure(psi)": ("manifold_pressure", "psi gauge"),
    "Left Exhaust Temperature(Deg F)": ("exhaust_gas_temperature", "degF"),
    "Throttle Position(%)": ("throttle_position", "%"),
    "Ambient Air Temperature(Deg F)": ("ambient_temperature", "degF"),
    "Engine Coolant Temperature(Deg F)": ("coolant_temperature", "degF"),
    "Battery Voltage(Volts)": ("battery_voltage", "V"),
    "Ground Speed(mph)": ("vehicle_speed", "mph"),
}
UNIT_ROW = {
    "Time": ("time", "s"),
    "RPM": ("engine_speed", "rpm"),
    "MAP": ("manifold_pressure", "kPa"),
    "TPS": ("throttle_position", "%"),
    "Lambda": ("lambda", "lambda"),
    "IAT": ("intake_air_temperature", "degC"),
    "CLT": ("coolant_temperature", "degC"),
    "Lambda Target": ("lambda_target", "lambda"),
    "Duty Cycle": ("injector_duty", "%"),
    "Advance _Current": ("ignition_timing", "deg"),
    "Battery V": ("battery_voltage", "V"),
    "Baro Pressure": ("ambient_pressure", "kPa"),
    "Vehicle Speed": ("vehicle_speed", "mph"),
}
GLUED = {
    "ENGINE_RUNTIME": ("time", "hh:mm:ss"),
    "ALTITUDE": ("altitude", "m"),
    "BAROMETRIC_PRESSURE": ("ambient_pressure", "kPa"),
    "ENGINE_COOLANT_TEMP": ("coolant_temperature", "degC"),
    "ENGINE_LOAD": ("engine_load", "%"),
    "AMBIENT_AIR_TEMP": ("ambient_temperature", "degC"),
    "ENGINE_RPM": ("engine_speed", "rpm"),
    "INTAKE_MANIFOLD_PRESSURE": ("manifold_pressure", "kPa"),
    "MAF": ("air_mass_flow", "g/s"),
    "AIR_INTAKE_TEMP": ("intake_air_temperature", "degC"),
    "SPEED": ("vehicle_speed", "km/h"),
    "THROTTLE_POS": ("throttle_position", "%"),
    "TIMING_ADVANCE": ("ignition_timing", "%"),
}
ONE_HERTZ = {
    "Time": ("time", "hh:mm:ss"),
    "RPM": ("engine_speed", "rpm"),
    "Speed": ("vehicle_speed", "km/h"),
    "Throttle": ("throttle_position", "%"),
    "Load %": ("engine_load", "%"),
    # 0.39 g a turn in kg/s; rpm times this column over absolute temperature is proportional to "Air Intake".
    "MAF": ("air_mass_flow", "kg/s"),
    "Intake Temperature": ("intake_air_temperature", "degC"),
    # 94 with the engine off, 36 at idle: the manifold in kPa, whatever it is called.
    "Air Intake": ("manifold_pressure", "kPa"),
}
SPEED_ONLY = {
    "timestamp": ("time", "date and time"),
    "speed_mph": ("vehicle_speed", "mph"),
    # From 0 to 4.48 mph in a second it reads 4.48.
    "accel_meters_ps": ("longitudinal_acceleration", "mph/s"),
}
THREE_ROWS = {
    "Time": ("time", "hh:mm:ss"),
    "Time (2)": ("time", "hh:mm:ss"),
    "0D - Vehicle Speed": ("vehicle_speed", "km/h"),
    "49 - Accelerator Pedal Position D": ("pedal_position", "%"),
}
EXPECTED = {
    **{
        f"turbo-petrol-a/{name}.csv": {**PETROL_A, "A/F Sens 1 Ratio (AFR)": ("lambda", "AFR")}
        for name in (201607211200, 201607220800)
    },
    **{
        f"turbo-petrol-a/{name}.csv": {**PETROL_A, "AF Sens 1 Ratio (AFR)": ("lambda", "AFR")}
        for name in (201607250900, 201607251200, 201607251500, 201607270830, 201608030800)
    },
    "turbo-petrol-b/201704061900.csv": PETROL_B,
    "turbo-petrol-b/201704070800.csv": PETROL_B,
    **{
        f"diesel-round-robin/{name}.csv": {
            f"{header} [{unit}]" if unit else header: found
            for (header, found), unit in zip(
                ROUND_ROBIN.items(),
                ["", degree, "kPa", "RPM", "km/h", degree, "g/s", "%", degree, "%"],
                strict=True,
            )
        }
        for name, degree in (("2017-07-13", "Â°C"), ("2017-08-07", "Â°C"), ("2018-02-26", "°C"))
    },
    "diesel-long-format/2019-02-19_19-10-45.csv": LONG_SHORT_LIST,
    "diesel-long-format/2019-02-22_08-03-05.csv": LONG_FULL_LIST,
    "diesel-long-format/2019-03-05_22-17-15.csv": LONG_FULL_LIST,
    "diesel-long-format/2019-03-06_16-46-53.csv": {"SECONDS": ("time", "s")},
    "diesel-long-format/2019-03-06_19-32-34.csv": LONG_FULL_LIST,
    "heavy-truck/2015-04-12.csv": TRUCK,
    "unit-row/2025-12-08_17.22.53.csv": UNIT_ROW,
    "unit-row/2026-02-28_18.10.43.csv": UNIT_ROW,
    "glued-units/stacked.csv": GLUED,
    "one-hertz/drive.csv": ONE_HERTZ,
    "speed-only/2007-05-31.csv": SPEED_ONLY,
    "three-header-rows/pedal-speed.csv": THREE_ROWS,
    "mdf4-raw-bus/truck_raw_can.MF4": {
        "EngineSpeed": ("engine_speed", "rpm"),
        "WheelBasedVehicleSpeed": ("vehicle_speed", "km/h"),
    },
    "not-an-engine-log/DRX.txt": {"Time": ("time", "date and time")},
    "not-an-engine-log/Flowrate.txt": {"Date Time": ("time", "date and time")},
}


@pytest.fixture(scope="module")
def logs(shared_logs):
    """Each file read once."""
    known = {}

    def log(name):
        if name not in known:
            known[name] = read_log(shared_logs / name)
        return known[name]

    return log


@pytest.mark.parametrize("name", EXPECTED)
def test_exactly_the_channels_that_a_file_holds_are_recognised(logs, name):
    """Every channel of the contract in a real file is found with its true unit, and no other column is taken."""
    found = {column.header: (column.channel, column.unit) for column in logs(name).columns if column.channel}
    assert found == EXPECTED[name]


SETTLED = {
    "turbo-petrol-a/201607211200.csv": set(),
    "turbo-petrol-b/201704061900.csv": set(),
    "diesel-round-robin/2017-07-13.csv": set(),
    "diesel-long-format/2019-02-19_19-10-45.csv": set(),
    "heavy-truck/2015-04-12.csv": set(),
    "three-header-rows/pedal-speed.csv": set(),
    # Temperatures without a unit, a road speed that stands at zero.
    "unit-row/2026-02-28_18.10.43.csv": {"IAT", "CLT", "Vehicle Speed"},
    # No units at all.
    "one-hertz/drive.csv": {"Speed", "MAF", "Intake Temperature", "Air Intake"},
    # No unit; per cent of a byte.
    "glued-units/stacked.csv": {"ALTITUDE", "TIMING_ADVANCE"},
    # The name of the unit is wrong.
    "speed-only/2007-05-31.csv": {"accel_meters_ps"},
}


@pytest.mark.parametrize("name", SETTLED)
def test_what_is_doubtful_is_marked_and_nothing_else(logs, name):
    """A recognised column is doubtful exactly where the file leaves its meaning, unit or reference open."""
    doubtful = {column.header for column in logs(name).columns if column.channel and column.doubt}
    assert doubtful == SETTLED[name]


@pytest.mark.parametrize(
    ("name", "rate"),
    [
        ("turbo-petrol-a/201607211200.csv", 14),
        ("turbo-petrol-b/201704070800.csv", 10),
        ("heavy-truck/2015-04-12.csv", 1),
    ],
)
def test_rates_of_loggers_that_write_whole_rows(logs, name, rate):
    """A logger that refreshes all channels at once has the rate of its rows."""
    log = logs(name)
    for column in log.columns:
        if column.channel:
            assert column.rate_hz == pytest.approx(rate, abs=0.6), column.header


def test_a_logger_that_asks_one_channel_after_another_is_seen_through(logs):
    """Rows come every 0.09 s, each channel is asked about once a second: the held rows are no samples."""
    log = logs("diesel-round-robin/2017-07-13.csv")
    for column in log.columns:
        if column.channel not in (None, "time"):
            assert column.rate_hz == pytest.approx(1.1, abs=0.1), column.header


def test_every_frame_of_a_bus_is_a_sample(logs):
    """Engine speed on the bus comes every 10 ms and lies between 646 and 654 rpm."""
    log = logs("mdf4-raw-bus/truck_raw_can.MF4")
    speed = log.traces["engine_speed"]
    assert next(c.rate_hz for c in log.columns if c.channel == "engine_speed") == pytest.approx(100, rel=0.02)
    assert 646 <= speed.values.min() <= speed.values.max() <= 654


def test_frames_without_their_database_are_refused(shared_logs):
    """Raw frames that the database beside them does not describe say that a database is needed."""
    with pytest.raises(CannotRead, match=r"raw bus frames.*\.dbc"):
        read_log(shared_logs / "mdf4-raw-bus" / "raw_can_responses.MF4")


@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("no-time/speed-rpm-load.csv", "no time column"),
        (
            "one-file-per-channel/12-06-18_21-24-05_rpm_measure_converted.txt",
            "One file per channel cannot be read alone",
        ),
        (
            "one-file-per-channel/12-06-18_21-24-05_speed_measure_converted.txt",
            "One file per channel cannot be read alone",
        ),
        ("one-file-per-channel/12-06-18_21-24-05_time_of_response.txt", "no time column"),
    ],
)
def test_files_that_cannot_be_a_log_say_why(shared_logs, name, says):
    """What holds no time is refused in one sentence that says what is missing."""
    with pytest.raises(CannotRead) as refused:
        read_log(shared_logs / name)
    assert says in str(refused.value)
    assert "\n" not in str(refused.value)


def test_values_are_those_of_the_file_in_canonical_units(logs, shared_logs):
    """Numbers agree with polars' own reading and pint's conversion, gauge pressure counted from 101.325 kPa."""
    name = "turbo-petrol-b/201704061900.csv"
    raw = pl.read_csv(shared_logs / name, encoding="latin-1", infer_schema_length=None)
    unit = pint.UnitRegistry(autoconvert_offset_to_baseunit=True).Quantity
    log = logs(name)
    boost = unit(raw["Boost (PSI)"].to_numpy(), "psi").to("kPa").magnitude
    np.testing.assert_allclose(log.traces["manifold_pressure"].values, boost + 101.325, rtol=1e-9)
    assert log.gauge_reference_kpa["manifold_pressure"] == 101.325
    coolant = unit(raw["Coolant Temp (° F)"].to_numpy().astype(float), "degF").to("degC").magnitude
    np.testing.assert_allclose(log.traces["coolant_temperature"].values, coolant, rtol=1e-9)
    np.testing.assert_allclose(log.traces["engine_speed"].values, raw["RPM (RPM)"].to_numpy())
    np.testing.assert_allclose(log.traces["knock_retard"].values, -raw["Feedback Knock (°)"].to_numpy())
    np.testing.assert_allclose(log.traces["engine_speed"].time, raw["Time (sec)"].to_numpy())
    np.testing.assert_allclose(log.traces["lambda"].values, raw["AF Sens 1 Ratio (AFR)"].to_numpy() / 14.7)


def test_boost_above_ambient_survives_whatever_the_air_was(logs, shared_logs):
    """Trace less the recorded reference is the gauge pressure of the file, measured and target alike."""
    name = "turbo-petrol-a/201607251200.csv"
    raw = pl.read_csv(shared_logs / name, encoding="latin-1", infer_schema_length=None)
    log = logs(name)
    for channel, header in (("manifold_pressure", "Boost (PSI)"), ("charge_pressure_target", "Target Boost (PSI)")):
        gauge = log.traces[channel].values - log.gauge_reference_kpa[channel]
        np.testing.assert_allclose(gauge, raw[header].to_numpy() * 6.894757293168361, atol=1e-9)


def test_a_log_of_nothing_real_is_called_implausible(logs):
    """The file in which one random byte drives all channels says so in its notes."""
    notes = " ".join(logs("diesel-long-format/2019-02-22_08-03-05.csv").notes)
    assert "implausible" in notes
    for name in ("2019-02-19_19-10-45", "2019-03-05_22-17-15", "2019-03-06_19-32-34"):
        assert "implausible" not in " ".join(logs(f"diesel-long-format/{name}.csv").notes)


def test_a_log_without_engine_speed_reads_and_says_so(logs):
    """Twelve rows without engine speed are a log all the same; the note names what is missing."""
    log = logs("diesel-long-format/2019-03-06_16-46-53.csv")
    assert log.rows == 12
    assert any("engine speed" in note for note in log.notes)


def test_clocks_that_restart_go_on_rising(logs):
    """Appended recordings make one clock; where the time column is destroyed, the run time of the engine serves."""
    assert len(logs("unit-row/2025-12-08_17.22.53.csv").restarts) == 1
    assert logs("unit-row/2026-02-28_18.10.43.csv").restarts == ()
    stacked = logs("glued-units/stacked.csv")
    # Counted by hand: 18 falls of the run time from car to car or within one, and one row of a car before its zero.
    assert len(stacked.restarts) == 19
    for trace in stacked.traces.values():
        assert np.all(np.diff(trace.time) >= 0)


def test_elapsed_clock_times_with_am_and_pm(logs):
    """From 12:41:58 PM to 5:22:10 PM are 16 812 s."""
    assert logs("heavy-truck/2015-04-12.csv").duration_s == 16_812


def test_time_columns_of_their_own_keep_their_instants(logs):
    """Speed was sampled first at 10:30:21.072 and the pedal 47 ms later."""
    log = logs("three-header-rows/pedal-speed.csv")
    assert log.traces["vehicle_speed"].time[0] == 0
    assert log.traces["pedal_position"].time[0] == pytest.approx(0.047, abs=1e-6)
    assert log.decimal == ","
