"""`pullproof airpath`: what a charge pipe loses, what another one would change, and what is needed to make it."""

import datetime
from collections.abc import Sequence

import click
from rich.console import Console

from pullproof.analysis.airpath import (
    AirPath,
    CutList,
    FlowCurve,
    PathComparison,
    PathResult,
    analyse_path,
    compare_paths,
    cut_list,
    flow_from_logs,
    flow_from_sheets,
    load_path,
)
from pullproof.car import Car, load_car
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.cli.recording import record_logs
from pullproof.cli.several import SeveralValues
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.report.cut_section import bend_text, hose_lines, whole_text
from pullproof.report.path_documents import airpath_document
from pullproof.report.path_sections import airpath_report, effect_cells, effects, element_rows, path_sentence
from pullproof.report.wording import typographic
from pullproof.report.writing import check_report_path, write_report

__all__ = ["command"]


@click.command("airpath", cls=SeveralValues)
@click.argument("path_file", metavar="PATH.toml")
@click.argument("after_file", metavar="[AFTER.toml]", required=False)
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML).")
@click.option("--logs", multiple=True, metavar="LOG...", help="Logs with the first path fitted: the car's own flow.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days and weather of the logs (TOML).")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@json_option
def command(
    path_file: str,
    after_file: str | None,
    car_file: str,
    logs: tuple[str, ...],
    conditions_file: str | None,
    report_file: str | None,
    json_file: str | None,
) -> int:
    """Say what a charge pipe loses, what another one would change, and what is needed to make it."""
    report = None if report_file is None else check_report_path(report_file)
    car = load_car(car_file)
    sheet = ConditionsSheet() if conditions_file is None else load_conditions(conditions_file)
    before = load_path(path_file)
    after = None if after_file is None else load_path(after_file)
    flow = _flow(before, logs, car, sheet)
    comparison = None if after is None else compare_paths(before, after, flow)
    paths = (analyse_path(before, flow),) if comparison is None else (comparison.before, comparison.after)
    cuts = cut_list(after or before)
    screen = console(json_file)
    _show(paths, comparison, cuts, screen)
    if report is not None:
        made_at = datetime.datetime.now().astimezone()
        write_report(airpath_report(paths, comparison, cuts, car=car, made_at=made_at), report)
        screen.print(f"\nReport: {report}", markup=False)
    write_json(airpath_document(paths, comparison, cuts), json_file)
    return 0


def _flow(path: AirPath, logs: Sequence[str], car: Car, sheet: ConditionsSheet) -> FlowCurve:
    if logs:
        return flow_from_logs(record_logs(logs, car, sheet).records, car)
    return flow_from_sheets(car, path.flow)


def _show(paths: Sequence[PathResult], comparison: PathComparison | None, cuts: CutList, screen: Console) -> None:
    sentence = path_sentence(paths[0]) if comparison is None else typographic(comparison.sentence)
    screen.print(sentence, style="bold", markup=False)
    screen.print(f"\nFlow: {paths[0].flow.origin}.\n", markup=False)
    for path in paths:
        screen.print(path_sentence(path), markup=False)
        listing = Listing("element", "loss", "share", "Mach number", numbers=(2, 3))
        for cells in element_rows(path):
            listing.add(*cells)
        screen.print(listing.table)
        screen.print()
    if comparison is not None:
        changes = Listing("after minus before, mean", "change and interval", "rests on")
        for name, effect in effects(comparison):
            changes.add(*effect_cells(name, effect))
        screen.print(changes.table)
        screen.print()
    _show_cuts(cuts, screen)
    assumed = comparison.assumptions if comparison else paths[0].flow.assumptions
    print_list(screen, "Taken for granted", assumed)
    print_list(screen, "Doubts", comparison.doubts if comparison else paths[0].doubts)
    print_list(screen, "Cautions", paths[0].cautions)


def _show_cuts(cuts: CutList, screen: Console) -> None:
    screen.print(f"Cut list, {cuts.name}: {whole_text(cuts)}", markup=False)
    if cuts.pieces:
        listing = Listing("piece", "outside × wall", "developed", "bend", "mass", numbers=(1, 2, 3, 4))
        for piece in cuts.pieces:
            listing.add(
                f"{piece.number} {typographic(piece.what)}, {piece.material}",
                f"{piece.outside_mm:.4g} × {piece.wall_mm:.3g} mm",
                f"{piece.developed_mm:.0f} mm",
                bend_text(piece.angle_deg, piece.radius_mm),
                f"{piece.mass_kg:.2f} kg",
            )
        screen.print(listing.table)
    for text in (*hose_lines(cuts), *(f"{item.what}: {item.quantity}" for item in cuts.stock), *cuts.notes):
        screen.print(f"- {text}", markup=False)
    screen.print()
