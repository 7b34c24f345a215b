"""Any delimited text: whatever way an invented drive is written down, the same numbers come back."""

import codecs
import itertools

import numpy as np
import pytest
from tests.reading.drive import drive, log_of, table

from pullproof.car import Car
from pullproof.reading import read_log

NAMES = {
    "engine_speed": "Engine speed (rpm)",
    "vehicle_speed": "Vehicle speed (km/h)",
    "pedal_position": "Accelerator pedal (%)",
    "manifold_pressure": "Manifold pressure (kPa)",
    "coolant_temperature": "Coolant temperature (°C)",
}
DRIVE = drive(40, 10)


def same(log, names=NAMES, channels=DRIVE, tolerance=6e-4, count=None):
    """The traces are the drive: same instants, same values but for what was rounded away."""
    for name in names:
        trace = log.traces[name]
        np.testing.assert_allclose(trace.values, channels[name][:count], atol=tolerance, err_msg=name)
        np.testing.assert_allclose(trace.time, (channels["time"] - channels["time"][0])[:count], atol=tolerance)


@pytest.mark.parametrize(
    ("encoding", "called"),
    [
        ("utf-8", "utf-8"),
        ("utf-8-sig", "utf-8-sig"),
        ("utf-16", "utf-16-le"),
        ("utf-16-le", "utf-16-le"),
        ("utf-16-be", "utf-16-be"),
        ("latin-1", "latin-1"),
    ],
)
def test_encodings(read, encoding, called):
    """With and without byte order mark, two bytes a sign or one, the same log is read and the encoding named."""
    log = read(log_of(DRIVE, NAMES), encoding=encoding)
    assert log.encoding == called
    same(log)
    assert {column.header for column in log.columns} == {"Time (s)", *NAMES.values()}


@pytest.mark.parametrize("encoding", ["cp1250", "iso-8859-2"])
def test_central_european_headers(read, encoding):
    """Polish headers in an encoding of one byte a sign are read as they were written."""
    names = {"engine_speed": "Prędkość obrotowa silnika", "coolant_temperature": "Temperatura płynu chłodzącego (°C)"}
    log = read(log_of(DRIVE, names), encoding=encoding)
    assert log.encoding == encoding
    assert [column.header for column in log.columns[1:]] == list(names.values())
    same(log, names)


def test_big_endian_with_mark(read):
    """A byte order mark of the other kind is understood too."""
    log = read(codecs.BOM_UTF16_BE + log_of(DRIVE, NAMES).encode("utf-16-be"))
    assert log.encoding == "utf-16-be"
    same(log)


@pytest.mark.parametrize(
    ("delimiter", "decimal"), [(",", "."), (";", "."), (";", ","), ("\t", "."), ("\t", ","), ("|", "."), ("|", ",")]
)
@pytest.mark.parametrize("end", ["\n", "\r\n", "\r"], ids=["lf", "crlf", "cr"])
def test_delimiters_decimals_and_line_ends(read, delimiter, decimal, end):
    """Every usual pair of delimiter and decimal sign is found out, whatever ends a line."""
    log = read(log_of(DRIVE, NAMES, delimiter=delimiter, decimal=decimal, end=end))
    assert (log.delimiter, log.decimal) == (delimiter, decimal)
    same(log)


def test_columns_aligned_with_blanks(read):
    """Columns that are padded with blanks to equal width are cut at the blanks."""
    rows = [["Time", "RPM", "MAP_kPa"]]
    rows += [
        [f"{t:.2f}", f"{n:.1f}", f"{p:.1f}"]
        for t, n, p in zip(*(DRIVE[k] for k in ("time", "engine_speed", "manifold_pressure")), strict=True)
    ]
    log = read("\n".join("".join(cell.rjust(12) for cell in row) for row in rows) + "\n")
    same(log, ["engine_speed", "manifold_pressure"], tolerance=0.06)


