"""`pullproof library`: what a library holds, whether it is whole, its backup, and logs into it."""

import signal
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from types import FrameType
from typing import Any

import click
from rich.console import Console
from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeRemainingColumn

from pullproof.car import load_car
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.conditions import load_conditions
from pullproof.errors import WrongUse
from pullproof.library import Library, catalogue, default_folder, open_library
from pullproof.library.backup import back_up
from pullproof.library.checking import check_library, repair_library
from pullproof.library.documents import backup_document, check_document, import_document, list_document
from pullproof.library.importing import FileOutcome, import_logs
from pullproof.library.overview import CarOverview, overview
from pullproof.library.restoring import restore
from pullproof.library.schema import CarRow

__all__ = ["command"]

STOPPED = 130

library_option = click.option(
    "--library", "folder", metavar="DIR", help="The library's folder; by default one among your own data."
)
database_option = click.option(
    "--database",
    envvar="PULLPROOF_DATABASE",
    metavar="ADDRESS",
    help="Catalogue in PostgreSQL (postgresql://USER@HOST/NAME); without it SQLite in the folder.",
)


@click.group("library")
def command() -> None:
    """Keep cars, logs and decisions in a folder that remembers: list, check, backup, restore, import."""


@command.command("list")
@library_option
@database_option
@json_option
def list_(folder: str | None, database: str | None, json_file: str | None) -> int:
    """Show the cars of a library with their changes, test days and logs."""
    with _existing(folder, database) as library:
        found = overview(library)
        place = str(library.folder)
    screen = console(json_file)
    screen.print(f"Library: {place}", markup=False, soft_wrap=True)
    if not found:
        screen.print("It is empty. `pullproof library import FOLDER --car CAR.toml` takes logs in.", markup=False)
    for car in found:
        _show_car(car, screen)
    write_json(list_document(place, found), json_file)
    return 0


@command.command("check")
@library_option
@database_option
@click.option("--repair", is_flag=True, help="Make samples anew from their originals, and remove old clutter.")
@json_option
def check(folder: str | None, database: str | None, repair: bool, json_file: str | None) -> int:
    """Hash every file and compare with the catalogue: what is missing, changed, or named by nothing."""
    screen = console(json_file)
    with _existing(folder, database) as library:
        with _bar("Checking", json_file) as step:
            found = check_library(library, step)
        failed: tuple[str, ...] = ()
        if repair and found.findings:
            failed = repair_library(library, found)
            found = check_library(library)
    amount = f"{found.files} files of {found.logs} logs and {found.photos} photos, {found.size / 1e6:.1f} MB"
    verdict = "all there and unchanged" if found.sound else "NOT WHOLE"
    screen.print(f"{amount}: {verdict}.", markup=False, soft_wrap=True)
    for finding in found.findings:
        screen.print(f"- {finding.kind}: {finding.file} {finding.sentence}", markup=False, soft_wrap=True)
    print_list(screen, "Could not be repaired", failed)
    write_json(check_document(found), json_file)
    return 0 if found.sound else 1


@command.command("backup")
@click.argument("file", metavar="FILE")
@library_option
@database_option
@json_option
def backup(file: str, folder: str | None, database: str | None, json_file: str | None) -> int:
    """Write the whole library to one file, while others may go on using it."""
    screen = console(json_file)
    with _existing(folder, database) as library, _bar("Backing up", json_file) as step:
        made = back_up(library, file, step)
    screen.print(
        f"{made.path}: {made.rows} rows and {made.files} files, {made.size / 1e6:.1f} MB.", markup=False, soft_wrap=True
    )
    print_list(screen, "Missing from the library and so from the backup", made.missing)
    write_json(backup_document(made), json_file)
    return 1 if made.missing else 0


@command.command("restore")
@click.argument("file", metavar="FILE")
@click.option("--library", "folder", required=True, metavar="DIR", help="Where to: an empty or a new folder.")
@database_option
@json_option
def restore_(file: str, folder: str, database: str | None, json_file: str | None) -> int:
    """Make a library from a backup, every byte checked on the way; nothing is ever overwritten."""
    screen = console(json_file)
    with _bar("Restoring", json_file) as step:
        made = restore(file, folder, database, step)
    screen.print(f"{folder}: {made.rows} rows and {made.files} files of {made.made_at}.", markup=False, soft_wrap=True)
    write_json(backup_document(made), json_file)
    return 0


@command.command("import")
@click.argument("paths", nargs=-1, required=True, metavar="PATH...")
@click.option("--car", required=True, metavar="CAR", help="Car sheet (TOML), or the name of a car in the library.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days, weather and changes (TOML).")
@click.option("--replace-sheet", is_flag=True, help="Give the car in the library the sheet named with --car.")
@click.option("--workers", type=click.IntRange(0, 64), help="Processes that read; 0 reads in this one.")
@library_option
@database_option
@json_option
def import_(
    paths: tuple[str, ...],
    car: str,
    conditions_file: str | None,
    replace_sheet: bool,
    workers: int | None,
    folder: str | None,
    database: str | None,
    json_file: str | None,
) -> int:
    """Take logs into a library: files, and folders with all below them. Begun again, it goes on where it stopped."""
    screen = console(json_file)
    with open_library(folder or default_folder(), database) as library:
        row, said = _car(library, car, replace_sheet=replace_sheet)
        remarks = [*said, *_undated(conditions_file)]
        outcomes: list[FileOutcome] = []
        with _until_stopped() as should_stop, _lines(screen, json_file) as show:
            for outcome in import_logs(
                library, row.id, paths, conditions=conditions_file, workers=workers, should_stop=should_stop
            ):
                outcomes.append(outcome)
                show(outcome)
            stopped = should_stop()
        place = str(library.folder)
    count = {kind: sum(outcome.outcome == kind for outcome in outcomes) for kind in ("imported", "there", "failed")}
    screen.print(
        f"{count['imported']} imported, {count['there']} there already, {count['failed']} failed.", markup=False
    )
    print_list(screen, "Failed", [outcome.sentence for outcome in outcomes if outcome.outcome == "failed"])
    print_list(screen, "Note", remarks)
    write_json(import_document(place, row.name, outcomes, stopped=stopped), json_file)
    if stopped:
        left = outcomes[-1].total - len(outcomes) if outcomes else len(paths)
        print(  # noqa: T201  (beside JSON on standard output)
            f"pullproof: stopped with {left} files to go; the same command goes on from there.", file=sys.stderr
        )
        return STOPPED
    return 3 if count["failed"] else 0


