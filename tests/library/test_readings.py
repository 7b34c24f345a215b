"""What comes out of a library is what the files would have given, whatever was edited since."""

import datetime
from collections.abc import Callable
from pathlib import Path

import numpy as np
import pytest
from tests.library.test_samples import assert_same

from pullproof.analysis.comparison import Comparison, compare
from pullproof.analysis.history import season_history
from pullproof.car import ColumnRule, load_car
from pullproof.conditions import load_conditions
from pullproof.demo import make_demo
from pullproof.errors import CannotAnswer, CannotRead, WrongUse
from pullproof.library import Library, catalogue, open_library, shelf
from pullproof.library.catalogue import Selection
from pullproof.library.checking import check_library
from pullproof.library.files import original_path, samples_path
from pullproof.library.importing import import_logs
from pullproof.library.memory import Memory
from pullproof.library.readings import compare_selections, conditions_of, log_of, pulls_of, records_of
from pullproof.library.schema import CarRow, ChangeRow, DayRow, LogRow
from pullproof.library.seasons import season_of
from pullproof.reading import read_log
from pullproof.report.documents import comparison_document

Write = Callable[..., Path]
AT = datetime.datetime


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo's files."""
    folder = tmp_path_factory.mktemp("demo")
    make_demo(folder)
    return folder


def filled(place: Path, demo: Path, database: str | None = None) -> tuple[Library, CarRow, dict[str, int]]:
    """A library with the demo in it; its car, and its logs by name."""
    library = open_library(place, database)
    with library.transaction() as session:
        car = catalogue.add_car(session, (demo / "car.toml").read_text())
    list(import_logs(library, car.id, [demo], conditions=demo / "conditions.toml", workers=0))
    with library.reading() as session:
        return library, car, {row.name: row.id for row in catalogue.logs(session, car.id)}


def sides(logs: dict[str, int]) -> tuple[Selection, Selection]:
    old, new = ([number for name, number in logs.items() if which in name] for which in ("old-pipe", "new-pipe"))
    return Selection(logs=tuple(old)), Selection(logs=tuple(new))


def by_command(demo: Path, leave_out: tuple[str, ...] = ()) -> Comparison:
    """The comparison as it comes out of the files."""
    files = [path for path in sorted(demo.glob("*.csv")) if path.name not in leave_out]
    old, new = ([path for path in files if which in path.name] for which in ("old-pipe", "new-pipe"))
    return compare(old, new, car=load_car(demo / "car.toml"), conditions=load_conditions(demo / "conditions.toml"))


def test_a_library_answers_as_the_files_do(tmp_path: Path, demo: Path, database: str | None) -> None:
    """The comparison of the library's logs is the one of `pullproof compare` on the files, figure for figure, twice."""
    library, car, logs = filled(tmp_path / "library", demo, database)
    wanted = comparison_document(by_command(demo))
    with library:
        for _ in range(2):  # from the disk, then from memory
            assert comparison_document(compare_selections(library, car.id, *sides(logs))) == wanted


def test_days_select_their_logs(tmp_path: Path, demo: Path) -> None:
    """A day stands for all its logs, and a pull that is left out goes to those that were refused."""
    library, car, logs = filled(tmp_path / "library", demo)
    with library:
        with library.reading() as session:
            saturday = catalogue.day_labelled(session, car.id, "saturday")
        assert saturday is not None
        whole = records_of(library, car.id, Selection(days=(saturday.id,)))
        assert {record.log.file for record in whole.records} == {"saturday-old-pipe.csv"}
        assert (len(whole.records), len(whole.refused)) == (3, 1)
        start = whole.records[1].pull.start_s
        less = records_of(
            library, car.id, Selection(days=(saturday.id,), left_out=((logs["saturday-old-pipe.csv"], start),))
        )
        assert (len(less.records), len(less.refused)) == (2, 2)
        assert any(pull.reason == "left out of the selection" for pull in less.refused)


def test_a_side_without_a_pull_says_why(tmp_path: Path, demo: Path) -> None:
    """Where nothing of a side can be used, the sentence names the pulls and the reasons."""
    library, car, logs = filled(tmp_path / "library", demo)
    before, after = sides(logs)
    with library:
        starts = [(logs[record.log.file], record.pull.start_s) for record in records_of(library, car.id, after).records]
        with pytest.raises(CannotAnswer, match=r"no pull after the change can be used .*left out of the selection"):
            compare_selections(library, car.id, before, Selection(logs=after.logs, left_out=tuple(starts)))
        with pytest.raises(CannotAnswer, match="no pull before the change can be used, none was found"):
            compare_selections(library, car.id, Selection(), after)
        with pytest.raises(CannotAnswer, match="not among the logs of this car"):
            compare_selections(library, car.id, Selection(logs=(99,)), after)