@pytest.mark.parametrize("quoted", ["names", "all", "comma"])
def test_quotes(read, quoted):
    """Quotes around names or numbers change nothing, and protect a decimal comma in comma-delimited text."""
    text = log_of(DRIVE, NAMES)
    header, *rows = text.splitlines()
    quote = lambda line: ",".join(f'"{cell}"' for cell in line.split(","))  # noqa: E731
    if quoted == "names":
        text = "\n".join([quote(header), *rows])
    elif quoted == "all":
        text = "\n".join(map(quote, [header, *rows]))
    else:
        text = "\n".join([quote(header), *(quote(row).replace(".", ",") for row in rows)])
    log = read(text + "\n")
    assert log.decimal == ("," if quoted == "comma" else ".")
    same(log)


def test_a_stray_quote_spoils_one_cell_and_not_the_rest(read):
    """A quote without its partner must not swallow the lines after it."""
    lines = log_of(DRIVE, NAMES).splitlines()
    lines[50] = '"' + lines[50]
    log = read("\n".join(lines) + "\n")
    assert log.rows == DRIVE["time"].size
    same(log)


def test_preamble_above_the_table(read):
    """What a logger says of itself above the table is passed over, however long it is."""
    preamble = "Logger 3, firmware 1.2\nDate: 2026-10-03\nDriver:;Somebody\n\n" + "comment, of, several, parts\n" * 40
    same(read(preamble + log_of(DRIVE, NAMES)))


def test_header_marked_as_a_comment(read):
    """A sign of a comment before the names is no part of a name."""
    same(read("# " + log_of(DRIVE, NAMES)))


@pytest.mark.parametrize("brackets", [True, False])
def test_unit_row(read, brackets):
    """Units in a row of their own belong to the names above them."""
    header, rest = log_of(DRIVE, {name: name.replace("_", " ") for name in NAMES}).split("\n", 1)
    units = ["s", "rpm", "km/h", "%", "kPa", "°C"]
    row = ",".join(f"[{unit}]" if brackets else unit for unit in units)
    log = read(f"{header.replace('Time (s)', 'Time')}\n{row}\n{rest}")
    same(log)
    assert [column.unit for column in log.columns] == ["s", "rpm", "km/h", "%", "kPa", "degC"]


def test_units_may_differ_from_the_usual(read):
    """A unit row is believed: mph and Fahrenheit are converted."""
    header, _ = log_of(DRIVE, {name: name.replace("_", " ") for name in NAMES}).split("\n", 1)
    scale = [DRIVE["time"], DRIVE["engine_speed"], DRIVE["vehicle_speed"] / 1.609344, DRIVE["pedal_position"]]
    scale += [DRIVE["manifold_pressure"] * 10, DRIVE["coolant_temperature"] * 1.8 + 32]
    rest = table(["x"] * 6, scale).split("\n", 1)[1]
    same(read(f"{header}\ns,rpm,mph,%,hPa,°F\n{rest}"), tolerance=2e-3)


def test_header_repeated_after_a_restart(read):
    """A logger that restarts writes its header again and begins at zero: two stretches on one rising clock."""
    text = log_of(DRIVE, NAMES)
    log = read(text + text)
    assert log.rows == 2 * DRIVE["time"].size
    assert len(log.restarts) == 1
    assert any("header is repeated" in note for note in log.notes)
    trace = log.traces["engine_speed"]
    assert np.all(np.diff(trace.time) > 0)
    np.testing.assert_allclose(trace.values, np.tile(DRIVE["engine_speed"], 2), atol=6e-4)
    assert all(column.unreadable == 0 for column in log.columns)


def test_another_header_further_down_ends_the_log(read):
    """Columns of another recording must not be read under the names of the first."""
    other = log_of(DRIVE, {"coolant_temperature": "Coolant temperature", "gear": "Gear", "lambda": "Lambda"})
    log = read(log_of(DRIVE, NAMES) + other)
    same(log)
    assert any("header with other columns" in note for note in log.notes)


def test_trailing_delimiters(read):
    """A delimiter at the end of every line makes no column."""
    text = "".join(line + ",\n" for line in log_of(DRIVE, NAMES).splitlines())
    log = read(text)
    same(log)
    assert len(log.columns) == 1 + len(NAMES)


