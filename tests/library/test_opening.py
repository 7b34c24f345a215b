"""Opening a library: what becomes one, what is refused, and what is remembered."""

import json
import sqlite3
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest
from sqlalchemy import make_url, text

from pullproof.errors import CannotAnswer, CannotRead, WrongUse
from pullproof.library import Library, catalogue, default_folder, open_library
from pullproof.library.schema import CarRow


def test_a_library_is_made_and_found_again(tmp_path: Path, database: str | None, sheet: str) -> None:
    """What was put into a new library is there when it is opened again, by its folder alone."""
    with open_library(tmp_path / "deep" / "library", database) as library, library.transaction() as session:
        catalogue.add_car(session, sheet)
    with open_library(tmp_path / "deep" / "library") as again, again.reading() as session:
        assert [car.name for car in catalogue.cars(session)] == ["blue hatch"]
        assert again.id == library.id


def test_an_empty_folder_becomes_a_library(tmp_path: Path) -> None:
    """A folder that somebody made beforehand may be used."""
    with open_library(tmp_path) as library:
        assert library.folder == tmp_path


def test_a_folder_with_something_else_is_refused(tmp_path: Path) -> None:
    """A folder of other files is never filled with ours, and the sentence names one of them."""
    (tmp_path / "holiday.jpg").write_bytes(b"x")
    with pytest.raises(CannotRead, match=r"holiday\.jpg and no library\.json"):
        open_library(tmp_path)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["holiday.jpg"]


def test_a_file_is_no_library(tmp_path: Path) -> None:
    """A path that leads to a file is refused in one sentence."""
    (tmp_path / "file").write_bytes(b"")
    with pytest.raises(CannotRead, match="cannot be opened"):
        open_library(tmp_path / "file")


@pytest.mark.parametrize("content", ["", "[]", "{", '{"id": 5, "format": 1}', '{"id": "a", "format": "1"}'])
def test_a_damaged_marker_is_named(tmp_path: Path, content: str) -> None:
    """A marker that says nothing sensible is refused; nothing is guessed."""
    open_library(tmp_path).close()
    (tmp_path / "library.json").write_text(content)
    with pytest.raises(CannotRead, match=r"library\.json is damaged"):
        open_library(tmp_path)


def test_a_newer_library_is_left_alone(tmp_path: Path) -> None:
    """A library that a newer version wrote is refused, by its marker and by its tables alike."""
    open_library(tmp_path).close()
    marker = tmp_path / "library.json"
    said = json.loads(marker.read_text())
    marker.write_text(json.dumps({**said, "format": said["format"] + 1}))
    with pytest.raises(CannotRead, match="newer version of pullproof"):
        open_library(tmp_path)
    marker.write_text(json.dumps(said))
    with sqlite3.connect(tmp_path / "catalogue.sqlite") as connection:
        connection.execute("UPDATE alembic_version SET version_num = '9999'")
    connection.close()
    with pytest.raises(CannotRead, match="newer version of pullproof"):
        open_library(tmp_path)


def test_a_catalogue_that_is_no_database_is_named(tmp_path: Path) -> None:
    """A catalogue file full of something else is refused in one sentence."""
    open_library(tmp_path).close()
    for file in tmp_path.glob("catalogue.sqlite*"):
        file.unlink()
    (tmp_path / "catalogue.sqlite").write_bytes(b"no database at all " * 100)
    with pytest.raises(CannotRead, match="cannot be opened"):
        open_library(tmp_path)


def test_a_database_with_other_tables_is_refused(tmp_path: Path, new_database: Callable[[], str]) -> None:
    """A database that somebody uses for something else is never filled with our tables."""
    import psycopg

    address = new_database()
    with psycopg.connect(address) as connection:
        connection.execute("CREATE TABLE invoices (id int)")
    with pytest.raises(CannotRead, match="other tables"):
        open_library(tmp_path / "library", address)


def test_a_catalogue_of_another_library_is_refused(tmp_path: Path, new_database: Callable[[], str]) -> None:
    """Two folders must not share one catalogue: each would miss the files of the other."""
    address = new_database()
    open_library(tmp_path / "one", address).close()
    with pytest.raises(WrongUse, match="another library"):
        open_library(tmp_path / "two", address)


@pytest.mark.parametrize("address", ["nonsense", "mysql://host/name", "sqlite:///somewhere.db", ""])
def test_only_postgresql_has_an_address(tmp_path: Path, address: str) -> None:
    """Another kind of address is refused with the form that is wanted."""
    if address == "":
        open_library(tmp_path, address or None).close()
        return
    with pytest.raises(WrongUse, match="postgresql://USER@HOST/DATABASE"):
        open_library(tmp_path, address)


