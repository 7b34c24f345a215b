"""Cars, changes, builds, days and decisions: found, changed, deleted and taken back, on both databases."""

import datetime
from collections.abc import Callable
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from pullproof.car import ColumnRule, parse_car
from pullproof.errors import CannotAnswer, CannotRead, WrongUse
from pullproof.library import Library, catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.schema import (
    CarRow,
    ChangeRow,
    ComparisonRow,
    DayRow,
    LogRow,
    OverrulingRow,
    PhotoRow,
)

AT = datetime.datetime


def log_row(car_id: int, name: str = "log.csv", digest: str = "ab" * 32, **more: object) -> LogRow:
    """A log as the catalogue sees it; nothing of it is on the disk."""
    said = {
        "hash": digest, "size": 1, "file": name, "signature": "5" * 64, "rows": 1, "duration_s": 1.0,
        "reader_version": "0", "reading_key": "0" * 64, "pulls_key": "0" * 64, "samples_hash": "0" * 64,
        "samples_size": 1,
    }  # fmt: skip
    return LogRow(car_id=car_id, name=name, **{**said, **more})


@pytest.fixture
def car(library: Library, sheet: str) -> CarRow:
    """A car in the library."""
    with library.transaction() as session:
        return catalogue.add_car(session, sheet)


def test_a_car_is_its_sheet(library: Library, car: CarRow, sheet: str) -> None:
    """The sheet is kept as it was typed, and the car that analyses take is what it says."""
    assert car.sheet == sheet
    assert catalogue.car_of(car) == parse_car(sheet)
    with library.reading() as session:
        assert catalogue.car_named(session, "blue hatch").id == car.id


def test_an_unknown_car_is_answered_with_those_there_are(library: Library, car: CarRow) -> None:
    """A misspelt name gets the list of names."""
    with library.reading() as session, pytest.raises(CannotAnswer, match=f"Cars are: {car.name}"):
        catalogue.car_named(session, "blew hatch")


def test_an_empty_library_says_how_to_fill_it(library: Library) -> None:
    """Where there is no car at all, the sentence says how one gets in."""
    with library.reading() as session, pytest.raises(CannotAnswer, match="Import logs"):
        catalogue.car_named(session, "blue hatch")


def test_two_cars_never_share_a_name(library: Library, car: CarRow, sheet: str) -> None:
    """A second car of a name is refused, on the way in and by editing."""
    with library.transaction() as session:
        with pytest.raises(WrongUse, match="already"):
            catalogue.add_car(session, sheet)
        other = catalogue.add_car(session, 'name = "red van"')
        with pytest.raises(WrongUse, match="another car"):
            catalogue.edit_car(session, other, sheet)
        catalogue.edit_car(session, other, 'name = "red van"\nmass_kg = 2000')
        assert catalogue.car_of(other).mass_kg == 2000


@pytest.mark.parametrize(
    ("text", "error"), [("name = ", CannotRead), ("mas_kg = 1", WrongUse), ('name="a"\nmas_kg=1', WrongUse)]
)
def test_a_bad_sheet_changes_nothing(library: Library, car: CarRow, text: str, error: type[Exception]) -> None:
    """A sheet with a slip is refused in one sentence and the car keeps the one it had."""
    with library.transaction() as session:
        with pytest.raises(error):
            catalogue.edit_car(session, catalogue.get(session, CarRow, car.id), text)
        with pytest.raises(error):
            catalogue.add_car(session, text)
    with library.reading() as session:
        assert [row.sheet for row in catalogue.cars(session)] == [car.sheet]


def test_a_row_that_is_not_there_is_one_sentence(library: Library) -> None:
    """An old address in the browser ends in a sentence."""
    with library.reading() as session, pytest.raises(CannotAnswer, match="no entry 7 in cars"):
        catalogue.get(session, CarRow, 7)


def test_everything_of_a_change_is_kept(library: Library, car: CarRow) -> None:
    """Dates, words of any language and money to the cent come back as they were typed."""
    said = {
        "what": "Ladeluftrohr · зажим \u2028 ☃", "kind": "part", "place": "hot side", "dimensions": "60 mm × 2 mm",
        "path_sheet": 'name = "pipe"', "notes": "a\nb", "cost": Decimal("0.07"), "currency": "EUR", "temporary": True,
        "fitted": AT(2026, 3, 29, 2, 30), "removed": AT(2026, 10, 25, 2, 30),
    }  # fmt: skip
    with library.transaction() as session:
        catalogue.add(session, ChangeRow(car_id=car.id, **said))
    with library.reading() as session:
        (row,) = catalogue.changes(session, car.id)
    assert {name: getattr(row, name) for name in said} == said
    assert row.made_at.utcoffset() == datetime.timedelta(0)