def test_duplicate_empty_and_constant_columns(read):
    """Names that come twice are told apart, columns without values hold no channel, constant ones are kept."""
    nothing = np.full_like(DRIVE["time"], np.nan)
    log = read(
        table(
            ["Time (s)", "RPM", "RPM", "Boost (psi)", "", "Switch"],
            [DRIVE["time"], DRIVE["engine_speed"], DRIVE["engine_speed"], nothing, nothing, nothing * 0 + 1],
        ).replace("nan", "1")
    )
    headers = [column.header for column in log.columns]
    assert headers == ["Time (s)", "RPM", "RPM (2)", "Boost (psi)", "column 5", "Switch"]
    channels = {column.header: column.channel for column in log.columns}
    assert channels["RPM"] == "engine_speed"
    assert channels["RPM (2)"] is channels["Boost (psi)"] is None
    assert "no values" in next(column.doubt for column in log.columns if column.header == "Boost (psi)")


@pytest.mark.parametrize("units", [True, False])
@pytest.mark.parametrize("quoted", [True, False])
def test_long_layout(read, units, quoted):
    """One row a sample, with or without a unit column: each channel keeps its own instants."""
    names = {
        "engine_speed": ("Engine RPM", "rpm"),
        "vehicle_speed": ("Vehicle speed", "km/h"),
        "coolant_temperature": ("Engine coolant temperature", "°C"),
    }
    rows = []
    for index, time in enumerate(DRIVE["time"]):
        for offset, (channel, (name, unit)) in enumerate(names.items()):
            if channel == "coolant_temperature" and index % 5:
                continue
            cells = [f"{time + 0.01 * offset:.3f}", name, f"{DRIVE[channel][index]:.3f}", unit]
            rows.append(cells if units else cells[:3])
    header = ["Seconds", "Name", "Value", "Unit"] if units else ["Seconds", "Name", "Value"]
    mark = '"' if quoted else ""
    log = read("\n".join(";".join(f"{mark}{cell}{mark}" for cell in row) for row in [header, *rows]) + "\n")
    assert log.rows == len(rows)
    np.testing.assert_allclose(log.traces["engine_speed"].values, DRIVE["engine_speed"], atol=6e-4)
    np.testing.assert_allclose(log.traces["vehicle_speed"].time, DRIVE["time"] + 0.01, atol=6e-4)
    np.testing.assert_allclose(log.traces["coolant_temperature"].values, DRIVE["coolant_temperature"][::5], atol=6e-4)
    rates = {column.channel: column.rate_hz for column in log.columns}
    assert rates["engine_speed"] == pytest.approx(10, rel=0.02)
    assert rates["coolant_temperature"] == pytest.approx(2, rel=0.02)


def test_a_text_column_does_not_make_a_log_long(read):
    """A wide log with a column of words stays wide."""
    lines = log_of(DRIVE, {"engine_speed": "RPM", "vehicle_speed": "Speed (km/h)"}).splitlines()
    lines = [lines[0] + ",Vehicle", *(line + ",blue hatch" for line in lines[1:])]
    log = read("\n".join(lines) + "\n")
    same(log, ["engine_speed", "vehicle_speed"])
    assert next(column.doubt for column in log.columns if column.header == "Vehicle") == "It holds text, not numbers."


def test_one_time_column_per_channel(read):
    """Channels that bring their own time columns keep their own instants, on one common clock."""
    slow = DRIVE["time"][::3] + 0.047
    rows = [
        [f"{t:.3f}", f"{n:.2f}", *next(second, ["", ""])]
        for second in [iter([[f"{t:.3f}", f"{v:.2f}"] for t, v in zip(slow, DRIVE["vehicle_speed"][::3], strict=True)])]
        for t, n in zip(DRIVE["time"] + 5.0, DRIVE["engine_speed"], strict=True)
    ]
    text = "Time;Engine speed [rpm];Time;Vehicle speed [km/h]\n" + "\n".join(map(";".join, rows)) + "\n"
    log = read(text.replace("\n0.047", "\n5.047"))
    speed, road = log.traces["engine_speed"], log.traces["vehicle_speed"]
    assert road.time[0] == 0
    np.testing.assert_allclose(road.time, slow - slow[0], atol=1e-3)
    np.testing.assert_allclose(speed.time, DRIVE["time"] + 5.0 - 0.047, atol=1e-3)
    np.testing.assert_allclose(speed.values, DRIVE["engine_speed"], atol=6e-3)


