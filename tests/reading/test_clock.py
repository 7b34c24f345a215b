"""The clock of a log: whatever way time is written, seconds that never decrease come out."""

import datetime

import numpy as np
import pytest
from tests.reading.drive import drive

from pullproof.errors import CannotRead

DRIVE = drive(40, 10)
RPM = DRIVE["engine_speed"]
START = datetime.datetime(2026, 10, 3, 16, 20, 5, tzinfo=datetime.UTC)


def text(header: str, times, more: str = "") -> str:
    """A log whose times are written down as given."""
    lines = [f"{header};RPM{more}"]
    lines += [f"{time};{value:.1f}" for time, value in zip(times, RPM, strict=False)]
    return "\n".join(lines) + "\n"


def moments():
    return [START + datetime.timedelta(seconds=float(second)) for second in DRIVE["time"]]


def clock(moment: datetime.datetime, form: str) -> str:
    """A moment in the way a logger writes it; `%f` is milliseconds here."""
    return moment.strftime(form.replace("%f", f"{moment.microsecond // 1000:03d}"))


@pytest.mark.parametrize(
    ("header", "unit", "write"),
    [
        ("Time (s)", "s", lambda t, _: f"{t:.3f}"),
        ("Time", "s", lambda t, _: f"{t:.1f}"),
        ("Seconds", "s", lambda t, _: f"{1000 + t:.3f}"),
        ("Time (ms)", "ms", lambda t, _: f"{1000 * t:.0f}"),
        ("time_ms", "ms", lambda t, _: f"{1000 * t + 5e6:.0f}"),
        ("Time [us]", "us", lambda t, _: f"{1e6 * t:.0f}"),
        ("Time (min)", "min", lambda t, _: f"{t / 60:.6f}"),
        ("t (ms)", "ms", lambda t, _: f"{1000 * t:.0f}"),
        ("t [s]", "s", lambda t, _: f"{t:.3f}"),
        ("Tijd (s)", "s", lambda t, _: f"{t:.3f}"),
        ("Tid (ms)", "ms", lambda t, _: f"{1000 * t:.0f}"),
        ("Zeit", "hh:mm:ss", lambda _, m: clock(m, "%H:%M:%S.%f")),
        ("Temps", "hh:mm:ss", lambda _, m: clock(m, "%H:%M:%S,%f")),
        ("Hora", "hh:mm:ss", lambda _, m: clock(m, "%H:%M:%S:%f")),
        ("Czas", "hh:mm:ss", lambda _, m: clock(m, "%I:%M:%S.%f %p")),
        ("Time", "hh:mm:ss", lambda t, _: f"{int(t // 60)}:{t % 60:06.3f}"),
        ("Timestamp", "date and time", lambda _, m: clock(m, "%Y-%m-%dT%H:%M:%S.%fZ")),
        ("Timestamp", "date and time", lambda _, m: clock(m, "%Y-%m-%d %H:%M:%S.%f+02:00")),
        ("Tempo", "date and time", lambda _, m: clock(m, "%d.%m.%Y %H:%M:%S.%f")),
        ("Date Time", "date and time", lambda _, m: clock(m, "%m/%d/%Y %I:%M:%S.%f %p")),
        ("Device Time", "date and time", lambda _, m: clock(m, "%d-%b-%Y %H:%M:%S.%f")),
        ("Time", "s since 1970", lambda _, m: f"{m.timestamp():.3f}"),
        ("timestamp", "ms since 1970", lambda _, m: f"{1000 * m.timestamp():.0f}"),
        ("timestamp", "us since 1970", lambda _, m: f"{1e6 * m.timestamp():.0f}"),
    ],
)
def test_ways_to_write_a_time(read, header, unit, write):
    """Each way of writing the same instants gives the same clock, and is named."""
    log = read(text(header, [write(t, m) for t, m in zip(DRIVE["time"], moments(), strict=True)]))
    assert (log.columns[0].channel, log.columns[0].unit) == ("time", unit)
    assert log.columns[0].doubt is None
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-3)
    assert log.duration_s == pytest.approx(39.9, abs=1e-3)


def test_a_capital_letter_is_no_clock(read):
    """T is the symbol of temperature: a log with nothing else for a time is refused."""
    with pytest.raises(CannotRead, match="no time column"):
        read(text("T", [f"{1000 * t:.0f}" for t in DRIVE["time"]]))


def test_bare_milliseconds_are_doubtful(read):
    """Whole steps of 100 without a unit are milliseconds, because nobody logs a car every 100 s; that is doubtful."""
    log = read(text("Time", [f"{1000 * t:.0f}" for t in DRIVE["time"]]))
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-6)
    assert "taken as ms" in log.columns[0].doubt


