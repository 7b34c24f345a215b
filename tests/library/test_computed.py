"""Recorded pulls that were kept are those that would be computed, and never those of another state."""

import datetime
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest

from pullproof.computed_channels import PullRecord
from pullproof.library import Library, catalogue, code, open_library, preparing, readings
from pullproof.library.computed import computed_path, has_computed, read_computed
from pullproof.library.importing import import_logs
from pullproof.library.preparing import prepare_records
from pullproof.library.readings import records_of
from pullproof.library.schema import CarRow, DayRow, LogRow

Write = Callable[..., Path]


@pytest.fixture
def filled(plain_library: Library, tmp_path: Path, write_log: Write, sheet: str) -> Library:
    """A library with three logs of one day."""
    for number in range(3):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    with plain_library.transaction() as session:
        car = catalogue.add_car(session, sheet)
        day = DayRow(car_id=car.id, label="saturday", date=datetime.date(2026, 5, 9), air_temperature_c=12.5)
        catalogue.add(session, day)
    list(import_logs(plain_library, car.id, [tmp_path / "logs"], day_id=day.id, workers=0))
    return plain_library


def assert_alike(ours: PullRecord, theirs: PullRecord) -> None:
    """Every field alike, every sample bit for bit."""
    for name in ("pull", "day", "air", "direction", "left_out", "doubts"):
        assert getattr(ours, name) == getattr(theirs, name), name
    assert ours.log.file == theirs.log.file
    assert list(ours.traces) == list(theirs.traces)
    for name, trace in ours.traces.items():
        assert (trace.channel, trace.unit) == (theirs.traces[name].channel, theirs.traces[name].unit)
        np.testing.assert_array_equal(trace.time, theirs.traces[name].time)
        np.testing.assert_array_equal(trace.values, theirs.traces[name].values)


def counted(monkeypatch: pytest.MonkeyPatch) -> list[int]:
    """Hears of every pull that is computed."""
    heard: list[int] = []
    real = readings.record_pull

    def record(*arguments: object) -> PullRecord:
        heard.append(1)
        return real(*arguments)  # type: ignore[arg-type]

    monkeypatch.setattr(readings, "record_pull", record)
    return heard


@pytest.fixture
def anew(filled: Library) -> Iterator[Callable[[], Library]]:
    """The library as another process opens it: nothing in memory."""
    opened = []

    def again() -> Library:
        opened.append(open_library(filled.folder))
        return opened[-1]

    yield again
    for library in opened:
        library.close()


def test_kept_pulls_are_the_computed_ones(
    filled: Library, anew: Callable[[], Library], monkeypatch: pytest.MonkeyPatch
) -> None:
    """What another process finds on the disk is what was computed, sample for sample, and nothing is computed twice."""
    first = records_of(filled, 1).records
    computed = counted(monkeypatch)
    second = records_of(anew(), 1).records
    assert computed == []
    assert len(first) == len(second) == 3
    for ours, theirs in zip(first, second, strict=True):
        assert_alike(ours, theirs)


def edit_sheet(library: Library) -> None:
    with library.transaction() as session:
        row = catalogue.get(session, CarRow, 1)
        catalogue.edit_car(session, row, row.sheet.replace("1510", "1600"))


def edit_air(library: Library) -> None:
    with library.transaction() as session:
        catalogue.days(session, 1)[0].air_temperature_c = 30.0


