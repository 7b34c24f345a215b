"""What visitors send is bounded, kept under harmless names, and read as what it is."""

import pytest
from tests.web.conftest import TOKEN

from pullproof.library import catalogue
from pullproof.web.imports import safe_name
from pullproof.web.security import csrf_token


@pytest.mark.parametrize(
    ("given", "kept"),
    [
        ("run-1.csv", "run-1.csv"),
        ("../../etc/passwd", "passwd"),
        ("C:\\logs\\run.csv", "run.csv"),
        ("/absolute/run.csv", "run.csv"),
        ("..", "log"),
        ("", "log"),
        (".hidden", "hidden"),
        ("a\x00b\n.csv", "ab.csv"),
        ("run?.csv", "run.csv"),
        ("наддув 1.csv", "наддув 1.csv"),
    ],
)
def test_name_of_a_file_is_a_bare_harmless_name(given, kept):
    """No folder, control character or device name of a sender's machine gets into ours."""
    assert safe_name(given) == kept


def test_long_name_keeps_its_ending():
    """A name longer than a file system takes is cut, and still says what kind of file it is."""
    name = safe_name("x" * 4000 + ".csv")
    assert len(name) <= 120
    assert name.endswith(".csv")


def test_upload_without_a_file_says_what_to_do(client, library):
    """A form without a file is answered with a sentence, not an error."""
    with library.transaction() as session:
        catalogue.add_car(session, 'name = "blue hatch"\n')
    form = {"csrf": csrf_token(TOKEN), "date": "2026-05-09"}
    answer = client.post("/cars/1/upload", data=form, files={"logs": ("", b"")})
    assert answer.status_code == 400
    assert "no log was chosen" in answer.text.casefold()
    assert not list((library.folder / "incoming").iterdir())


def test_upload_that_is_no_log_is_named_and_leaves_nothing(client, library):
    """A picture under the name of a log is refused in a sentence that names it."""
    with library.transaction() as session:
        catalogue.add_car(session, 'name = "blue hatch"\n')
    form = {"csrf": csrf_token(TOKEN), "date": "2026-05-09"}
    picture = b"\x89PNG\r\n\x1a\n" + bytes(range(256)) * 20
    answer = client.post("/cars/1/upload", data=form, files={"logs": ("../run.csv", picture, "text/csv")})
    place = answer.headers["location"]
    for _ in range(200):
        text = client.get(place).text
        if "Reading the logs" not in text:
            break
    assert "Not read" in text
    assert "run.csv" in text
    with library.reading() as session:
        assert catalogue.logs(session, 1) == []