def test_days_of_a_spreadsheet_are_doubtful(read):
    """Fractions of a day, as a spreadsheet keeps times, are turned into seconds."""
    log = read(text("Time", [f"{0.68 + t / 86_400:.10f}" for t in DRIVE["time"]]))
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-3)
    assert log.columns[0].doubt


def test_over_midnight(read):
    """A time of day goes on rising over midnight: that is no restart."""
    late = datetime.datetime(2026, 10, 3, 23, 59, 50, tzinfo=datetime.UTC)
    times = [clock(late + datetime.timedelta(seconds=float(t)), "%H:%M:%S.%f") for t in DRIVE["time"]]
    log = read(text("Time", times))
    assert log.restarts == ()
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-3)


def test_hours_with_one_digit_and_two(read):
    """9:59:59 and 10:00:00 differ in length and are still one second apart."""
    nearly = datetime.datetime(2026, 10, 3, 9, 59, 50, tzinfo=datetime.UTC)
    moments_ = [nearly + datetime.timedelta(seconds=float(t)) for t in DRIVE["time"]]
    log = read(text("Time", [f"{m.hour}:{m:%M:%S}.{m.microsecond // 1000:03d}" for m in moments_]))
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-3)


def test_date_and_time_in_two_columns(read):
    """With the date in a column of its own, the column that moves on is the clock."""
    lines = ["Date;Time;RPM"]
    lines += [f"{m:%Y-%m-%d};{clock(m, '%H:%M:%S.%f')};{value:.1f}" for m, value in zip(moments(), RPM, strict=True)]
    log = read("\n".join(lines) + "\n")
    assert {column.header: column.channel for column in log.columns}["Time"] == "time"
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-3)


def test_a_destroyed_time_column_loses(read):
    """Where a spreadsheet has rounded the time away, another column that tells the time serves."""
    lines = ["Time;Run time;RPM"]
    lines += [
        f"1.51336E+12;{index // 3600:02d}:{index // 60 % 60:02d}:{index % 60:02d};{value:.1f}"
        for index, value in enumerate(RPM)
    ]
    log = read("\n".join(lines) + "\n")
    assert {column.header: column.channel for column in log.columns}["Run time"] == "time"
    np.testing.assert_allclose(log.traces["engine_speed"].time, np.arange(RPM.size))


@pytest.mark.parametrize(
    "line",
    [
        "Sample rate: 10 Hz",
        "Sampling interval = 100 ms",
        "Log rate;10 Hz",
        "Recording frequency 10Hz",
        "Abtastrate: 10 Hz",
    ],
)
def test_a_rate_above_the_table_makes_a_clock(read, line):
    """Without a time column a stated sampling rate gives the time, and a note says so."""
    log = read(
        f"{line}\n\nRPM;Speed (km/h)\n"
        + "".join(f"{n:.1f};{v:.1f}\n" for n, v in zip(RPM, DRIVE["vehicle_speed"], strict=True))
    )
    np.testing.assert_allclose(log.traces["engine_speed"].time, DRIVE["time"], atol=1e-9)
    assert any("There is no time column" in note for note in log.notes)


def test_no_time_and_no_rate(read):
    """Without either, the log is refused with what to do."""
    with pytest.raises(CannotRead, match="no time column"):
        read("RPM;Speed (km/h)\n" + "1000;20\n" * 50)


def test_restarts_keep_the_clock_rising(read):
    """Three recordings in one file: two restarts, each one step after the last row before it."""
    log = read(text("Time", [f"{t:.1f}" for t in DRIVE["time"][:100]] * 3))
    time = log.traces["engine_speed"].time
    np.testing.assert_allclose(np.diff(time), 0.1, atol=1e-9)
    assert log.restarts == pytest.approx((10.0, 20.0))


def test_rows_without_a_time_are_left_out(read):
    """A row whose time cannot be read is no row."""
    times = [f"{t:.1f}" for t in DRIVE["time"]]
    times[7], times[90] = "", "x"
    log = read(text("Time", times))
    assert log.traces["engine_speed"].time.size == RPM.size - 2
    assert any("2 of 400 rows" in note for note in log.notes)


def test_coarse_clocks_are_told(read):
    """Many rows of one time stamp are a clock that is coarser than the log."""
    log = read(text("Time", [f"16:20:{int(t):02d}" for t in DRIVE["time"]]))
    assert any("coarser than the log" in note for note in log.notes)
    assert log.columns[0].rate_hz == pytest.approx(10, rel=0.05)
