"""Write a report where it is wanted, whole or not at all."""

import os
import secrets
from collections.abc import Callable, Mapping
from contextlib import suppress
from pathlib import Path
from typing import Final

from pullproof.errors import WrongUse
from pullproof.report.html import to_html
from pullproof.report.model import Report
from pullproof.report.pdf import to_pdf, to_png

__all__ = ["SUFFIXES", "check_report_path", "replace_file", "write_report"]


def _html_bytes(report: Report) -> bytes:
    return to_html(report).encode()


_WRITERS: Final[Mapping[str, Callable[[Report], bytes]]] = {".html": _html_bytes, ".pdf": to_pdf, ".png": to_png}

SUFFIXES: Final = tuple(_WRITERS)
"""Kinds of report, by the end of the file's name."""


def check_report_path(path: str | Path) -> Path:
    """The path, if a report can be written there: worth knowing before an hour of work.

    Raises
    ------
    WrongUse
        The name ends in none of `SUFFIXES`, or the folder is missing, or something that is no file stands there.
    """
    path = Path(path)
    if path.suffix.lower() not in SUFFIXES:
        raise WrongUse(
            f'a report cannot be written as "{path.suffix or path.name}"',
            where=str(path),
            advice=f"End the name in {', '.join(SUFFIXES)}.",
        )
    if path.is_dir():
        raise WrongUse("this is a folder", where=str(path), advice="Name a file in it.")
    if not path.parent.is_dir():
        raise WrongUse(f'the folder "{path.parent}" does not exist', where=str(path), advice="Make it first.")
    return path


def write_report(report: Report, path: str | Path) -> None:
    """Write the report as the end of the file's name says; a file that was there is replaced in one step.

    Raises
    ------
    WrongUse
        The name ends in none of `SUFFIXES`, or the folder is missing or may not be written to.
    """
    path = check_report_path(path)
    replace_file(path, _WRITERS[path.suffix.lower()](report))


def replace_file(path: Path, content: bytes) -> None:
    """Write a file whole or not at all; one that was there is replaced in one step.

    Raises
    ------
    WrongUse
        It cannot be written.
    """
    try:
        _replace(path, content)
    except OSError as error:
        raise WrongUse(
            f"the report cannot be written ({error.strerror})",
            where=str(path),
            advice="Name a file in a folder of yours, on a disk with room.",
        ) from error


def _replace(path: Path, content: bytes) -> None:
    """A stop half way leaves the old file as it was and no half of a new one under its name."""
    unfinished = path.with_name(f".pullproof-{secrets.token_hex(8)}{path.suffix}")
    try:
        with unfinished.open("xb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
        unfinished.replace(path)
    except BaseException:
        with suppress(OSError):
            unfinished.unlink()
        raise