def test_a_password_is_used_and_never_kept(tmp_path: Path, new_database: Callable[[], str]) -> None:
    """The folder remembers where its catalogue is, without the password; nor does an error show it."""
    address = new_database().replace("postgres@", "postgres:secret-word@")
    open_library(tmp_path, address).close()
    remembered = json.loads((tmp_path / "library.json").read_text())["catalogue"]
    assert "secret-word" not in remembered
    assert make_url(remembered) == make_url(address.replace(":secret-word", ""))
    open_library(tmp_path, f"{address}&password=secret-word").close()
    assert "secret-word" not in (tmp_path / "library.json").read_text()
    gone = address.replace("/postgres?", "/closed?")
    with pytest.raises(CannotRead, match="closed") as caught:
        open_library(tmp_path, gone)
    assert "secret-word" not in str(caught.value)


def test_sqlite_keeps_what_it_acknowledges(plain_library: Library) -> None:
    """Journal, flushing and references are set on every connection as a power cut demands (SQLite documentation)."""
    with plain_library.reading() as session:
        said = {
            name: session.scalar(text(f"PRAGMA {name}")) for name in ("journal_mode", "synchronous", "foreign_keys")
        }
    assert said == {"journal_mode": "wal", "synchronous": 2, "foreign_keys": 1}


def test_a_failed_block_changes_nothing(library: Library, sheet: str) -> None:
    """All of a transaction counts or nothing of it."""

    def fail() -> None:
        with library.transaction() as session:
            catalogue.add_car(session, sheet)
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    with library.reading() as session:
        assert catalogue.cars(session) == []


def test_reading_does_not_wait_for_a_writer(library: Library, sheet: str) -> None:
    """Whoever looks while another writes sees the state before, at once."""
    with library.transaction() as writer:
        catalogue.add_car(writer, sheet)
        with library.reading() as reader:
            assert catalogue.cars(reader) == []
    with library.reading() as reader:
        assert len(catalogue.cars(reader)) == 1


def test_a_reader_sees_one_state(library: Library, sheet: str) -> None:
    """What is written between two looks of one block does not show in the second."""
    with library.reading() as reader:
        assert catalogue.cars(reader) == []
        with library.transaction() as writer:
            catalogue.add_car(writer, sheet)
        assert catalogue.cars(reader) == []


def test_a_catalogue_that_is_gone_is_one_sentence(plain_library: Library) -> None:
    """A database that fails in the middle of work gives one of our errors, not a traceback."""
    with pytest.raises(CannotAnswer, match="Nothing was changed"), plain_library.transaction() as session:
        session.execute(text("SELECT * FROM no_such_table"))


def test_many_make_one_library(tmp_path: Path) -> None:
    """Processes that open a new library at the same moment end up with the same one."""
    code = (
        "import sys\nfrom pullproof.library import open_library, catalogue\n"
        "with open_library(sys.argv[1]) as library:\n"
        "    with library.transaction() as session:\n"
        "        catalogue.add_car(session, f'name = \"{sys.argv[2]}\"')\n"
        "    print(library.id)\n"
    )
    folder = str(tmp_path / "library")
    running = [
        subprocess.Popen([sys.executable, "-c", code, folder, f"car {number}"], stdout=subprocess.PIPE, text=True)
        for number in range(4)
    ]
    said = {process.communicate(timeout=60)[0] for process in running}
    assert [process.returncode for process in running] == [0] * 4
    assert len(said) == 1
    with open_library(folder) as library, library.reading() as session:
        assert len(catalogue.cars(session)) == 4


def test_the_usual_place_is_among_the_users_data(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Where no folder is named, the platform says where a user's data live (XDG base directory specification)."""
    if sys.platform != "linux":
        pytest.skip("the place differs by platform; this asks for that of Linux")
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert default_folder() == tmp_path / "pullproof" / "library"


def test_rows_outlive_their_block(library: Library, sheet: str) -> None:
    """A row can be read after its transaction, where its page is made."""
    with library.transaction() as session:
        row = catalogue.add_car(session, sheet)
    assert (row.name, row.deleted_at) == ("blue hatch", None)
    with library.reading() as session:
        found = catalogue.get(session, CarRow, row.id)
    assert found.made_at.tzinfo is not None
    assert abs((found.made_at - row.made_at).total_seconds()) < 1e-3