def test_the_users_word_counts(tmp_path: Path, demo: Path, database: str | None) -> None:
    """A refused pull that the user accepts is used, one that he sets aside is not; both can be undone."""
    library, car, logs = filled(tmp_path / "library", demo, database)
    log = logs["saturday-old-pipe.csv"]
    with library:
        before = pulls_of(library, log)
        refused, used = next(p for p in before if not p.used), next(p for p in before if p.used)
        with library.transaction() as session:
            # Spans as somebody would mark them by hand.
            words = [
                catalogue.overrule(
                    session, log, refused.start_s - 0.2, refused.end_s + 0.3, use=True, reason="a short lift"
                ),
                catalogue.overrule(session, log, used.start_s + 0.1, used.end_s, use=False, reason="traffic"),
            ]
        after = {pull.start_s: pull for pull in pulls_of(library, log)}
        assert after[refused.start_s].used
        assert f"({refused.reason}): a short lift" in after[refused.start_s].assumptions[-1]
        assert (after[used.start_s].used, after[used.start_s].reason) == (False, "set aside by hand: traffic")
        found = records_of(library, car.id, Selection(logs=(log,)))
        assert {record.pull.start_s for record in found.records} == {
            pull.start_s for pull in after.values() if pull.used
        }
        with library.transaction() as session:
            catalogue.overrule(session, log, used.start_s, used.end_s, use=True, reason="no, it was clear")
        assert {pull.start_s: pull for pull in pulls_of(library, log)}[used.start_s].used
        with library.transaction() as session:
            for word in [*words, *catalogue.overrulings(session, log)]:
                catalogue.delete(session, session.merge(word))
        assert pulls_of(library, log) == before


def test_the_users_word_outlives_a_new_reading(tmp_path: Path, demo: Path) -> None:
    """An overruling goes by log and time, so it holds after the pulls were found anew."""
    library, car, logs = filled(tmp_path / "library", demo)
    log = logs["sunday-old-pipe.csv"]
    with library:
        pull = pulls_of(library, log)[0]
        with library.transaction() as session:
            catalogue.overrule(session, log, pull.start_s, pull.end_s, use=False, reason="traffic")
            row = catalogue.get(session, CarRow, car.id)
            catalogue.edit_car(session, row, row.sheet.replace("redline_rpm = 6800", "redline_rpm = 6700"))
        again = pulls_of(library, log)[0]
        assert (again.used, again.reason) == (False, "set aside by hand: traffic")


def test_an_overruling_elsewhere_changes_nothing(tmp_path: Path, demo: Path) -> None:
    """A span that shares less than half with a pull is about something else."""
    library, _, logs = filled(tmp_path / "library", demo)
    log = logs["sunday-old-pipe.csv"]
    with library:
        before = pulls_of(library, log)
        pull = before[0]
        middle = 0.55 * (pull.end_s - pull.start_s)
        with library.transaction() as session:
            catalogue.overrule(session, log, pull.start_s + middle, pull.end_s + middle, use=False, reason="x")
        assert pulls_of(library, log) == before


# Readings that went stale

PSI = "charge_pressure, psi gauge"


def one_log(library: Library, sheet: str, path: Path) -> tuple[CarRow, int]:
    with library.transaction() as session:
        car = catalogue.add_car(session, sheet)
    (outcome,) = import_logs(library, car.id, [path], workers=0)
    assert outcome.log_id is not None
    return car, outcome.log_id


def test_an_edited_sheet_is_followed(library: Library, tmp_path: Path, write_log: Write, sheet: str) -> None:
    """After the owner says what a column is, the log is what the file gives with that sheet; old samples are gone."""
    path = write_log(tmp_path / "drive.csv")
    car, log = one_log(library, sheet, path)
    assert_same(log_of(library, log), read_log(path, catalogue.car_of(car)))
    rule = f'\n[columns]\n"Boost pressure (kPa gauge)" = "{PSI}"\n'
    with library.transaction() as session:
        row = catalogue.edit_car(session, catalogue.get(session, CarRow, car.id), sheet + rule)
    (tmp_path / "other.toml").write_text(sheet + rule)
    wanted = read_log(path, load_car(tmp_path / "other.toml"))
    assert_same(log_of(library, log), wanted)
    assert "charge_pressure" in wanted.traces
    assert catalogue.car_of(row).columns
    assert len(list((library.folder / "samples").rglob("*.parquet"))) == 1
    assert check_library(library).findings == ()


