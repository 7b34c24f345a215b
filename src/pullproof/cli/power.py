"""`pullproof power`: power at the wheels over engine speed, pull by pull."""

import datetime
from collections.abc import Sequence
from pathlib import Path
from typing import cast

import click
from rich.console import Console

from pullproof.analysis.air_system import CompressorMap, OperatingLine, fitted_from, load_compressor_map
from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.mean_operating_line import mean_operating_line
from pullproof.analysis.mean_power import MeanPower, mean_power
from pullproof.analysis.wheel_power import PowerCurve, Standard, power_curve
from pullproof.car import Car, load_car
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.cli.recording import Recorded, record_logs
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.errors import CannotAnswer
from pullproof.report.documents import power_document
from pullproof.report.map_section import map_section, operating_notes
from pullproof.report.power_sections import STANDARD_NAMES, power_report, power_sentence, pull_rows
from pullproof.report.writing import check_report_path, write_report

__all__ = ["command"]

NAMED_INPUTS = 3


@click.command("power")
@click.argument("logs", nargs=-1, required=True, metavar="LOG...")
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML).")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days, weather and directions (TOML).")
@click.option(
    "--standard",
    type=click.Choice(list(STANDARD_NAMES)),
    default="none",
    show_default=True,
    help="Correct to a standard day; does not suit an engine whose boost control makes up for the weather.",
)
@click.option("--outside-limits", is_flag=True, help="Correct also where the standard's own limits are passed.")
@click.option("--compressor-map", "map_file", metavar="FILE", help="Show the operating line on this compressor map.")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@json_option
def command(
    logs: tuple[str, ...],
    car_file: str,
    conditions_file: str | None,
    standard: str,
    outside_limits: bool,
    map_file: str | None,
    report_file: str | None,
    json_file: str | None,
) -> int:
    """Show power at the wheels over engine speed, with what is in doubt about it."""
    asked = cast("Standard", standard)
    report = None if report_file is None else check_report_path(report_file)
    car = load_car(car_file)
    mapped = None if map_file is None else load_compressor_map(map_file)
    sheet = ConditionsSheet() if conditions_file is None else load_conditions(conditions_file)
    recorded = record_logs(logs, car, sheet)
    curves, without = _curves(recorded, car, asked, outside_limits=outside_limits)
    mean = mean_power(curves)
    line, no_line = _operating(recorded, car, mapped)
    left_out = (*without, *recorded.refused, *no_line, *sheet.doubts_of(Path(log).name for log in logs))
    screen = console(json_file)
    _show(curves, mean, asked, line, left_out, screen)
    if report is not None:
        content = power_report(
            curves,
            mean,
            standard=asked,
            car=car,
            made_at=datetime.datetime.now().astimezone(),
            left_out=left_out,
            more=() if line is None else (map_section(((None, line),)),),
        )
        write_report(content, report)
        screen.print(f"\nReport: {report}", markup=False)
    write_json(power_document(curves, asked, mean, line), json_file)
    _refuse_uncorrected(curves, asked)
    return 0


def _curves(
    recorded: Recorded, car: Car, standard: Standard, *, outside_limits: bool
) -> tuple[list[PowerCurve], list[str]]:
    """The curves, and a sentence on each pull that gives none."""
    curves: list[PowerCurve] = []
    reasons: list[CannotAnswer] = []
    for record in recorded.records:
        try:
            curves.append(power_curve(record, car, standard=standard, outside_limits=outside_limits))
        except CannotAnswer as error:
            reasons.append(error)
    if not curves:
        raise reasons[0]
    return curves, [str(reason) for reason in reasons]


def _operating(
    recorded: Recorded, car: Car, mapped: CompressorMap | None
) -> tuple[OperatingLine | None, tuple[str, ...]]:
    """The operating line, or why there is none: that does not cost the power."""
    if mapped is None:
        return None, ()
    try:
        return mean_operating_line(recorded.records, car, mapped, fitted_from(recorded.records, car)), ()
    except CannotAnswer as error:
        return None, (f"No operating line: {error}",)


def _refuse_uncorrected(curves: Sequence[PowerCurve], standard: Standard) -> None:
    """A correction that was asked for and given to no pull is a question without an answer."""
    if standard == "none" or any(curve.corrected_kw is not None for curve in curves):
        return
    correction, log = curves[0].correction, curves[0].pulls[0].log
    limits = "does not hold here" in correction.reason
    advice = "Leave --standard out, or ask for it with --outside-limits." if limits else "Or leave --standard out."
    raise CannotAnswer(f"power is not corrected: {correction.reason}", where=log, advice=advice)


def _show(
    curves: Sequence[PowerCurve],
    mean: MeanPower,
    standard: Standard,
    line: OperatingLine | None,
    left_out: Sequence[str],
    screen: Console,
) -> None:
    screen.print(power_sentence(mean, standard), style="bold", markup=False)
    screen.print()
    with_standard = () if standard == "none" else ("factor", "corrected peak")
    listing = Listing("pull", "gear", "peak power at the wheels", "peak torque", *with_standard, numbers=(1,))
    for cells in pull_rows(curves, standard):
        listing.add(*cells)
    screen.print(listing.table)
    shares = [f"{share.given.name} {100 * share.share:.0f} %" for share in curves[0].inputs[:NAMED_INPUTS]]
    screen.print(f"\nMost of the doubt: {', '.join(shares)}.\n", markup=False)
    if line is not None:
        print_list(screen, "On the compressor map", operating_notes(None, line))
    doubts = dict.fromkeys(doubt for curve in mean.curves for doubt in curve.doubts)
    refused = dict.fromkeys(curve.correction.reason for curve in curves if curve.correction.reason)
    print_list(screen, "Left out", left_out)
    print_list(screen, "Correction", list(refused))
    print_list(screen, "Doubts", list(doubts))
    print_list(screen, "Cautions", CAUTIONS)