def test_the_database_refuses_what_cannot_be(library: Library, car: CarRow) -> None:
    """A removal before the fitting, a label twice, and a row of a car that is not there are refused in one sentence."""
    wrong = [
        lambda: ChangeRow(car_id=car.id, what="x", fitted=AT(2026, 2, 1), removed=AT(2026, 1, 1)),
        lambda: ChangeRow(car_id=car.id + 99, what="x", fitted=AT(2026, 2, 1)),
        lambda: DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 9)),
        lambda: log_row(car.id),
    ]
    with library.transaction() as session:
        catalogue.add(session, DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 2)))
        catalogue.add(session, log_row(car.id))

    def put(row: Callable[[], ChangeRow | DayRow | LogRow]) -> None:
        with library.transaction() as session:
            catalogue.add(session, row())

    for row in wrong:
        with pytest.raises(WrongUse, match="contradicts"):
            put(row)
    with library.reading() as session:
        assert (len(catalogue.changes(session, car.id)), len(catalogue.days(session, car.id))) == (0, 1)


# Builds


def fitted(car: CarRow, what: str, on: AT, off: AT | None = None) -> ChangeRow:
    return ChangeRow(car_id=car.id, what=what, fitted=on, removed=off)


def whats(build: catalogue.Build) -> set[str]:
    return {change.what for change in build.changes}


def test_builds_follow_from_the_dates(library: Library, car: CarRow) -> None:
    """A change is on the car from its fitting until its removal, and each date begins a new build."""
    with library.transaction() as session:
        catalogue.add(session, fitted(car, "pipe", AT(2026, 5, 10, 12)))
        catalogue.add(session, fitted(car, "tape", AT(2026, 5, 1), AT(2026, 5, 10, 12)))
        catalogue.add(session, fitted(car, "cooler", AT(2026, 6, 1)))
    with library.reading() as session:
        found = catalogue.builds(session, car.id)
        every = catalogue.changes(session, car.id)
    assert [whats(build) for build in found] == [set(), {"tape"}, {"pipe"}, {"pipe", "cooler"}]
    assert [build.since for build in found] == [None, AT(2026, 5, 1), AT(2026, 5, 10, 12), AT(2026, 6, 1)]
    assert [build.until for build in found] == [AT(2026, 5, 1), AT(2026, 5, 10, 12), AT(2026, 6, 1), None]
    assert whats(catalogue.build_at(every, AT(2026, 5, 10, 11, 59))) == {"tape"}
    assert whats(catalogue.build_at(every, AT(2026, 5, 10, 12))) == {"pipe"}


MOMENTS = st.datetimes(AT(2026, 1, 1), AT(2026, 12, 31))


@given(spans=st.lists(st.tuples(MOMENTS, st.none() | MOMENTS), max_size=6), when=MOMENTS)
def test_a_build_is_the_same_within_its_span(spans: list[tuple[AT, AT | None]], when: AT) -> None:
    """From the beginning of a build to its end nothing changes on the car, and at its end something does."""
    every = [
        ChangeRow(id=place, car_id=1, what=str(place), fitted=on, removed=off)
        for place, (on, off) in enumerate(spans)
        if off is None or off >= on
    ]
    build = catalogue.build_at(every, when)
    for edge in (build.since, build.until):
        assert edge is None or edge in {date for change in every for date in (change.fitted, change.removed)}
    assert build.since is None or catalogue.build_at(every, build.since).change_ids == build.change_ids
    if build.until is not None:
        assert build.until > when
        just_before = build.until - datetime.timedelta(microseconds=1)
        assert catalogue.build_at(every, just_before).change_ids == build.change_ids


