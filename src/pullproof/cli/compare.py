"""`pullproof compare`: what a change did."""

import re
from pathlib import Path
from typing import Any

import click

from pullproof.car import load_car
from pullproof.cli.output import console, json_option, write_json
from pullproof.cli.sides import Question, answer, show
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.report.documents import comparison_document
from pullproof.report.writing import check_report_path

__all__ = ["command"]

SEVERAL = ("--before", "--after")


class SeveralValues(click.Command):
    """A command whose `--before` and `--after` take all file names up to the next option."""

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Repeat the option before each of its values, which is the form that click knows."""
        spelled: list[str] = []
        option = ""
        for argument in args:
            if argument.startswith("-") and argument != "-":
                option = argument if argument in SEVERAL else ""
                if not option:
                    spelled.append(argument)
            elif option:
                spelled += [option, argument]
            else:
                spelled.append(argument)
        return super().parse_args(ctx, spelled)


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
    )
    comparison = answer(question, report)
    screen = console(json_file)
    show(comparison, screen)
    if report is not None:
        screen.print(f"\nReport: {report}", markup=False)
    write_json(comparison_document(comparison), json_file)
    return 0
