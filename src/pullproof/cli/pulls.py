"""`pullproof pulls`: the pulls found in the files; used or not, and why."""

from collections.abc import Sequence
from pathlib import Path

import click

from pullproof.analysis.cautions import CAUTIONS
from pullproof.car import load_car
from pullproof.cli.output import Listing, console, each_file, json_option, print_list, write_json
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull, find_pulls
from pullproof.reading import read_log
from pullproof.report.documents import pulls_document

__all__ = ["command"]


@click.command("pulls")
@click.argument("logs", nargs=-1, required=True, metavar="LOG...")
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML).")
@json_option
def command(logs: tuple[str, ...], car_file: str, json_file: str | None) -> int:
    """Show the pulls found in the files; used or not, and why."""
    car = load_car(car_file)

    def pulls_of(path: str) -> tuple[str, tuple[Pull, ...]]:
        log = read_log(Path(path), car)
        return log.file, find_pulls(log, car)

    found, status = each_file(logs, pulls_of)
    write_json(pulls_document(found), json_file)
    screen = console(json_file)
    for file, pulls in found:
        screen.print(f"{file}: {len(pulls)} found, {sum(pull.used for pull in pulls)} used", markup=False)
        if pulls:
            screen.print(_listing(pulls).table)
        print_list(screen, "Taken for granted", _assumptions(pulls))
        screen.print()
    if found:
        print_list(screen, "Cautions", CAUTIONS)
    if status == 0 and not any(pull.used for _, pulls in found for pull in pulls):
        raise CannotAnswer(
            f"no pull that can be used in {', '.join(file for file, _ in found)}",
            advice="A pull is full pedal in one gear through at least a third of the useful engine speeds, "
            "on a closed course or a dynamometer.",
        )
    return status


def _listing(pulls: Sequence[Pull]) -> Listing:
    """Pulls of one log as a table for the console."""
    listing = Listing("start", "end", "gear", "from", "to", "used", "why not", numbers=(0, 1, 2, 3, 4))
    for pull in pulls:
        listing.add(
            f"{pull.start_s:.2f} s",
            f"{pull.end_s:.2f} s",
            "?" if pull.gear is None else str(pull.gear),
            f"{pull.rpm_start:.0f} rpm",
            f"{pull.rpm_end:.0f} rpm",
            "yes" if pull.used else "no",
            pull.reason or "",
        )
    return listing


def _assumptions(pulls: Sequence[Pull]) -> list[str]:
    """What was assumed, each sentence once, with the pulls that it is about where it is not about all."""
    found = []
    for text in dict.fromkeys(text for pull in pulls for text in pull.assumptions):
        about = [f"{pull.start_s:.2f} s" for pull in pulls if text in pull.assumptions]
        found.append(text if len(about) == len(pulls) else f"{text} (pull from {', '.join(about)})")
    return found
