"""Morning and afternoon of one date, where nobody wrote down what the air did between them."""

import datetime

import pytest

from pullproof.analysis.comparison.outings import part_outings
from pullproof.conditions import Air, Conditions, ConditionsSheet

UNKNOWN = Air()


def at(hour, minute=0):
    return datetime.datetime(2016, 7, 25, hour, minute)  # noqa: DTZ001  (sheets hold local time)


def sheet_of(**hours):
    logs = {f"{name}.csv": Conditions(f"{name}.csv", when=when) for name, when in hours.items()}
    return ConditionsSheet(logs)


def days(records):
    return [record.day for record in records]


@pytest.fixture
def two(pull):
    """One pull in each of two logs of one date, the air unknown."""
    return [pull(f"{name}.csv", "2016-07-25", air=UNKNOWN) for name in ("a", "b")]


def test_morning_and_afternoon_without_weather_count_as_two_days(two):
    """Six hours apart and no temperature: nothing ties the two outings together."""
    assert days(part_outings(two, sheet_of(a=at(9), b=at(15)))) == ["2016-07-25 09:00", "2016-07-25 15:00"]


def test_logs_in_a_row_stay_one_outing(two):
    """An hour between two logs is one outing, in whatever order they are given."""
    for records in (two, two[::-1]):
        assert set(days(part_outings(records, sheet_of(a=at(9), b=at(10))))) == {"2016-07-25"}


def test_a_chain_of_logs_is_one_outing_however_long_it_is(pull):
    """The break between two logs counts, not the length of the whole."""
    records = [pull(f"{name}.csv", "2016-07-25", air=UNKNOWN) for name in "abcd"]
    parted = part_outings(records, sheet_of(a=at(8), b=at(9, 30), c=at(11), d=at(15)))
    assert days(parted) == ["2016-07-25 08:00"] * 3 + ["2016-07-25 15:00"]


def test_a_known_air_keeps_the_date_together(pull):
    """Where temperature and pressure are known of all its logs, the date is the test day, as the contract has it."""
    records = [pull(f"{name}.csv", "2016-07-25") for name in ("a", "b")]
    assert set(days(part_outings(records, sheet_of(a=at(9), b=at(15))))) == {"2016-07-25"}


def test_a_label_of_the_users_is_kept(pull):
    """Who says that it was one day is believed."""
    records = [pull(f"{name}.csv", "monday", air=UNKNOWN) for name in ("a", "b")]
    logs = {f"{n}.csv": Conditions(f"{n}.csv", when=at(h), day="monday") for n, h in (("a", 9), ("b", 15))}
    assert set(days(part_outings(records, ConditionsSheet(logs)))) == {"monday"}
