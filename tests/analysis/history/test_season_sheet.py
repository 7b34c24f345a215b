import datetime
from pathlib import Path

import pytest

from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, build_at, join_spells
from pullproof.analysis.history.season_sheet import read_season_sheet
from pullproof.car import Car
from pullproof.errors import CannotRead, WrongUse

START = 'car = "car.toml"\nconditions = "conditions.toml"\n'


@pytest.fixture
def write(tmp_path: Path):
    (tmp_path / "car.toml").write_text('name = "blue hatch"\n')
    (tmp_path / "conditions.toml").write_text('[[log]]\nfile = "a.csv"\nwhen = 2026-07-01T10:00:00\n')

    def to(text: str) -> Path:
        path = tmp_path / "season.toml"
        path.write_text(text)
        return path

    return to


def test_a_sheet_gives_changes_days_and_the_logs_of_the_conditions(write) -> None:
    """Everything typed arrives; the logs are those of the conditions, beside them."""
    text = '[[change]]\nwhat = "pipe"\nfitted = 2026-07-05\nremoved = 2026-07-09\ncost = 90\ntemporary = true\n'
    text += '[[day]]\nlabel = "1 July"\ndate = 2026-07-01\nodometer_km = 84210\n'
    sheet = read_season_sheet(write(START + text))
    (change,), (day,) = sheet.changes, sheet.days
    assert (change.name, change.cost, change.temporary, change.removed.day) == ("pipe", 90.0, True, 9)
    assert (day.label, day.odometer_km) == ("1 July", 84210.0)
    assert [path.name for path in sheet.logs] == ["a.csv"]
    assert sheet.car.name == "blue hatch"


@pytest.mark.parametrize(
    ("text", "wanted"),
    [
        ("", 'no "car"'),
        ('car = "car.toml"\n', 'no "conditions"'),
        (START + "[[change]]\nfitted = 2026-07-05\n", 'no "what"'),
        (START + '[[change]]\nwhat = "x"\nfitted = 2026-07-05\nremoved = 2026-07-01\n', "removed before"),
        (START + '[[change]]\nwhat = "x"\ncosts = 3\n', "costs"),
        (START + "[[day]]\ndate = 2026-07-01\n", 'no "label"'),
        (START + '[[change]]\nwhat = "x"\ntemporary = "yes"\n', "true or false"),
    ],
)
def test_a_slip_is_named(write, text: str, wanted: str) -> None:
    """Each slip gets a sentence that names it."""
    with pytest.raises(WrongUse, match=r"season\.toml"):
        read_season_sheet(write(text))
    with pytest.raises(WrongUse) as error:
        read_season_sheet(write(text))
    assert wanted in str(error.value)


def test_a_missing_sheet_is_unreadable(tmp_path: Path) -> None:
    """A file that is not there is no wrong use."""
    with pytest.raises(CannotRead):
        read_season_sheet(tmp_path / "season.toml")


def test_a_build_is_what_was_fitted_and_not_yet_removed(tools) -> None:
    """From the moment of fitting on, until that of removal; without a date, always."""
    first, second = tools.Plan([[("", 1)]]).first("A"), tools.Plan([[("", 1)]], every=7.0).first("B")
    change = SeasonChange("A", first, removed=first.replace(hour=12))
    assert build_at([change], first) == {"A"}
    assert build_at([change], first.replace(hour=9)) == frozenset()
    assert build_at([change], first.replace(hour=12)) == frozenset()
    assert build_at([SeasonChange("Z")], second) == {"Z"}


def test_a_season_refuses_names_twice_and_names_unknown() -> None:
    """Two changes of one name, or a day nobody knows, would be taken for one another."""
    with pytest.raises(WrongUse, match="two changes"):
        Season(Car("x"), (SeasonChange("a"), SeasonChange("a")), (), ())
    with pytest.raises(WrongUse, match="two test days"):
        Season(Car("x"), (), (SeasonDay("d"), SeasonDay("d")), ())


def moment(day: int) -> datetime.datetime:
    return datetime.datetime.fromisoformat(f"2026-07-{day:02d}T12:00")


def test_a_part_taken_off_and_fitted_again_is_one_change() -> None:
    """Entries of one name, one after another, become one with two spells, and the season says so."""
    joined = join_spells(
        [
            SeasonChange("pipe", moment(12)),
            SeasonChange("valve", moment(3)),
            SeasonChange("pipe", moment(1), removed=moment(5), cost=90.0),
        ]
    )
    pipe, valve = joined.changes
    assert (pipe.name, pipe.fitted, pipe.removed, pipe.cost) == ("pipe", moment(1), moment(5), 90.0)
    assert joined.names == ("pipe", "valve", "pipe")
    assert "fitted 2 times" in joined.doubts[0]
    on = [build_at(joined.changes, moment(day)) for day in (2, 4, 8, 13)]
    assert on == [{"pipe"}, {"pipe", "valve"}, {"valve"}, {"pipe", "valve"}]
    assert valve.again == ()


def test_what_only_shares_a_name_stays_apart() -> None:
    """Spells that overlap are two things, and so are calibrations: their dates tell them apart."""
    overlapping = join_spells([SeasonChange("hose", moment(1)), SeasonChange("hose", moment(1))])
    assert overlapping.names == ("hose (2026-07-01)", "hose (2026-07-01, 2)")
    tunes = join_spells(
        [
            SeasonChange("map", moment(1), "calibration", removed=moment(4)),
            SeasonChange("map", moment(4), "calibration"),
        ]
    )
    assert tunes.names == ("map (2026-07-01)", "map (2026-07-04)")
    assert [change.name for change in tunes.changes] == list(tunes.names)
    assert tunes.doubts == ()
