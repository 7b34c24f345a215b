from pathlib import Path

import pytest

from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, build_at
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
