"""Answers are kept only as long as nothing that they were made from has changed."""

import datetime

import pytest
from tests.library.small_logs import SHEET, log_text

from pullproof.car import ColumnRule
from pullproof.library import catalogue
from pullproof.library.importing import import_logs
from pullproof.library.schema import ChangeRow, DayRow, LogRow
from pullproof.web.remembered import remembered


def _overrule(session):
    catalogue.overrule(session, 1, 10.0, 20.0, use=False, reason="the road was wet")


def _add_change(session):
    catalogue.add(session, ChangeRow(car_id=1, what="pipe", fitted=datetime.datetime.fromisoformat("2026-05-01")))


def _add_day(session):
    catalogue.add(session, DayRow(car_id=1, label="saturday", date=datetime.date(2026, 5, 1)))


def _edit_sheet(session):
    catalogue.edit_car(session, catalogue.cars(session)[0], SHEET.replace("1510", "1520"))


def _decide(session):
    row = session.get(LogRow, 1)
    catalogue.decide_column(session, row.signature, "Wastegate duty (%)", ColumnRule(None))


def _delete_log(session):
    catalogue.delete(session, session.get(LogRow, 1))


@pytest.mark.parametrize("change", [_overrule, _add_change, _add_day, _edit_sheet, _decide, _delete_log])
def test_whatever_an_answer_rests_on_asks_it_anew(library, tmp_path, change):
    """A word on a pull, a change, a day, the sheet, a column, a log: each makes the old answer void."""
    (tmp_path / "run.csv").write_text(log_text(1), encoding="utf-8")
    with library.transaction() as session:
        catalogue.add_car(session, SHEET)
    list(import_logs(library, 1, [tmp_path / "run.csv"], workers=0))
    made = []

    def ask():
        with library.reading() as session:
            car = catalogue.cars(session)[0]
        return remembered(library, car, "question", lambda: made.append(1) or len(made))

    assert ask() == ask() == 1
    with library.transaction() as session:
        change(session)
    assert ask() == 2
