"""Everything that can go wrong, on one page.

    PullproofError
    ├── CannotAnswer   exit status 1   the input was read, the question cannot be answered
    ├── WrongUse       exit status 2   an option, a sheet or a call makes no sense
    └── CannotRead     exit status 3   a file is not there, not a log, or broken

An error carries *what* went wrong, *where* (file, and the place in it) and *advice* (what to do next) as
fields, so that the command line, a page and JSON can each show them in their own way. The sentence is made
here and nowhere else. Errors are raised deep down and caught at the outer doors only.
"""

import unicodedata
from typing import ClassVar

__all__ = ["CannotAnswer", "CannotRead", "PullproofError", "WrongUse"]

BREAKING = ("Cc", "Zl", "Zp")
"""Kinds of signs that break a line or move the cursor: controls, and the separators of lines and paragraphs."""


class PullproofError(Exception):
    """Base of all errors that a user can cause and mend."""

    exit_status: ClassVar[int] = 1

    def __init__(self, what: str, *, where: str = "", advice: str = "") -> None:
        self.what = what
        self.where = where
        self.advice = advice
        super().__init__(what, where, advice)

    def __str__(self) -> str:
        sentence = f"{self.where}: {self.what}" if self.where else self.what
        if not sentence.endswith((".", "!", "?")):
            sentence += "."
        return _on_one_line(f"{sentence} {self.advice}".rstrip())


def _on_one_line(sentence: str) -> str:
    """A file may be called anything: what would break the line is spelled out."""
    return "".join(
        sign.encode("unicode_escape").decode("ascii") if unicodedata.category(sign) in BREAKING else sign
        for sign in sentence
    )


class CannotAnswer(PullproofError):
    """The input was read, but it does not hold what the question needs."""

    exit_status = 1


class WrongUse(PullproofError):
    """An option, a sheet or an argument makes no sense."""

    exit_status = 2


class CannotRead(PullproofError):
    """A file cannot be opened or is not what it has to be."""

    exit_status = 3
