import datetime
from pathlib import Path

import pytest

from pullproof.conditions import Change, load_conditions
from pullproof.errors import WrongUse

CONTRACT_SHEET = """
[[log]]
file = "before-1.csv"              # base name
when = 2026-10-03T16:20:00
day = "saturday"
air_temperature_c = 11.0
air_pressure_kpa = 99.4            # at the place, not reduced to sea level
relative_humidity_pct = 55
direction = "out"                  # out or back on the same road
"""


def write(tmp_path: Path, text: str) -> Path:
    path = tmp_path / "conditions.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_contracts_own_sheet_loads(tmp_path: Path) -> None:
    """Every key that the contract shows is read with its value, and its origin is known."""
    entry = load_conditions(write(tmp_path, CONTRACT_SHEET)).of("before-1.csv")
    assert entry.when == datetime.datetime(2026, 10, 3, 16, 20)  # noqa: DTZ001  (the sheet gives local time)
    assert (entry.day, entry.direction) == ("saturday", "out")
    assert (entry.air.temperature_c, entry.air.pressure_kpa, entry.air.relative_humidity_pct) == (11.0, 99.4, 55.0)
    assert set(entry.air.origin.values()) == {"conditions file"}


@pytest.mark.parametrize("offset", ["Z", "+02:00", "-07:00"])
def test_the_clock_on_the_wall_counts(tmp_path: Path, offset: str) -> None:
    """A time with an offset is the time of day that was written, so that it can stand beside one without."""
    sheet = load_conditions(write(tmp_path, CONTRACT_SHEET.replace("16:20:00", f"16:20:00{offset}")))
    assert sheet.of("before-1.csv").when == datetime.datetime(2026, 10, 3, 16, 20)  # noqa: DTZ001


def test_a_log_that_is_not_described_has_empty_conditions(tmp_path: Path) -> None:
    """Nothing is made up for a log that the sheet does not name."""
    entry = load_conditions(write(tmp_path, CONTRACT_SHEET)).of("other.csv")
    assert (entry.day, entry.when, entry.air.temperature_c) == (None, None, None)


def test_changes_between_the_sets_are_read(tmp_path: Path) -> None:
    """A [[change]] entry says what was done to the car, and when."""
    sheet = load_conditions(write(tmp_path, '[[change]]\nwhat = "charge pipe 63.5 mm"\nwhen = 2026-10-04\n'))
    assert sheet.changes == (Change("charge pipe 63.5 mm", datetime.datetime(2026, 10, 4)),)  # noqa: DTZ001


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[log]]\nday = 'x'", ['no "file"']),
        ("[[log]]\nfile = 'a'\n[[log]]\nfile = 'a'", ["described twice"]),
        ("[[log]]\nfile = 'a'\nair_pressure_kpa = 994", ["994 kPa", "outside 50 to 110 kPa"]),
        ("[[log]]\nfile = 'a'\ndirection = 'north'", ["out, back"]),
        ("[[log]]\nfile = 'a'\nwhen = 'noon'", ["when", "2026-10-03T16:20:00"]),
        ("[[log]]\nfile = 'a'\nair_temp = 3", ["log[1].air_temp", "air_temperature_c"]),
        ("[log]\nfile = 'a'", ["list of tables", "[[log]]"]),
        ("[[change]]\nwhen = 2026-10-04", ['no "what"']),
        ("logs = 3", ['"logs" is not known', 'Did you mean "log"?']),
    ],
)
def test_a_slip_gets_one_sentence_with_key_and_advice(tmp_path: Path, text: str, words: list[str]) -> None:
    """A wrong sheet is refused as wrong use, and the sentence names the file, the key and what to write."""
    path = write(tmp_path, text)
    with pytest.raises(WrongUse) as caught:
        load_conditions(path)
    for word in [str(path), *words]:
        assert word in str(caught.value)


@pytest.mark.parametrize("written", ["befor-1.csv", "Before-1.CSV", "before-1", "before_1.csv"])
def test_a_misspelt_log_is_noticed(tmp_path: Path, written: str) -> None:
    """A log that the sheet does not describe is named with the entry that is most like it."""
    sheet = load_conditions(write(tmp_path, CONTRACT_SHEET.replace("before-1.csv", written)))
    (doubt,) = sheet.doubts_of(["before-1.csv"])
    assert '"before-1.csv"' in doubt
    assert f'the nearest entry is "{written}"' in doubt


def test_a_sheet_may_describe_more_logs_than_are_compared(tmp_path: Path) -> None:
    """One sheet serves a season: entries of other logs are no matter, nor is a sheet without entries."""
    sheet = load_conditions(write(tmp_path, CONTRACT_SHEET + '[[log]]\nfile = "other.csv"\n'))
    assert sheet.doubts_of(["before-1.csv"]) == ()
    assert load_conditions(write(tmp_path, "")).doubts_of(["before-1.csv"]) == ()