def test_a_day_may_say_otherwise(library: Library, car: CarRow) -> None:
    """The build that somebody states for a day goes before the dates, until they take it back."""
    with library.transaction() as session:
        pipe = catalogue.add(session, fitted(car, "pipe", AT(2026, 5, 10, 12)))
        tape = catalogue.add(session, fitted(car, "tape", AT(2026, 5, 1)))
        day = catalogue.add(session, DayRow(car_id=car.id, label="sunday", date=datetime.date(2026, 5, 10)))
        assert whats(catalogue.build_of_day(session, day)) == {"tape", "pipe"}
        assert whats(catalogue.build_of_day(session, day, AT(2026, 5, 10, 10))) == {"tape"}
        catalogue.state_build(session, day, [pipe.id])
        catalogue.state_build(session, day, [pipe.id])
    with library.transaction() as session:
        day = catalogue.days(session, car.id)[0]
        assert whats(catalogue.build_of_day(session, day, AT(2026, 5, 10, 10))) == {"pipe"}
        catalogue.state_build(session, day, [])
        assert whats(catalogue.build_of_day(session, day)) == set()
        catalogue.state_build(session, day, None)
        assert whats(catalogue.build_of_day(session, day)) == {"tape", "pipe"}
        catalogue.delete(session, catalogue.get(session, ChangeRow, tape.id))
        assert whats(catalogue.build_of_day(session, day)) == {"pipe"}


# Deleting and taking back


def test_what_is_deleted_can_be_taken_back(library: Library, car: CarRow) -> None:
    """Each kind of row goes out of sight, stands among the deleted, last one first, and comes back with its number."""
    with library.transaction() as session:
        change = catalogue.add(session, fitted(car, "pipe", AT(2026, 5, 1)))
        photo = PhotoRow(change_id=change.id, hash="0" * 64, size=1, file="a.jpg", media_type="image/jpeg")
        rows = [
            catalogue.add(session, photo),
            change,
            catalogue.add(session, DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 2))),
            catalogue.add(session, log_row(car.id)),
            catalogue.add(session, ComparisonRow(car_id=car.id, name="pipe", before={}, after={})),
        ]
        for row in rows:
            catalogue.delete(session, row)
    with library.transaction() as session:
        assert [seen(session, car.id), catalogue.photos(session, change.id)] == [[], []]
        gone = catalogue.deleted(session, car.id)
        assert [type(row) for row in gone] == [type(row) for row in reversed(rows)]
        for row in gone:
            catalogue.take_back(session, row)
    with library.reading() as session:
        assert {(type(row), row.id) for row in seen(session, car.id)} == {(type(row), row.id) for row in rows[1:]}
        assert catalogue.deleted(session, car.id) == []


def seen(session: Session, car_id: int) -> list[ChangeRow | DayRow | LogRow | ComparisonRow]:
    return [
        *catalogue.changes(session, car_id), *catalogue.days(session, car_id), *catalogue.logs(session, car_id),
        *catalogue.comparisons(session, car_id),
    ]  # fmt: skip


def test_a_name_is_free_while_its_owner_is_deleted(library: Library, car: CarRow, sheet: str) -> None:
    """A deleted car's name can be used again; then the old one cannot come back under it."""
    with library.transaction() as session:
        catalogue.delete(session, catalogue.get(session, CarRow, car.id))
        assert [row.id for row in catalogue.deleted(session)] == [car.id]
        catalogue.add_car(session, sheet)

    def take_back() -> None:
        with library.transaction() as session:
            catalogue.take_back(session, catalogue.get(session, CarRow, car.id))

    with pytest.raises(WrongUse, match="Use another name"):
        take_back()
    with library.reading() as session:
        assert len(catalogue.cars(session)) == 1


# Decisions


def test_a_decision_holds_for_every_log_of_a_logger(library: Library) -> None:
    """A column is decided once for a logger; the last word counts, and it can be taken back."""
    boost, own = ColumnRule("charge_pressure", "psi gauge"), ColumnRule(None)
    with library.transaction() as session:
        catalogue.decide_column(session, "s" * 64, "Boost", own)
        catalogue.decide_column(session, "s" * 64, "Boost", boost, decided_by="me")
        catalogue.decide_column(session, "s" * 64, "AFR", own)
        catalogue.decide_column(session, "t" * 64, "Boost", own)
    with library.transaction() as session:
        assert catalogue.decisions_of(session, "s" * 64) == {"Boost": boost, "AFR": own}
        catalogue.undecide_column(session, "s" * 64, "Boost")
        assert catalogue.decisions_of(session, "s" * 64) == {"AFR": own}
        assert catalogue.decisions_of(session, "t" * 64) == {"Boost": own}
        assert catalogue.decisions_of(session, "u" * 64) == {}