def test_a_decision_is_followed_by_old_and_new_logs(
    library: Library, tmp_path: Path, write_log: Write, sheet: str
) -> None:
    """What was decided of a logger's column holds for its logs that are there and for the next one that comes."""
    car, log = one_log(library, sheet, write_log(tmp_path / "drive.csv", 1))
    header = "Boost pressure (kPa gauge)"
    with library.transaction() as session:
        signature = catalogue.get(session, LogRow, log).signature
        catalogue.decide_column(session, signature, header, ColumnRule("charge_pressure", "psi gauge"), decided_by="me")
    (next_one,) = import_logs(library, car.id, [write_log(tmp_path / "next.csv", 2)], workers=0)
    assert next_one.log_id is not None
    for number in (log, next_one.log_id):
        column = next(column for column in log_of(library, number).columns if column.header == header)
        assert (column.channel, column.unit) == ("charge_pressure", "psi gauge")
    with library.transaction() as session:
        catalogue.undecide_column(session, signature, header)
    column = next(column for column in log_of(library, log).columns if column.header == header)
    assert column.unit == "kPa gauge"


def test_another_logger_is_not_touched_by_a_decision(
    plain_library: Library, tmp_path: Path, write_log: Write, sheet: str
) -> None:
    """A decision goes by the set of headers: another set is another logger, another order of them is not."""
    header = "Boost pressure (kPa gauge)"
    car, log = one_log(plain_library, sheet, write_log(tmp_path / "drive.csv", 1))
    text = (tmp_path / "drive.csv").read_text().splitlines()
    (tmp_path / "turned.csv").write_text(
        "\n".join(",".join([line.split(",")[0], *line.split(",")[:0:-1]]) for line in text)
    )
    (tmp_path / "fewer.csv").write_text("\n".join(line.rpartition(",")[0] for line in text))
    outcomes = import_logs(plain_library, car.id, [tmp_path / "turned.csv", tmp_path / "fewer.csv"], workers=0)
    turned, fewer = (outcome.log_id or 0 for outcome in outcomes)
    with plain_library.transaction() as session:
        signature = catalogue.get(session, LogRow, log).signature
        assert catalogue.get(session, LogRow, turned).signature == signature
        assert catalogue.get(session, LogRow, fewer).signature != signature
        catalogue.decide_column(session, signature, header, ColumnRule("charge_pressure", "psi gauge"))
    units = [{c.header: c.unit for c in log_of(plain_library, number).columns}[header] for number in (turned, fewer)]
    assert units == ["psi gauge", "kPa gauge"]


def test_the_sheet_goes_before_a_decision(plain_library: Library, tmp_path: Path, write_log: Write, sheet: str) -> None:
    """Where the car sheet itself names a column, that counts: a decision is about loggers, the sheet about this car."""
    header = "Boost pressure (kPa gauge)"
    rule = f'\n[columns]\n"{header}" = "charge_pressure, kPa gauge"\n'
    _, log = one_log(plain_library, sheet + rule, write_log(tmp_path / "drive.csv"))
    with plain_library.transaction() as session:
        signature = catalogue.get(session, LogRow, log).signature
        catalogue.decide_column(session, signature, header, ColumnRule("charge_pressure", "psi gauge"))
    column = next(column for column in log_of(plain_library, log).columns if column.header == header)
    assert column.unit == "kPa gauge"