@pytest.mark.parametrize("blank", ["", "-", "NaN", "n/a", "null", " "])
def test_round_robin_with_blanks(read, blank):
    """What was not asked for is blank: the trace holds the samples, the rate is that of each channel."""
    names = ["engine_speed", "vehicle_speed", "pedal_position", "coolant_temperature"]
    lines = ["Time (s)," + ",".join(NAMES[name] for name in names)]
    for index, time in enumerate(DRIVE["time"]):
        cells = [
            f"{DRIVE[name][index]:.3f}" if index % len(names) == place else blank for place, name in enumerate(names)
        ]
        lines.append(f"{time:.2f}," + ",".join(cells))
    log = read("\n".join(lines) + "\n")
    for place, name in enumerate(names):
        trace = log.traces[name]
        asked = np.isfinite(trace.values)
        np.testing.assert_allclose(trace.values[asked], DRIVE[name][place :: len(names)], atol=6e-4)
        np.testing.assert_allclose(trace.time[asked], DRIVE["time"][place :: len(names)], atol=6e-4)
        column = next(column for column in log.columns if column.channel == name)
        assert column.rate_hz == pytest.approx(10 / len(names), rel=0.05)
        assert column.unreadable == 0


def test_mostly_blank_columns_keep_their_instants(read):
    """Columns that hold few samples keep those alone, also where rows without a time were left out."""
    lines = ["Time (s),RPM,Coolant temperature (°C)"]
    for index, time in enumerate(DRIVE["time"]):
        coolant = f"{DRIVE['coolant_temperature'][index]:.3f}" if index % 10 == 3 else ""
        lines.append(f"{'' if index % 20 == 13 else f'{time:.1f}'},{DRIVE['engine_speed'][index]:.3f},{coolant}")
    log = read("\n".join(lines) + "\n")
    trace = log.traces["coolant_temperature"]
    np.testing.assert_allclose(trace.time, DRIVE["time"][3::20], atol=1e-9)
    np.testing.assert_allclose(trace.values, DRIVE["coolant_temperature"][3::20], atol=6e-4)
    assert log.traces["engine_speed"].values.size == 380


def test_round_robin_that_holds(read):
    """What was not asked for is repeated: the rate is still that of each channel, not of the rows."""
    long = drive(200, 10)
    names = ["engine_speed", "vehicle_speed", "manifold_pressure", "lambda", "coolant_temperature"]
    held = [
        np.repeat(long[name][place :: len(names)], len(names))[: long["time"].size - place]
        for place, name in enumerate(names)
    ]
    size = min(map(len, held))
    log = read(table(["Time (s)", *names], [long["time"][:size], *(values[:size] for values in held)]))
    rates = {column.channel: column.rate_hz for column in log.columns if column.channel}
    assert rates.pop("time") == pytest.approx(10)
    for name, rate in rates.items():
        assert rate == pytest.approx(2, rel=0.05), name


def test_a_unit_glued_to_every_value(read):
    """Numbers with their unit behind them are numbers, and the unit is believed."""
    lines = ["Time;RPM;Speed;Boost;Temp Coolant"]
    for index, time in enumerate(DRIVE["time"]):
        psi = (DRIVE["manifold_pressure"][index] - 98.6) / 6.894757
        mph = DRIVE["vehicle_speed"][index] / 1.609344
        lines.append(
            f"{time:.1f};{DRIVE['engine_speed'][index]:.0f}RPM;{mph:.2f} mph;{psi:.3f}psi;"
            f"{DRIVE['coolant_temperature'][index]:.1f}C"
        )
    log = read("\n".join(lines).replace(".", ",") + "\n")
    same(log, ["engine_speed"], tolerance=0.51)
    same(log, ["vehicle_speed"], tolerance=0.01)
    gauge = log.traces["manifold_pressure"].values - log.gauge_reference_kpa["manifold_pressure"]
    np.testing.assert_allclose(gauge, DRIVE["manifold_pressure"] - 98.6, atol=0.01)
    assert {column.unit for column in log.columns} == {"s", "rpm", "mph", "psi gauge", "degC"}