def damage(library: Library) -> None:
    for path in (library.folder / "computed").iterdir():
        content = bytearray(path.read_bytes())
        content[len(content) // 2] ^= 1
        path.write_bytes(content)


def cut_off(library: Library) -> None:
    for path in (library.folder / "computed").iterdir():
        path.write_bytes(path.read_bytes()[:100])


def lose(library: Library) -> None:
    for path in (library.folder / "computed").iterdir():
        path.unlink()


@pytest.mark.parametrize("change", [edit_sheet, edit_air, damage, cut_off, lose], ids=lambda change: change.__name__)
def test_another_state_is_computed_anew(
    filled: Library, anew: Callable[[], Library], monkeypatch: pytest.MonkeyPatch, change: Callable[[Library], None]
) -> None:
    """After an edit of the car or the day, or where the file is damaged or gone, nothing old is taken for an answer."""
    records_of(filled, 1)
    change(filled)
    computed = counted(monkeypatch)
    found = records_of(anew(), 1).records
    assert len(computed) == len(found) == 3
    assert found[0].air.temperature_c == (30.0 if change is edit_air else 12.5)
    computed.clear()
    records_of(anew(), 1)
    assert computed == []


def test_other_code_is_another_state(
    filled: Library, anew: Callable[[], Library], monkeypatch: pytest.MonkeyPatch
) -> None:
    """A version that computes otherwise does not take over what an older one computed."""
    records_of(filled, 1)
    computed = counted(monkeypatch)
    monkeypatch.setattr("pullproof.library.computed.computing_code", lambda: "other")
    records_of(anew(), 1)
    assert len(computed) == 3


def test_the_fingerprint_of_the_code_is_that_of_its_files(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A changed line, a changed table and a new file each make another fingerprint; a page of the browser does not."""
    for name, text in (("reading/a.py", "x = 1"), ("reading/words.toml", "a = 1"), ("web/page.py", "y = 1")):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text)
    monkeypatch.setattr(code, "_PACKAGE", tmp_path)
    seen = [code._fingerprint(("reading",))]
    for name, text in (("reading/a.py", "x = 2"), ("reading/words.toml", "a = 2"), ("reading/b.py", "")):
        (tmp_path / name).write_text(text)
        seen.append(code._fingerprint(("reading",)))
    assert len(set(seen)) == 4
    (tmp_path / "web" / "page.py").write_text("y = 2")
    assert code._fingerprint(("reading",)) == seen[-1]


def test_a_library_that_cannot_be_written_still_answers(filled: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    """Without room for what was computed the answer comes all the same."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pullproof.library.computed.move_durably", full)
    assert len(records_of(filled, 1).records) == 3
    assert not list((filled.folder / "computed").iterdir())


def test_many_logs_are_prepared_by_processes(
    filled: Library, anew: Callable[[], Library], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Other processes compute what lacks, tell how far they are, and then nothing is left to compute."""
    monkeypatch.setattr(preparing, "_WORTH_PROCESSES", 2)
    heard: list[tuple[int, int]] = []
    prepare_records(filled, 1, workers=1, progress=lambda done, total: heard.append((done, total)))
    assert heard == [(1, 3), (2, 3), (3, 3)]
    computed = counted(monkeypatch)
    assert len(records_of(anew(), 1).records) == 3
    assert computed == []
    prepare_records(filled, 1, workers=1, progress=lambda *_: heard.append((0, 0)))
    assert len(heard) == 3


def test_what_fails_while_preparing_is_said_when_asked_for(filled: Library, monkeypatch: pytest.MonkeyPatch) -> None:
    """A log that cannot be prepared costs the others nothing."""
    monkeypatch.setattr(preparing, "_WORTH_PROCESSES", 2)
    with filled.transaction() as session:
        row = catalogue.get(session, LogRow, 1)
        row.reading_key = "0" * 64
        row.pulls_key = "0" * 64
        (filled.folder / "originals" / row.hash[:2] / row.hash[2:]).unlink()
    prepare_records(filled, 1, workers=1)
    there = [computed_path(filled.folder, number).exists() for number in (1, 2, 3)]
    assert there == [False, True, True]


def test_a_file_that_is_no_archive_holds_nothing(tmp_path: Path) -> None:
    """Whatever lies in the place of kept pulls, it is none rather than an error."""
    for content in (b"", b"PK", b"nonsense"):
        (tmp_path / "1.npz").write_bytes(content)
        assert read_computed(tmp_path / "1.npz", "x") == {}
        assert not has_computed(tmp_path / "1.npz", "x")
