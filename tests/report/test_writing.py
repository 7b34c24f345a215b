import errno
from pathlib import Path

import pytest

from pullproof.errors import WrongUse
from pullproof.report.writing import check_report_path, write_report


@pytest.mark.parametrize(
    ("name", "start"), [("r.html", b"<!doctype html>"), ("r.PDF", b"%PDF-1."), ("a b.png", b"\x89PNG")]
)
def test_the_end_of_the_name_decides(tmp_path, realistic_report, name, start) -> None:
    """The file is what its name says, in whatever case, and nothing else is left in the folder."""
    write_report(realistic_report, tmp_path / name)
    assert (tmp_path / name).read_bytes().startswith(start)
    assert [path.name for path in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize("name", ["report.docx", "report", "report.html.zip", ".html"])
def test_other_names_are_refused(tmp_path, realistic_report, name) -> None:
    """A name that ends otherwise is wrong use, and the sentence lists what there is."""
    with pytest.raises(WrongUse, match=r"End the name in \.html, \.pdf, \.png"):
        write_report(realistic_report, tmp_path / name)
    assert not list(tmp_path.iterdir())


def test_a_missing_folder_is_named(tmp_path, realistic_report) -> None:
    """The sentence says which folder is missing and what to do."""
    path = tmp_path / "not" / "there" / "r.html"
    with pytest.raises(WrongUse) as caught:
        write_report(realistic_report, path)
    assert str(path.parent) in str(caught.value)
    assert "Make it first" in str(caught.value)


def test_a_folder_is_no_report(tmp_path) -> None:
    """A folder that is called like a report is not overwritten."""
    (tmp_path / "r.html").mkdir()
    with pytest.raises(WrongUse, match="this is a folder"):
        check_report_path(tmp_path / "r.html")


def test_a_full_disk_leaves_the_old_report(tmp_path, realistic_report, monkeypatch) -> None:
    """Where writing fails half way the old file is whole, no half is left, and the sentence says why."""
    path = tmp_path / "r.html"
    path.write_text("old", encoding="utf-8")

    def fail(self, target):
        raise OSError(errno.ENOSPC, "No space left on device")

    monkeypatch.setattr(Path, "replace", fail)
    with pytest.raises(WrongUse, match="No space left on device"):
        write_report(realistic_report, path)
    assert path.read_text(encoding="utf-8") == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_an_old_report_is_replaced(tmp_path, realistic_report) -> None:
    """The new report stands where the old one stood."""
    path = tmp_path / "r.html"
    path.write_text("old", encoding="utf-8")
    write_report(realistic_report, path)
    assert path.read_bytes().startswith(b"<!doctype html>")