def test_words_for_no_value_and_text_in_numbers_are_counted(read):
    """Cells that are no numbers are blanks in the trace, counted, and the first one is shown with its line."""
    lines = log_of(DRIVE, NAMES).splitlines()
    for row, word in ((20, "6.1.2"), (33, "Off"), (47, "n/a")):
        cells = lines[row].split(",")
        cells[1] = word
        lines[row] = ",".join(cells)
    log = read("\n".join(lines) + "\n")
    column = next(column for column in log.columns if column.channel == "engine_speed")
    assert column.unreadable == 2
    assert np.flatnonzero(np.isnan(log.traces["engine_speed"].values)).tolist() == [19, 32, 46]
    assert any('2 of 400 values are no numbers, the first is "6.1.2" in line 21' in note for note in log.notes)


def test_a_last_line_that_was_cut_is_left_out(read):
    """A power cut in the middle of a line leaves half a number, which must not become a value."""
    text = log_of(DRIVE, NAMES)
    lines = text.splitlines(keepends=True)
    log = read("".join(lines[:-1]) + lines[-1][:14])
    assert log.rows == DRIVE["time"].size - 1
    assert any("cut short" in note for note in log.notes)
    same(log, count=-1)


def test_zero_bytes_after_a_power_cut(read):
    """Blocks of zeros at the end are no rows."""
    log = read(log_of(DRIVE, NAMES).encode() + b"\0" * 5000)
    assert log.rows == DRIVE["time"].size
    same(log)


@pytest.mark.parametrize("gap", [1, 512, 40_000])
def test_zero_bytes_in_the_middle(read, gap):
    """A power cut tears a line apart: both halves are left out with a note, and all other rows are as they were."""
    text = log_of(DRIVE, NAMES).encode()
    lines = text.splitlines(keepends=True)
    head, torn = b"".join(lines[:200]), lines[200]
    log = read(head + torn[:9] + b"\0" * gap + torn[-9:] + b"".join(lines[201:]))
    assert log.rows == DRIVE["time"].size - 1
    assert any("1 line holds zero bytes" in note for note in log.notes)
    np.testing.assert_allclose(log.traces["engine_speed"].values, np.delete(DRIVE["engine_speed"], 199), atol=1e-3)


def test_zero_bytes_that_end_every_line(read):
    """A logger that ends its texts with a zero byte loses no row."""
    text = log_of(DRIVE, NAMES).replace("\n", f",{'remark ' * 40}\0\n")
    log = read(text.encode())
    assert log.rows == DRIVE["time"].size
    same(log)


def test_an_owner_may_name_the_decimal_sign(read):
    """`decimal` in the car sheet goes before what the cells suggest: 1,234 is not a thousand."""
    text = "Time;RPM;Speed (km/h)\n" + "".join(f"{i};{1000 + i};1,{i:03d}\n" for i in range(100, 200))
    assert read(text, Car("x", decimal=",")).traces["vehicle_speed"].values[0] == pytest.approx(1.1)


def test_many_columns_and_few_rows(read):
    """A thousand columns are read; each keeps its place."""
    count = 1000
    text = "Time (s)," + ",".join(f"Aux {i}" for i in range(count)) + "\n"
    text += "".join(f"{row}," + ",".join(str(i + row) for i in range(count)) + "\n" for row in range(20))
    log = read(text)
    assert len(log.columns) == count + 1
    assert log.traces["Aux 707"].values[3] == 710


def test_pieces_fit_together(tmp_path, monkeypatch):
    """A file that is parsed in many small pieces gives what it gives in one."""
    text = log_of(DRIVE, NAMES)
    for encoding, size in itertools.product(("utf-8", "utf-16", "latin-1"), (997, 4096)):
        path = tmp_path / "log.csv"
        path.write_bytes(text.encode(encoding))
        monkeypatch.setattr("pullproof.reading.text_table.PIECE", size)
        monkeypatch.setattr("pullproof.reading.text_file.HEAD", 600)
        same(read_log(path))
