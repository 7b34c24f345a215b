"""`pullproof read`: what is in the files."""

from pathlib import Path

import click

from pullproof.car import load_car
from pullproof.cli.output import Listing, console, each_file, json_option, print_list, write_json
from pullproof.reading import Log, read_log
from pullproof.report.documents import read_document

__all__ = ["command"]

DELIMITERS = {"\t": "tab", " ": "space", "": "none"}


@click.command("read")
@click.argument("logs", nargs=-1, required=True, metavar="LOG...")
@click.option("--car", "car_file", metavar="CAR", help="Car sheet: its [columns] table overrules what was recognised.")
@json_option
def command(logs: tuple[str, ...], car_file: str | None, json_file: str | None) -> int:
    """Show what is in the files: columns, channels, units, rates, doubts."""
    car = None if car_file is None else load_car(car_file)
    found, status = each_file(logs, lambda path: read_log(Path(path), car))
    write_json(read_document(found), json_file)
    screen = console(json_file)
    for log in found:
        screen.print(_summary(log), markup=False)
        screen.print(_columns(log).table)
        # Below the table and not in it: a sentence in a narrow column is read by nobody.
        print_list(screen, "Doubts", [f'"{column.header}": {column.doubt}' for column in log.columns if column.doubt])
        print_list(screen, "Notes", log.notes)
        screen.print()
    return status


def _summary(log: Log) -> str:
    delimiter = DELIMITERS.get(log.delimiter, log.delimiter)
    return (
        f"{log.file}: {log.rows} rows, {log.duration_s:.1f} s; "
        f'encoding {log.encoding}, delimiter {delimiter}, decimal sign "{log.decimal}"'
    )


def _columns(log: Log) -> Listing:
    listing = Listing("column", "channel", "unit in file", "sure", "new samples", "doubt", numbers=(3, 4))
    listing.table.columns[1].no_wrap = True
    for column in log.columns:
        rate = "" if column.rate_hz is None else f"{column.rate_hz:.3g} Hz"
        sure = "" if column.channel is None else f"{100 * column.confidence:.0f} %"
        listing.add(column.header, column.channel or "-", column.unit or "", sure, rate, "yes" if column.doubt else "")
    return listing