@contextmanager
def _existing(folder: str | None, database: str | None) -> Iterator[Library]:
    """A library that is there: looking must not make one."""
    place = Path(folder) if folder else default_folder()
    if not (place / "library.json").exists():
        raise WrongUse(
            "there is no library here",
            where=str(place),
            advice="Name it with --library DIR; `pullproof library import` makes one.",
        )
    with open_library(place, database) as library:
        yield library


def _car(library: Library, said: str, *, replace_sheet: bool) -> tuple[CarRow, list[str]]:
    """The car of that name, or that of that sheet, added where the library does not know it; and what to say of it."""
    with library.transaction() as session:
        known = {car.name: car for car in catalogue.cars(session)}
        if said in known:
            return known[said], []
        if not Path(said).exists() and not said.endswith(".toml"):
            return catalogue.car_named(session, said), []
        name, sheet = load_car(said).name, Path(said).read_text(encoding="utf-8-sig")
        if name not in known:
            return catalogue.add_car(session, sheet), []
        if replace_sheet:
            return catalogue.edit_car(session, known[name], sheet), []
        differs = known[name].sheet != sheet
        kept = f'the library has its own sheet of "{name}", which was used; --replace-sheet takes {said} instead'
        return known[name], [kept] if differs else []


def _undated(conditions_file: str | None) -> list[str]:
    """Changes that cannot be kept, because nobody says when they were made."""
    if conditions_file is None:
        return []
    return [
        f'the change "{change.what}" has no date in {conditions_file} and was left out: add a line with when'
        for change in load_conditions(conditions_file).changes
        if change.when is None
    ]


@contextmanager
def _until_stopped() -> Iterator[Callable[[], bool]]:
    """Ctrl-C asks to stop after what is in hand; a second one stops at once. Both lose nothing that was shown."""
    asked = False

    def ask(_: int, __: FrameType | None) -> None:
        nonlocal asked
        if asked:
            raise KeyboardInterrupt
        asked = True
        print("pullproof: stopping after the files in hand; Ctrl-C again stops at once.", file=sys.stderr)  # noqa: T201

    before = signal.signal(signal.SIGINT, ask)
    try:
        yield lambda: asked
    finally:
        signal.signal(signal.SIGINT, before)


@contextmanager
def _bar(what: str, json_file: str | None) -> Iterator[Callable[[int, int], None] | None]:
    """A bar on a terminal, nothing elsewhere."""
    screen = Console(stderr=True, quiet=json_file == "-")
    if not screen.is_terminal:
        yield None
        return
    with _progress(screen) as progress:
        task = progress.add_task(what, total=None, file="")
        yield lambda done, total: progress.update(task, completed=done, total=total)


@contextmanager
def _lines(screen: Console, json_file: str | None) -> Iterator[Callable[[FileOutcome], None]]:
    """A line for each file once it is safe on the disk, and on a terminal a bar below them."""

    def line(outcome: FileOutcome) -> None:
        pulls = f" ({outcome.pulls} pulls, {outcome.used} used)" if outcome.outcome == "imported" else ""
        said = f": {outcome.sentence}" if outcome.sentence else ""
        screen.print(
            f"{outcome.done}/{outcome.total} {outcome.outcome} {outcome.path}{pulls}{said}",
            markup=False,
            soft_wrap=True,
        )

    if not screen.is_terminal or json_file == "-":
        yield line
        return
    with _progress(screen) as progress:
        task = progress.add_task("Importing", total=None, file="")

        def show(outcome: FileOutcome) -> None:
            line(outcome)
            progress.update(task, completed=outcome.done, total=outcome.total, file=Path(outcome.path).name)

        yield show


def _progress(screen: Console) -> Progress:
    columns: list[Any] = [TextColumn("{task.description}"), BarColumn(), MofNCompleteColumn(), TimeRemainingColumn()]
    return Progress(*columns, TextColumn("{task.fields[file]}", markup=False), console=screen, transient=True)


def _show_car(car: CarOverview, screen: Console) -> None:
    screen.print(f"\n{car.name}", style="bold", markup=False)
    screen.print(
        f"{car.changes} changes, {len(car.days)} test days, {car.logs} logs, "
        f"{car.pulls} pulls of which {car.used} are used",
        markup=False,
    )
    if car.days:
        listing = Listing("date", "day", "logs", "pulls", "used", "build", numbers=(2, 3, 4))
        for day in car.days:
            date = day.date.isoformat() if day.date else "?"
            builds = "; ".join(", ".join(build) if build else "as it came" for build in day.builds)
            listing.add(date, day.label, str(day.logs), str(day.pulls), str(day.used), builds or "not known")
        screen.print(listing.table)
