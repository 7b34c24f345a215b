"""Files by their content: what is kept is what came, whole or not at all."""

import hashlib
import os
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from pullproof.errors import CannotRead
from pullproof.library import Library
from pullproof.library.durable import make_folder, temporary_file, write_durably
from pullproof.library.files import (
    arranged,
    clear_incoming,
    hash_file,
    keep_bytes,
    keep_file,
    original_path,
    received,
    settle,
)

ABC = "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
"""SHA-256 of "abc" as printed in FIPS 180-2, appendix B.1."""


def test_a_file_lies_under_its_published_hash(plain_library: Library) -> None:
    """The name of an original is the SHA-256 that anybody can compute (FIPS 180-2, appendix B.1)."""
    kept = keep_bytes(plain_library.folder, b"abc")
    assert (kept.hash, kept.size) == (ABC, 3)
    path = plain_library.folder / "originals" / "ba" / ABC[2:]
    assert original_path(plain_library.folder, ABC) == path
    assert path.read_bytes() == b"abc"


@settings(max_examples=30, suppress_health_check=[HealthCheck.function_scoped_fixture], deadline=None)
@given(content=st.binary(max_size=3000))
def test_bytes_come_back_as_they_were(plain_library: Library, tmp_path: Path, content: bytes) -> None:
    """Any bytes, from a file or from memory, come back one for one, and under the same name."""
    source = tmp_path / "source"
    source.write_bytes(content)
    kept = keep_file(plain_library.folder, source)
    assert kept == keep_bytes(plain_library.folder, content) == hash_file(source)
    assert kept.hash == hashlib.sha256(content).hexdigest()
    assert original_path(plain_library.folder, kept.hash).read_bytes() == content
    assert not list((plain_library.folder / "incoming").iterdir())


def test_keeping_again_heals(plain_library: Library) -> None:
    """An original that was damaged since is put right by the same file."""
    kept = keep_bytes(plain_library.folder, b"abc")
    original_path(plain_library.folder, kept.hash).write_bytes(b"xyz")
    keep_bytes(plain_library.folder, b"abc")
    assert original_path(plain_library.folder, kept.hash).read_bytes() == b"abc"


def test_what_is_not_settled_is_gone(plain_library: Library, tmp_path: Path) -> None:
    """A file that was received and turned out to be no log leaves nothing behind."""
    (tmp_path / "source").write_bytes(b"abc")
    with received(plain_library.folder, tmp_path / "source") as (temporary, kept):
        assert temporary.read_bytes() == b"abc"
    assert not temporary.exists()
    with received(plain_library.folder, tmp_path / "source") as (temporary, kept):
        settle(plain_library.folder, temporary, kept)
    assert original_path(plain_library.folder, kept.hash).exists()


def test_a_file_that_cannot_be_read_is_named(plain_library: Library, tmp_path: Path) -> None:
    """A missing file and a folder give one sentence with the path."""
    for path in (tmp_path / "nothing", tmp_path):
        with pytest.raises(CannotRead, match=str(path)):
            keep_file(plain_library.folder, path)
        with pytest.raises(CannotRead, match=str(path)):
            hash_file(path)


def test_companions_lie_beside_the_original(plain_library: Library) -> None:
    """A log that needs a second file finds it beside itself; one that needs none stays where it is."""
    main, beside = keep_bytes(plain_library.folder, b"main"), keep_bytes(plain_library.folder, b"beside")
    lies = original_path(plain_library.folder, main.hash)
    with arranged(plain_library.folder, lies, "drive.mf4", {"car.dbc": beside.hash}) as path:
        assert path.name == "drive.mf4"
        assert path.read_bytes() == b"main"
        assert (path.parent / "car.dbc").read_bytes() == b"beside"
    assert not path.exists()
    with arranged(plain_library.folder, lies, "drive.csv", {}) as path:
        assert path == lies


def test_old_left_overs_are_cleared_and_young_ones_stay(plain_library: Library) -> None:
    """What an import that runs now is writing is never taken from under it."""
    incoming = plain_library.folder / "incoming"
    (incoming / "new-old").write_bytes(b"x")
    (incoming / "new-folder").mkdir()
    (incoming / "new-young").write_bytes(b"x")
    long_ago = time.time() - 3 * 86_400
    for name in ("new-old", "new-folder"):
        os.utime(incoming / name, (long_ago, long_ago))
    clear_incoming(plain_library.folder)
    assert [path.name for path in incoming.iterdir()] == ["new-young"]


def test_a_name_has_all_of_its_content_or_is_not_there(tmp_path: Path) -> None:
    """While a file is written under a name again and again, a reader sees one whole version or the other."""
    code = (
        "import sys\nfrom pathlib import Path\nfrom pullproof.library.durable import write_durably\n"
        "while True:\n    for letter in b'ab': write_durably(Path(sys.argv[1]), bytes([letter]) * 200_000)\n"
    )
    path = tmp_path / "file"
    write_durably(path, b"a" * 200_000)
    with subprocess.Popen([sys.executable, "-c", code, str(path)]) as writer:
        try:
            seen = {bytes(path.read_bytes()) for _ in range(300)}
        finally:
            writer.kill()
    assert seen <= {b"a" * 200_000, b"b" * 200_000}


def test_a_new_file_never_goes_over_another(tmp_path: Path) -> None:
    """Of two that write a new file at once, one is told that it came second."""
    write_durably(tmp_path / "file", b"first", new=True)
    with pytest.raises(FileExistsError):
        write_durably(tmp_path / "file", b"second", new=True)
    assert [path.name for path in tmp_path.iterdir()] == ["file"]
    assert (tmp_path / "file").read_bytes() == b"first"


def test_a_block_that_fails_leaves_no_file(tmp_path: Path) -> None:
    """An error while writing takes the half file with it."""

    def fail() -> None:
        with temporary_file(tmp_path) as (_, file):
            file.write(b"half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        fail()
    assert not list(tmp_path.iterdir())


def test_folders_are_flushed_into_their_parents(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A new folder, and a file that is renamed into it, are flushed by the folder that holds each (POSIX fsync)."""
    if os.name == "nt":
        pytest.skip("Windows flushes no folders")
    flushed: list[str] = []
    real = os.fsync

    def spy(handle: int) -> None:
        flushed.append(str(Path(f"/proc/self/fd/{handle}").readlink()))
        real(handle)

    if not Path("/proc/self/fd").is_dir():
        pytest.skip("no /proc to see which file a handle belongs to")
    monkeypatch.setattr(os, "fsync", spy)
    make_folder(tmp_path / "one" / "two")
    assert flushed == [str(tmp_path), str(tmp_path / "one")]
    flushed.clear()
    write_durably(tmp_path / "one" / "file", b"x")
    assert flushed[0].startswith(str(tmp_path / "one" / "new-"))
    assert flushed[1:] == [str(tmp_path / "one")]
