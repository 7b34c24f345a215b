"""A backup holds everything, restores into either database, and is never trusted further than its hashes."""

import datetime
import hashlib
import json
import subprocess
import sys
import zipfile
from collections.abc import Callable
from decimal import Decimal
from pathlib import Path

import pytest
from sqlalchemy import text

from pullproof.errors import CannotRead, WrongUse
from pullproof.library import Library, catalogue, open_library
from pullproof.library.backup import back_up
from pullproof.library.checking import check_library
from pullproof.library.files import keep_bytes, original_path
from pullproof.library.importing import import_logs
from pullproof.library.readings import pulls_of
from pullproof.library.restoring import restore
from pullproof.library.rows import rows_as_json
from pullproof.library.schema import Base, CarRow, ChangeRow, ComparisonRow, DayRow, PhotoRow

Write = Callable[..., Path]
EVER = datetime.datetime(2026, 1, 1)  # noqa: DTZ001  clock on the wall


@pytest.fixture
def filled(library: Library, tmp_path: Path, write_log: Write, sheet: str) -> Library:
    """A library with a row in every table that people fill."""
    for number in range(2):
        write_log(tmp_path / "logs" / f"{number}.csv", number)
    photo = keep_bytes(library.folder, b"\xff\xd8\xff photo")
    with library.transaction() as session:
        car = catalogue.add_car(session, sheet)
        moment = datetime.datetime(2026, 3, 29, 2, 30, 15, 123456)  # noqa: DTZ001  clock on the wall
        change = ChangeRow(
            car_id=car.id, what="Rohr \u2028 ☃ \n", fitted=moment, cost=Decimal("1234567.89"), currency="EUR"
        )
        catalogue.add(session, change)
        row = PhotoRow(change_id=change.id, hash=photo.hash, size=photo.size, file="a.jpg", media_type="image/jpeg")
        catalogue.add(session, row)
        day = DayRow(car_id=car.id, label="sat", date=moment.date(), air_pressure_kpa=99.1, people=2)
        catalogue.add(session, day)
        catalogue.state_build(session, day, [change.id])
        catalogue.add(session, ComparisonRow(car_id=car.id, name="x", before={}, after={}, result={"a": [1.5, None]}))
        catalogue.remember(session, "units", {"pressure": "psi"})
    (first, _) = import_logs(library, car.id, [tmp_path / "logs"], workers=0, day_id=day.id)
    with library.transaction() as session:
        catalogue.overrule(session, first.log_id or 0, 12.0, 20.0, use=False, reason="traffic")
        catalogue.decide_column(session, "s" * 64, "Boost", catalogue.ColumnRule("charge_pressure", "psi gauge"))
        gone = catalogue.add(session, ChangeRow(car_id=car.id, what="deleted", fitted=moment))
        catalogue.delete(session, gone)
    return library


def everything(library: Library) -> dict[str, list[dict[str, object]]]:
    """Every row of every table, with moments in one spelling."""

    def spelled(value: object) -> object:
        return value.removesuffix("+00:00") if isinstance(value, str) else value

    with library.snapshot() as connection:
        return {
            table.name: [
                {name: spelled(value) for name, value in json.loads(line).items()}
                for line in rows_as_json(connection, table)
            ]
            for table in Base.metadata.sorted_tables
        }


def files(folder: Path) -> dict[str, bytes]:
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for name in ("originals", "samples")
        for path in (folder / name).rglob("*")
        if path.is_file()
    }