@pytest.mark.parametrize(
    ("rule", "said"),
    [
        (ColumnRule("boots_pressure"), "does not exist"),
        (ColumnRule("charge_pressure", "furlong"), "no unit of charge_pressure"),
        (ColumnRule("charge_pressure", "degC"), "no unit of charge_pressure"),
    ],
)
def test_a_decision_that_no_log_could_follow_is_refused(library: Library, rule: ColumnRule, said: str) -> None:
    """An unknown channel or a unit that does not suit it is refused at once, not when the next log is read."""
    with library.transaction() as session:
        with pytest.raises(WrongUse, match=said):
            catalogue.decide_column(session, "s" * 64, "Boost", rule)
        assert catalogue.decisions_of(session, "s" * 64) == {}


def test_an_overruling_needs_a_reason_and_a_span(library: Library, car: CarRow) -> None:
    """The user's word is kept with its reason; without one it is refused, as is a span without length."""
    with library.transaction() as session:
        log = catalogue.add(session, log_row(car.id))
        with pytest.raises(WrongUse, match="reason"):
            catalogue.overrule(session, log.id, 1.0, 5.0, use=True, reason="  ")
        with pytest.raises(WrongUse, match="no length"):
            catalogue.overrule(session, log.id, 5.0, 5.0, use=True, reason="seen it")
        catalogue.overrule(session, log.id, 1.0, 5.0, use=False, reason=" wheel spin ")
    with library.transaction() as session:
        (word,) = catalogue.overrulings(session, log.id)
        assert (word.start_s, word.end_s, word.use, word.reason) == (1.0, 5.0, False, "wheel spin")
        catalogue.delete(session, catalogue.get(session, OverrulingRow, word.id))
        assert catalogue.overrulings(session, log.id) == []


# The rest


@given(
    days=st.lists(st.integers(1, 9)), logs=st.lists(st.integers(1, 9)),
    left_out=st.lists(st.tuples(st.integers(1, 9), st.floats(0, 1e4))),
)  # fmt: skip
def test_a_selection_comes_back_from_json(days: list[int], logs: list[int], left_out: list[tuple[int, float]]) -> None:
    """One side of a comparison is the same after it was kept."""
    selection = Selection(tuple(days), tuple(logs), tuple(left_out))
    assert Selection.from_json(selection.as_json()) == selection


def test_a_comparison_is_kept_whole(library: Library, car: CarRow) -> None:
    """Both sides, the window and the result come back; the newest stands first."""
    side, result = (
        Selection(days=(1,), left_out=((2, 3.5),)),
        {"sentence": "ü", "measures": [{"interval": [-1.5, None]}]},
    )
    with library.transaction() as session:
        for name in ("old", "new"):
            row = ComparisonRow(
                car_id=car.id, name=name, before=side.as_json(), after={}, window_low_rpm=4000.0,
                window_high_rpm=6500.0, main="boost.mean", result=result,
            )  # fmt: skip
            catalogue.add(session, row)
    with library.reading() as session:
        first, second = catalogue.comparisons(session, car.id)
    assert (first.name, second.name) == ("new", "old")
    assert Selection.from_json(first.before) == side
    assert (first.result, first.level, first.main) == (result, 0.95, "boost.mean")


def test_logs_come_by_time_and_those_without_last(library: Library, car: CarRow) -> None:
    """The logs of a car stand in the order in which they were driven; of one day they can be asked for alone."""
    with library.transaction() as session:
        day = catalogue.add(session, DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 2)))
        for place, when in enumerate([None, AT(2026, 5, 2, 15), AT(2026, 5, 2, 9)]):
            row = log_row(car.id, f"{place}.csv", f"{place}" * 64, when=when, day_id=day.id if when else None)
            catalogue.add(session, row)
    with library.reading() as session:
        assert [row.name for row in catalogue.logs(session, car.id)] == ["2.csv", "1.csv", "0.csv"]
        assert [row.name for row in catalogue.logs(session, car.id, day.id)] == ["2.csv", "1.csv"]
        found = catalogue.day_labelled(session, car.id, "saturday")
        assert found is not None
        assert found.id == day.id
        assert catalogue.day_labelled(session, car.id, "sunday") is None


def test_a_setting_is_remembered(library: Library) -> None:
    """A preference is empty until somebody has one, and then the last one."""
    with library.transaction() as session:
        assert catalogue.setting(session, "units") == {}
        catalogue.remember(session, "units", {"pressure": "psi"})
        catalogue.remember(session, "units", {"pressure": "bar"})
    with library.reading() as session:
        assert catalogue.setting(session, "units") == {"pressure": "bar"}
