"""`pullproof watch`: where a limit was passed, how near all else came, and what was not to be seen."""

import datetime

import click
from rich.console import Console

from pullproof.analysis.watch import Watch, watch
from pullproof.car import load_car
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.report.watch_document import watch_document
from pullproof.report.watch_sections import event_cells, trend_cells, unwatched_lines, watch_report, watched_cells
from pullproof.report.wording import capitalised, count
from pullproof.report.writing import check_report_path, write_report

__all__ = ["command"]

SHOWN = 20
"""Events on the screen; the JSON and the report have them all."""


@click.command("watch")
@click.argument("logs", nargs=-1, required=True, metavar="LOG...")
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML); its [limits] come first.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days and weather of the logs (TOML).")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@json_option
def command(
    logs: tuple[str, ...], car_file: str, conditions_file: str | None, report_file: str | None, json_file: str | None
) -> int:
    """Show where knock, mixture, pressures and temperatures passed a limit, and what could not be watched."""
    report = None if report_file is None else check_report_path(report_file)
    car = load_car(car_file)
    sheet = ConditionsSheet() if conditions_file is None else load_conditions(conditions_file)
    found = watch(logs, car=car, conditions=sheet)
    screen = console(json_file)
    _show(found, screen)
    if report is not None:
        write_report(watch_report(found, car=car, made_at=datetime.datetime.now().astimezone()), report)
        screen.print(f"\nReport: {report}", markup=False)
    write_json(watch_document(found), json_file)
    return 0


def _show(found: Watch, screen: Console) -> None:
    screen.print(found.sentence, style="bold", markup=False)
    screen.print()
    if found.events:
        _show_events(found, screen)
    margins = Listing("watched", "worst", "limit", "margin", "where", "", numbers=(1, 3))
    for entry in found.watched:
        margins.add(*watched_cells(entry))
    screen.print(margins.table)
    screen.print()
    if found.trends:
        trends = Listing("worst of each pull", "first day", "last day", "change", "interval", "")
        for trend in found.trends:
            trends.add(*trend_cells(trend))
        screen.print(trends.table)
        screen.print()
    print_list(screen, "Could not be watched", unwatched_lines(found.not_watched, found.logs))
    print_list(screen, "Sensors in doubt", [f"{doubt.log}: {doubt.detail}" for doubt in found.sensors])
    own = [f"{capitalised(entry.label)}: {doubt}" for entry in found.watched for doubt in entry.doubts]
    print_list(screen, "Doubts", [*own, *found.doubts])
    print_list(screen, "Cautions", found.cautions)


def _show_events(found: Watch, screen: Console) -> None:
    order = {"sustained": 0, "brief": 1, "single sample": 2}
    events = sorted(found.events, key=lambda event: order[event.kind])
    listing = Listing("limit passed", "worst", "where", "how long")
    for event in events[:SHOWN]:
        what, worst, where, lasting = event_cells(event)
        listing.add(what, worst, where, f"{lasting}; {event.detail}" if event.detail else lasting)
    screen.print(listing.table)
    if len(events) > SHOWN:
        screen.print(f"{count(len(events) - SHOWN, 'further event')}: see --report or --json.", markup=False)
    screen.print()