@pytest.mark.parametrize("into", ["sqlite", "postgresql"])
def test_a_backup_restores_into_either_database(
    filled: Library, tmp_path: Path, into: str, request: pytest.FixtureRequest
) -> None:
    """From each database into each: every row, every file, every decision, and new rows go on counting from there."""
    made = back_up(filled, tmp_path / "deep" / "backup.zip")
    address = request.getfixturevalue("new_database")() if into == "postgresql" else None
    back = restore(made.path, tmp_path / "restored", address)
    wanted = everything(filled)
    assert all(wanted.values()), "a table without a row proves nothing"
    assert (back.rows, back.files, back.library_id) == (made.rows, made.files, filled.id)
    assert made.rows == sum(len(rows) for rows in wanted.values())
    with open_library(tmp_path / "restored") as restored:
        assert restored.engine.dialect.name == into
        assert everything(restored) == wanted
        assert files(restored.folder) == files(filled.folder)
        assert check_library(restored).findings == ()
        with restored.transaction() as session:
            (car,) = catalogue.cars(session)
            (change,) = catalogue.changes(session, car.id)
            assert (change.cost, change.fitted.microsecond) == (Decimal("1234567.89"), 123456)
            assert catalogue.deleted(session, car.id)
            catalogue.add(session, ChangeRow(car_id=car.id, what="next", fitted=change.fitted))
            catalogue.add_car(session, 'name = "another"')
            first = catalogue.logs(session, car.id)[0]
        assert pulls_of(restored, first.id)[0].reason == "set aside by hand: traffic"


def test_a_backup_is_never_overwritten(filled: Library, tmp_path: Path) -> None:
    """A file that is there stays as it is, and a place that cannot be written is named."""
    target = tmp_path / "backup.zip"
    target.write_bytes(b"the only copy of something")
    with pytest.raises(WrongUse, match="never overwritten"):
        back_up(filled, target)
    assert target.read_bytes() == b"the only copy of something"
    with pytest.raises(WrongUse, match="cannot be written"):
        back_up(filled, target / "below a file.zip")