def test_an_edit_of_the_gearing_reads_nothing_anew(
    plain_library: Library, tmp_path: Path, write_log: Write, sheet: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What only the search for pulls depends on finds the pulls anew from the samples; the file is not parsed again."""
    car, log = one_log(plain_library, sheet, write_log(tmp_path / "drive.csv"))
    assert [pull.gear for pull in pulls_of(plain_library, log)] == [3]
    monkeypatch.setattr(shelf, "read_original", None)
    with plain_library.transaction() as session:
        row = catalogue.get(session, CarRow, car.id)
        catalogue.edit_car(session, row, sheet.replace("3.36, 2.09, 1.47, 1.10", "2.09, 1.47, 1.10, 0.95"))
    assert [pull.gear for pull in pulls_of(plain_library, log)] == [2]


def test_lost_samples_are_made_again(library: Library, tmp_path: Path, write_log: Write, sheet: str) -> None:
    """Samples are a copy of what the original says: missing or damaged, they come back in silence."""
    path = write_log(tmp_path / "drive.csv")
    car, log = one_log(library, sheet, path)
    wanted = read_log(path, catalogue.car_of(car))
    with library.reading() as session:
        row = catalogue.get(session, LogRow, log)
    samples = samples_path(library.folder, row.hash, row.reading_key)
    for harm in (samples.unlink, lambda: samples.write_bytes(b"x")):
        harm()
        library.memory.forget()
        assert_same(log_of(library, log), wanted)
        assert check_library(library).findings == ()


@pytest.mark.parametrize("harm", ["gone", "changed"])
def test_a_lost_original_is_named(
    plain_library: Library, tmp_path: Path, write_log: Write, sheet: str, harm: str
) -> None:
    """Without samples and without a sound original there is one sentence with the log's name and what to do."""
    _, log = one_log(plain_library, sheet, write_log(tmp_path / "drive.csv"))
    with plain_library.reading() as session:
        row = catalogue.get(session, LogRow, log)
    samples_path(plain_library.folder, row.hash, row.reading_key).unlink()
    original = original_path(plain_library.folder, row.hash)
    original.unlink() if harm == "gone" else original.write_bytes(b"time,rpm\n0,1\n1,2\n")
    with pytest.raises(CannotRead, match=r"drive\.csv: the original .*(missing|damaged).*backup"):
        log_of(plain_library, log)


def test_a_sheet_that_no_log_can_follow_names_the_log(
    plain_library: Library, tmp_path: Path, write_log: Write, sheet: str
) -> None:
    """A rule that makes no sense is refused with the log in which it stands, and nothing is spoiled."""
    car, log = one_log(plain_library, sheet, write_log(tmp_path / "drive.csv"))
    with plain_library.transaction() as session:
        row = catalogue.get(session, CarRow, car.id)
        catalogue.edit_car(session, row, sheet + '\n[columns]\n"Wastegate duty (%)" = "charge_pressure, furlong"\n')
    with pytest.raises(WrongUse, match="furlong"):
        log_of(plain_library, log)
    with plain_library.transaction() as session:
        catalogue.edit_car(session, catalogue.get(session, CarRow, car.id), sheet)
    assert log_of(plain_library, log).rows == 400


# Conditions and seasons


def test_conditions_are_those_of_the_file(tmp_path: Path, demo: Path, database: str | None) -> None:
    """What was imported with a conditions file comes back as that file says it."""
    library, car, _ = filled(tmp_path / "library", demo, database)
    with library:
        found, wanted = conditions_of(library, car.id), load_conditions(demo / "conditions.toml")
    assert found.changes == wanted.changes
    for name, said in wanted.logs.items():
        back = found.of(name)
        assert (back.when, back.day, back.direction) == (said.when, said.day, said.direction)
        for field in ("temperature_c", "pressure_kpa", "relative_humidity_pct"):
            assert getattr(back.air, field) == getattr(said.air, field)
            assert back.air.origin[field] == "log in the library"


def test_a_log_takes_the_air_of_its_day(plain_library: Library, tmp_path: Path, write_log: Write, sheet: str) -> None:
    """What a log does not say of the air its day says; a day without a name of its own is only a date."""
    car, log = one_log(plain_library, sheet, write_log(tmp_path / "drive.csv"))
    with plain_library.transaction() as session:
        day = DayRow(
            car_id=car.id, label="2026-05-09", date=datetime.date(2026, 5, 9), air_temperature_c=10.0,
            air_pressure_kpa=99.0,
        )  # fmt: skip
        row = catalogue.get(session, LogRow, log)
        row.day_id, row.air_temperature_c = catalogue.add(session, day).id, 12.0
    said = conditions_of(plain_library, car.id).of("drive.csv")
    assert (said.day, said.air.temperature_c, said.air.pressure_kpa) == ("2026-05-09", 12.0, 99.0)
    assert said.air.origin == {"temperature_c": "log in the library", "pressure_kpa": "test day in the library"}
    with plain_library.transaction() as session:
        catalogue.get(session, LogRow, log).when = AT(2026, 5, 9, 10)
    assert conditions_of(plain_library, car.id).of("drive.csv").day is None


def test_a_removal_is_a_change_too(plain_library: Library, sheet: str) -> None:
    """A part that came off between two sets changed the car as much as one that went on."""
    with plain_library.transaction() as session:
        car = catalogue.add_car(session, sheet)
        on, off = AT(2026, 5, 1), AT(2026, 6, 1)
        catalogue.add(session, ChangeRow(car_id=car.id, what="tape", fitted=on, removed=off))
    found = conditions_of(plain_library, car.id).changes
    assert [(change.what, change.when) for change in found] == [("tape", on), ("tape removed", off)]


def test_a_season_has_each_pull_in_its_build(tmp_path: Path, demo: Path, database: str | None) -> None:
    """The season of a car holds every used pull with what was on the car then, and the model takes it as it is."""
    library, car, _ = filled(tmp_path / "library", demo, database)
    with library:
        season = season_of(library, car.id)
        builds = {pull.record.log.file: pull.build for pull in season.pulls}
        pipe = season.changes[0].name
        assert {name: build == {pipe} for name, build in builds.items()} == {
            "saturday-old-pipe.csv": False, "sunday-old-pipe.csv": False,
            "sunday-new-pipe-1.csv": True, "sunday-new-pipe-2.csv": True,
        }  # fmt: skip
        assert [(day.label, day.when) for day in season.days] == [
            ("saturday", AT(2026, 5, 9, 9, 40)), ("sunday", AT(2026, 5, 17, 10, 5)),
        ]  # fmt: skip
        assert (len(season.pulls), len(season.refused), season.doubts) == (9, 1, ())
        assert season_history(season).measures


def test_a_season_says_what_it_cannot_place(
    plain_library: Library, tmp_path: Path, write_log: Write, sheet: str
) -> None:
    """A log without time and day is left out with a doubt, one of a day of change is doubted; names are unique."""
    with plain_library.transaction() as session:
        car = catalogue.add_car(session, sheet)
        at = AT(2026, 5, 9, 12)
        for moment in (at, AT(2026, 6, 1)):
            catalogue.add(session, ChangeRow(car_id=car.id, what="pipe", fitted=moment))
        day = catalogue.add(session, DayRow(car_id=car.id, label="saturday", date=at.date(), odometer_km=84_210.0))
    list(import_logs(plain_library, car.id, [write_log(tmp_path / "lost.csv", 1)], workers=0))
    list(import_logs(plain_library, car.id, [write_log(tmp_path / "sat.csv", 2)], day_id=day.id, workers=0))
    season = season_of(plain_library, car.id)
    assert [pull.record.log.file for pull in season.pulls] == ["sat.csv"]
    assert [change.name for change in season.changes] == ["pipe (2026-05-09)", "pipe (2026-06-01)"]
    assert season.pulls[0].build == {"pipe (2026-05-09)"}
    assert [(day.label, day.odometer_km) for day in season.days] == [("saturday", 84_210.0)]
    assert [doubt.split(",")[0] for doubt in season.doubts] == [
        "nobody says when lost.csv was recorded", "a change was made on saturday",
    ]  # fmt: skip


def test_memory_holds_no_more_than_its_room(tmp_path: Path, demo: Path) -> None:
    """What was read is dropped when there is more of it than room, and every answer stays the same."""
    library, car, logs = filled(tmp_path / "library", demo)
    with library:
        wanted = comparison_document(compare_selections(library, car.id, *sides(logs)))
        small = Library(library.folder, library.engine, library.id, Memory(room=300_000))
        assert comparison_document(compare_selections(small, car.id, *sides(logs))) == wanted
        assert small.memory._used <= 300_000 or len(small.memory._held) == 1


def test_nan_and_infinity_survive_the_way_through(plain_library: Library, tmp_path: Path, sheet: str) -> None:
    """Blank cells of a log are blank after it was kept."""
    lines = ["Time (s),Engine speed (rpm),Accelerator pedal (%)"]
    lines += [f"{0.1 * n:.1f},{900 + n},{'' if n % 7 == 0 else 20}" for n in range(200)]
    (tmp_path / "drive.csv").write_text("\n".join(lines))
    _, log = one_log(plain_library, sheet, tmp_path / "drive.csv")
    kept = log_of(plain_library, log)
    direct = read_log(tmp_path / "drive.csv")
    assert_same(kept, direct)
    assert np.isnan(kept.traces["pedal_position"].values).any()
