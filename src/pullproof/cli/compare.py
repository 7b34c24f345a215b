"""`pullproof compare`: what a change did."""

import re
from pathlib import Path
from typing import Any

import click

from pullproof.analysis.air_system import load_compressor_map
from pullproof.analysis.airpath import AirPath, load_path
from pullproof.car import load_car
from pullproof.cli.output import console, json_option, write_json
from pullproof.cli.several import SeveralValues
from pullproof.cli.sides import Question, answer
from pullproof.cli.verdict import show
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.errors import WrongUse
from pullproof.report.documents import comparison_document
from pullproof.report.writing import check_report_path

__all__ = ["command"]


class Window(click.ParamType[tuple[float, float]]):
    """`LOW-HIGH` in rpm."""

    name = "window"

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, float]:  # noqa: ANN401
        """Two numbers with a hyphen between them, the lower first."""
        if isinstance(value, tuple):
            return value
        found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*-\s*(\d+(?:\.\d+)?)\s*", str(value))
        if not found or float(found[1]) >= float(found[2]):
            self.fail(
                f'"{value}" is no window. Write the lower and the higher engine speed, such as 4000-6500.', param, ctx
            )
        return float(found[1]), float(found[2])


@click.command("compare", cls=SeveralValues)
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML).")
@click.option("--before", required=True, multiple=True, metavar="LOG...", help="Logs from before the change.")
@click.option("--after", required=True, multiple=True, metavar="LOG...", help="Logs from after the change.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days, weather and changes (TOML).")
@click.option("--window", type=Window(), metavar="LOW-HIGH", help="Engine speeds to compare, in rpm.")
@click.option(
    "--level", type=float, default=0.95, show_default=True, help="Probability that an interval holds the truth."
)
@click.option("--main", metavar="MEASURE", help="The measure that the verdict speaks of; name it before you look.")
@click.option("--path-before", metavar="FILE", help="Air path that was fitted before (TOML), for a prediction.")
@click.option("--path-after", metavar="FILE", help="Air path that was fitted after (TOML).")
@click.option("--compressor-map", "map_file", metavar="FILE", help="Show the operating lines on this compressor map.")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@json_option
def command(
    car_file: str,
    before: tuple[str, ...],
    after: tuple[str, ...],
    conditions_file: str | None,
    window: tuple[float, float] | None,
    level: float,
    main: str | None,
    path_before: str | None,
    path_after: str | None,
    map_file: str | None,
    report_file: str | None,
    json_file: str | None,
) -> int:
    """Say what a change did, by how much, how sure that is, and what else could explain it."""
    report = None if report_file is None else check_report_path(report_file)
    question = Question(
        car=load_car(car_file),
        conditions=ConditionsSheet() if conditions_file is None else load_conditions(conditions_file),
        before=[Path(path) for path in before],
        after=[Path(path) for path in after],
        window=window,
        level=level,
        main=main,
        paths=_paths(path_before, path_after),
        compressor_map=None if map_file is None else load_compressor_map(map_file),
    )
    found = answer(question, report)
    screen = console(json_file)
    show(found, screen)
    if report is not None:
        screen.print(f"\nReport: {report}", markup=False)
    write_json(comparison_document(found.comparison, found.prediction, found.air, found.operating), json_file)
    return 0


def _paths(before: str | None, after: str | None) -> tuple[AirPath, AirPath] | None:
    if before is None and after is None:
        return None
    if before is None or after is None:
        missing = "--path-before" if before is None else "--path-after"
        raise WrongUse(
            f"a prediction needs both paths, and {missing} is missing",
            where=str(after or before),
            advice=f"Add {missing} FILE, see docs/airpath.md for what stands in it.",
        )
    return load_path(before), load_path(after)