def test_a_backup_that_fails_leaves_nothing(filled: Library, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A backup appears under its name only when it is whole."""

    def full(*_: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("pullproof.library.backup._Manifest.add_file", full)
    (tmp_path / "place").mkdir()
    with pytest.raises(WrongUse, match="No space left on device"):
        back_up(filled, tmp_path / "place" / "backup.zip")
    assert not list((tmp_path / "place").iterdir())


def test_a_missing_file_is_said_and_costs_nothing_else(filled: Library, tmp_path: Path) -> None:
    """A backup of a library that lost a file holds the rest and names what is missing; so does check afterwards."""
    with filled.reading() as session:
        row = catalogue.logs(session, catalogue.cars(session)[0].id)[0]
    original_path(filled.folder, row.hash).unlink()
    made = back_up(filled, tmp_path / "backup.zip")
    assert made.missing == (f"originals/{row.hash[:2]}/{row.hash[2:]}",)
    restore(made.path, tmp_path / "restored")
    with open_library(tmp_path / "restored") as restored:
        assert [finding.kind for finding in check_library(restored).findings] == ["original missing"]


def test_only_an_empty_place_is_restored_into(filled: Library, tmp_path: Path, new_database: Callable[[], str]) -> None:
    """A folder or a database that holds something is refused and stays as it was."""
    made = back_up(filled, tmp_path / "backup.zip")
    (tmp_path / "full").mkdir()
    (tmp_path / "full" / "note.txt").write_text("mine")
    with pytest.raises(WrongUse, match="not empty"):
        restore(made.path, tmp_path / "full")
    with pytest.raises(WrongUse, match="not empty"):
        restore(made.path, tmp_path / "full" / "note.txt")
    assert (tmp_path / "full" / "note.txt").read_text() == "mine"
    address = new_database()
    open_library(tmp_path / "other", address).close()
    with pytest.raises(CannotRead, match="database is not empty"):
        restore(made.path, tmp_path / "new", address)
    assert not (tmp_path / "new").exists()
    (tmp_path / "empty").mkdir()
    restore(made.path, tmp_path / "empty")


def rewritten(source: Path, target: Path, change: Callable[[dict[str, bytes]], None]) -> Path:
    """The backup with its members changed by hand."""
    with zipfile.ZipFile(source) as archive:
        members = {name: archive.read(name) for name in archive.namelist()}
    change(members)
    with zipfile.ZipFile(target, "w") as archive:
        for name, content in members.items():
            archive.writestr(name, content)
    return target


def listed(members: dict[str, bytes], name: str, content: bytes) -> None:
    """Add a member and list it, as somebody would who wants it to be believed."""
    manifest = json.loads(members["manifest.json"])
    manifest[name] = {"sha256": hashlib.sha256(content).hexdigest(), "size": len(content)}
    members[name], members["manifest.json"] = content, json.dumps(manifest).encode()


def an_original(members: dict[str, bytes]) -> str:
    return next(name for name in members if name.startswith("originals/"))


def about(members: dict[str, bytes], **more: object) -> None:
    listed(members, "backup.json", json.dumps({**json.loads(members["backup.json"]), **more}).encode())


HARM: dict[str, Callable[[dict[str, bytes]], None]] = {
    "a changed original": lambda m: m.update({an_original(m): b"x" * len(m[an_original(m)])}),
    "a shorter original": lambda m: m.update({an_original(m): m[an_original(m)][:-1]}),
    "a longer original": lambda m: m.update({an_original(m): m[an_original(m)] + b"x" * 5_000_000}),
    "a changed row": lambda m: m.update({"catalogue/cars.jsonl": m["catalogue/cars.jsonl"].replace(b"blue", b"pink")}),
    "a missing member": lambda m: (m.pop(an_original(m)), None)[1],
    "an unlisted member": lambda m: m.update({"originals/ab/" + "0" * 62: b"x"}),
    "no list": lambda m: (m.pop("manifest.json"), None)[1],
    "a list of nonsense": lambda m: m.update({"manifest.json": b"[1, 2"}),
    "a list of lists": lambda m: m.update({"manifest.json": b"[[]]"}),
    "a way out": lambda m: listed(m, "../outside.txt", b"gotcha"),
    "a way out below": lambda m: listed(m, "originals/../../outside.txt", b"gotcha"),
    "an absolute name": lambda m: listed(m, "/tmp/outside.txt", b"gotcha"),
    "a marker": lambda m: listed(m, "library.json", b"{}"),
    "another schema": lambda m: about(m, schema="pullproof.backup/99"),
    "a newer revision": lambda m: about(m, revision="9999"),
    "a strange row": lambda m: listed(m, "catalogue/cars.jsonl", b'{"nonsense": 1}\n'),
    "a row of nothing": lambda m: listed(m, "catalogue/cars.jsonl", b"nonsense\n"),
    "a row that points nowhere": lambda m: listed(
        m, "catalogue/photos.jsonl", m["catalogue/photos.jsonl"].replace(b'"change_id": 1', b'"change_id": 99')
    ),
}  # fmt: skip


@pytest.mark.parametrize("harm", HARM)
def test_a_backup_that_was_touched_is_refused(tmp_path: Path, write_log: Write, sheet: str, harm: str) -> None:
    """Whatever was changed in a backup, restoring stops with one sentence and leaves the place as it was."""
    with open_library(tmp_path / "library") as library:
        with library.transaction() as session:
            car = catalogue.add_car(session, sheet)
            change = catalogue.add(session, ChangeRow(car_id=car.id, what="x", fitted=EVER))
            photo = keep_bytes(library.folder, b"photo")
            row = PhotoRow(change_id=change.id, hash=photo.hash, size=photo.size, file="a.jpg", media_type="image/jpeg")
            catalogue.add(session, row)
        list(import_logs(library, car.id, [write_log(tmp_path / "logs" / "a.csv")], workers=0))
        made = back_up(library, tmp_path / "backup.zip")
    broken = rewritten(made.path, tmp_path / "broken.zip", HARM[harm])
    before = sorted(path for path in tmp_path.rglob("*"))
    with pytest.raises(CannotRead):
        restore(broken, tmp_path / "restored")
    assert sorted(path for path in tmp_path.rglob("*")) == before
    assert not Path("/tmp/outside.txt").exists()


@pytest.mark.parametrize("content", [b"", b"no archive", b"PK\x03\x04 cut off"])
def test_what_is_no_backup_is_refused(tmp_path: Path, content: bytes) -> None:
    """A file that is no archive, or one of something else, is refused in one sentence."""
    (tmp_path / "file.zip").write_bytes(content)
    with pytest.raises(CannotRead, match="no backup of a library"):
        restore(tmp_path / "file.zip", tmp_path / "restored")
    with zipfile.ZipFile(tmp_path / "other.zip", "w") as archive:
        archive.writestr("letter.txt", "dear")
    with pytest.raises(CannotRead, match="no backup of a library"):
        restore(tmp_path / "other.zip", tmp_path / "restored")
    with pytest.raises(CannotRead):
        restore(tmp_path / "nothing.zip", tmp_path / "restored")


def test_a_backup_cut_off_anywhere_is_refused(filled: Library, tmp_path: Path) -> None:
    """A copy that ended too early never restores as if it were whole."""
    whole = back_up(filled, tmp_path / "backup.zip").path.read_bytes()
    for part in (0.1, 0.5, 0.9, 0.999):
        (tmp_path / "cut.zip").write_bytes(whole[: int(part * len(whole))])
        with pytest.raises(CannotRead):
            restore(tmp_path / "cut.zip", tmp_path / "restored")
        assert not (tmp_path / "restored").exists()


def test_a_backup_while_others_write_is_of_one_moment(filled: Library, tmp_path: Path) -> None:
    """While another process adds rows in pairs, every backup holds whole pairs."""
    address = None
    if filled.engine.dialect.name == "postgresql":
        address = filled.engine.url.render_as_string(hide_password=False).replace("+psycopg", "")
    code = (
        "import sys, datetime\nfrom pullproof.library import open_library, catalogue\n"
        "from pullproof.library.schema import ChangeRow, DayRow\nn, day = 0, datetime.datetime(2026, 1, 1)\n"
        "with open_library(sys.argv[1], sys.argv[2] or None) as library:\n"
        "    while True:\n"
        "        n += 1\n"
        "        with library.transaction() as session:\n"
        "            catalogue.add(session, DayRow(car_id=1, label=f'pair {n}', date=day.date()))\n"
        "            catalogue.add(session, ChangeRow(car_id=1, what=f'pair {n}', fitted=day))\n"
        "        if n == 3: print('begun', flush=True)\n"
    )
    command = [sys.executable, "-c", code, str(filled.folder), address or ""]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True) as writer:
        try:
            assert writer.stdout is not None
            assert writer.stdout.readline() == "begun\n"
            made = [back_up(filled, tmp_path / f"backup-{number}.zip") for number in range(3)]
        finally:
            writer.kill()
    assert made[0].rows < made[-1].rows
    for number, backup in enumerate(made):
        restore(backup.path, tmp_path / f"restored-{number}")
        with open_library(tmp_path / f"restored-{number}") as restored, restored.reading() as session:
            days = {day.label for day in catalogue.days(session, 1)} - {"sat"}
            whats = {change.what for change in catalogue.changes(session, 1) if change.what.startswith("pair")}
            assert days == whats != set()


def test_any_tool_can_open_it(filled: Library, tmp_path: Path) -> None:
    """A backup is a plain zip archive: originals as they were, rows as JSON lines."""
    made = back_up(filled, tmp_path / "backup.zip")
    with zipfile.ZipFile(made.path) as archive:
        assert archive.testzip() is None
        (car,) = (json.loads(line) for line in archive.read("catalogue/cars.jsonl").splitlines())
        assert car["name"] == "blue hatch"
        contents = {archive.read(name) for name in archive.namelist() if name.startswith("originals/")}
    assert {(tmp_path / "logs" / f"{number}.csv").read_bytes() for number in range(2)} < contents


def test_a_restored_library_goes_on(filled: Library, tmp_path: Path, write_log: Write) -> None:
    """A restored library takes the next log, and knows those that it has."""
    restore(back_up(filled, tmp_path / "backup.zip").path, tmp_path / "restored")
    write_log(tmp_path / "logs" / "new.csv", 9)
    with open_library(tmp_path / "restored") as restored:
        with restored.reading() as session:
            car = session.get(CarRow, 1)
            assert session.scalar(text("SELECT count(*) FROM library")) == 1
        assert car is not None
        outcomes = list(import_logs(restored, car.id, [tmp_path / "logs"], workers=0))
    assert sorted(outcome.outcome for outcome in outcomes) == ["imported", "there", "there"]
