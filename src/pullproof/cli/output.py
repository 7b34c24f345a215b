"""What the commands share: JSON to a file or to standard output, and the console for everything else."""

import json
import sys
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click
from rich.console import Console
from rich.table import Table
from rich.text import Text

from pullproof.errors import PullproofError, WrongUse

__all__ = ["Listing", "console", "each_file", "json_option", "print_list", "write_json"]

Result = TypeVar("Result")

json_option = click.option(
    "--json",
    "json_file",
    metavar="FILE",
    help="Write the result as JSON to FILE; - for standard output, which then holds nothing else.",
)


class _Screen(Console):
    """A console that leaves a closed pipe to the one door instead of ending with a status of its own."""

    def on_broken_pipe(self) -> None:
        """Pass on what was caught: this runs inside the handler of the broken pipe."""
        raise BrokenPipeError


def console(json_file: str | None) -> Console:
    """The console for people: silent where standard output belongs to JSON."""
    return _Screen(quiet=json_file == "-", highlight=False, soft_wrap=False)


def write_json(document: Mapping[str, Any], json_file: str | None) -> None:
    """Write `document` where `--json` says.

    Raises
    ------
    WrongUse
        The file cannot be written.
    """
    if json_file is None:
        return
    if json_file == "-":
        if sys.stdout is None:
            raise WrongUse("standard output is closed", where="--json -", advice="Name a file, or open it.")
        # A screen of few letters would lose those of a file name: there JSON spells them out.
        few_letters = (sys.stdout.encoding or "").lower().replace("-", "") != "utf8"
        sys.stdout.write(json.dumps(document, indent=2, ensure_ascii=few_letters, allow_nan=False) + "\n")
        sys.stdout.flush()
        return
    text = json.dumps(document, indent=2, ensure_ascii=False, allow_nan=False) + "\n"
    try:
        Path(json_file).write_text(text, encoding="utf-8")
    except OSError as error:
        raise WrongUse(
            f"the JSON cannot be written ({error.strerror})",
            where=json_file,
            advice="Name a file in a folder of yours.",
        ) from error


def print_list(screen: Console, heading: str, lines: Sequence[str]) -> None:
    """A heading with its lines; nothing where there is no line."""
    if lines:
        screen.print(f"{heading}:", markup=False)
    for line in lines:
        screen.print(f"- {line}", markup=False)


class Listing:
    """A table on the console whose cells are plain text: a header of a log is never taken for markup."""

    def __init__(self, *columns: str, numbers: tuple[int, ...] = ()) -> None:
        self.table = Table(box=None, pad_edge=False)
        for index, name in enumerate(columns):
            self.table.add_column(name, justify="right" if index in numbers else "left", overflow="fold")

    def add(self, *cells: str) -> None:
        """Add a row."""
        self.table.add_row(*(Text(cell) for cell in cells))


def each_file(paths: tuple[str, ...], work: Callable[[str], Result]) -> tuple[list[Result], int]:
    """Do `work` on every path: one bad file is named at once and does not cost the others.

    Returns the results and the worst exit status met.
    """
    results: list[Result] = []
    status = 0
    for path in paths:
        try:
            results.append(work(path))
        except PullproofError as error:
            print(f"pullproof: {error}", file=sys.stderr)  # noqa: T201
            status = max(status, error.exit_status)
    return results, status
