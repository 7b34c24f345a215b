"""`pullproof plan`: how many pulls, in which order, with what chance of a clear answer, and what else they need."""

import datetime
import re

import click
from rich.console import Console

from pullproof.analysis.plan import Costs, Logger, Option, Plan, Request, plan
from pullproof.analysis.plan.wording import chance_text
from pullproof.car import load_car
from pullproof.cli.compare import Window
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.cli.several import SeveralValues
from pullproof.conditions import ConditionsSheet, load_conditions
from pullproof.errors import WrongUse
from pullproof.report.plan_document import plan_document
from pullproof.report.plan_sections import (
    channel_cells,
    equal_lines,
    next_cells,
    option_cells,
    plan_report,
    scatter_text,
    stop_lines,
)
from pullproof.report.run_card import check_card_path, write_run_card
from pullproof.report.wording import difference_unit, typographic
from pullproof.report.writing import check_report_path, write_report

__all__ = ["command"]

USUAL, USUAL_LOGGER = Costs(), Logger()


@click.command("plan", cls=SeveralValues)
@click.option("--car", "car_file", required=True, metavar="CAR", help="Car sheet (TOML).")
@click.option("--measure", required=True, metavar="ID", help="The measure that shall show it; see the measures page.")
@click.option("--effect", metavar="X", help='Difference worth seeing, in the measure\'s unit, or as "2%" of its level.')
@click.option("--logs", multiple=True, metavar="LOG...", help="Earlier logs with nothing changed between: the scatter.")
@click.option("--before", multiple=True, metavar="LOG...", help="Earlier logs from before a change ...")
@click.option("--after", multiple=True, metavar="LOG...", help="... and after it: which next run narrows it most.")
@click.option("--conditions", "conditions_file", metavar="FILE", help="Days and weather of the logs (TOML).")
@click.option("--window", type=Window(), metavar="LOW-HIGH", help="Engine speeds that are compared, in rpm.")
@click.option("--typical", type=float, metavar="VALUE", help="Usual level of the measure, where no log tells it.")
@click.option("--level", type=float, default=0.95, show_default=True, help="Probability that an interval holds.")
@click.option("--chance", type=float, default=0.8, show_default=True, help="Probability of a clear answer asked for.")
@click.option("--pull-minutes", type=float, default=USUAL.pull_min, show_default=True, help="A pull and cooling down.")
@click.option("--warm-up-minutes", type=float, default=USUAL.warm_up_min, show_default=True, help="Once a day.")
@click.option("--change-minutes", type=float, default=USUAL.change_min, show_default=True, help="To change the part.")
@click.option("--day-minutes", type=float, default=USUAL.day_min, show_default=True, help="What one day holds.")
@click.option(
    "--samples-per-second", type=float, default=USUAL_LOGGER.samples_per_second, show_default=True, metavar="N",
    help="What the logger gives in all, to be shared out.",
)  # fmt: skip
@click.option("--all-in-each-row", is_flag=True, help="The logger writes all its channels in each row.")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@click.option("--card", "card_file", metavar="FILE", help="Write the run card, one page to print: .pdf or .html.")
@json_option
def command(
    car_file: str,
    measure: str,
    effect: str | None,
    logs: tuple[str, ...],
    before: tuple[str, ...],
    after: tuple[str, ...],
    conditions_file: str | None,
    window: tuple[float, float] | None,
    typical: float | None,
    level: float,
    chance: float,
    pull_minutes: float,
    warm_up_minutes: float,
    change_minutes: float,
    day_minutes: float,
    samples_per_second: float,
    all_in_each_row: bool,
    report_file: str | None,
    card_file: str | None,
    json_file: str | None,
) -> int:
    """Say how many pulls in which order will show a difference, and print a run card."""
    report = None if report_file is None else check_report_path(report_file)
    card = None if card_file is None else check_card_path(card_file)
    if logs and (before or after):
        raise WrongUse("logs are given with --logs and with --before", advice="Use --logs, or --before and --after.")
    if after and not before:
        raise WrongUse("logs are given after the change and none before it", advice="Add --before, or use --logs.")
    car = load_car(car_file)
    sheet = ConditionsSheet() if conditions_file is None else load_conditions(conditions_file)
    size, in_percent = _effect(effect)
    request = Request(
        window=window,
        typical=typical,
        in_percent=in_percent,
        level=level,
        chance=chance,
        costs=_costs(pull_minutes, warm_up_minutes, change_minutes, day_minutes),
        logger=Logger(_positive(samples_per_second, "--samples-per-second"), all_in_each_row),
    )
    screen = console(json_file)
    screen.print("Weighing orders of pulls ...\n")
    found = plan(measure, size, car=car, before=logs or before, after=after, conditions=sheet, request=request)
    _show(found, screen)
    made_at = datetime.datetime.now().astimezone()
    if report is not None:
        write_report(plan_report(found, car=car, made_at=made_at), report)
        screen.print(f"\nReport: {report}", markup=False)
    if card is not None:
        write_run_card(found, car, made_at, card)
        screen.print(f"\nRun card: {card}", markup=False)
    write_json(plan_document(found), json_file)
    return 0


def _effect(text: str | None) -> tuple[float | None, bool]:
    """A number, and whether it is in per cent."""
    if text is None:
        return None, False
    found = re.fullmatch(r"\s*([+-]?\d+(?:\.\d+)?)\s*(%?)\s*", text)
    if not found:
        raise WrongUse(f'"{text}" is no size of an effect', where="--effect", advice='Write it as 2.5 or as "2.5%".')
    return float(found[1]), bool(found[2])


def _positive(value: float, option: str) -> float:
    if not 0.0 < value < 1e6:
        raise WrongUse(f"{value:g} makes no sense", where=option, advice="Give a number above zero.")
    return value


def _costs(pull: float, warm_up: float, change: float, day: float) -> Costs:
    for value, option in ((pull, "--pull-minutes"), (day, "--day-minutes")):
        _positive(value, option)
    for value, option in ((warm_up, "--warm-up-minutes"), (change, "--change-minutes")):
        if not 0.0 <= value < 1e5:
            raise WrongUse(f"{value:g} makes no sense", where=option, advice="Give minutes, 0 or more.")
    return Costs(pull_min=pull, warm_up_min=warm_up, change_min=change, day_min=day)


def _show(found: Plan, screen: Console) -> None:
    screen.print(typographic(found.sentence), style="bold", markup=False)
    screen.print(f"\n{typographic(found.one_day)}\n", markup=False)
    screen.print(f"{scatter_text(found)}\n", markup=False)
    unit = difference_unit(found.question.unit, found.question.measure)
    last = ("false", f"interval, {unit}", f"shows, {unit}", "drift")
    options = Listing("order", "pulls", "changes", "minutes", "chance", *last, numbers=tuple(range(2, 9)))
    for option in _worth_showing(found):
        options.add(*option_cells(option))
    screen.print(options.table)
    screen.print(
        "False: how often a change would be claimed that is none. Interval: half of the one to be expected. Shows: the "
        f"smallest difference with a chance of {chance_text(found.question.chance)}. Drift: how much of an even drift "
        f"through a session would be taken for the change.\n{found.how}\n",
        markup=False,
    )
    _show_next(found, screen)
    channels = Listing("log", "what for", "rate", "least to useful", "why")
    for channel in found.logging.channels:
        channels.add(*channel_cells(channel))
    screen.print(channels.table)
    screen.print()
    print_list(screen, "Logging", found.logging.doubts)
    print_list(screen, "Hold equal", equal_lines(found))
    print_list(screen, "Heat", found.heat)
    print_list(screen, "Stop at once: lift", stop_lines(found))
    print_list(screen, "Taken for granted", found.assumptions)
    print_list(screen, "Doubts", found.doubts)
    print_list(screen, "Cautions", found.cautions)


def _show_next(found: Plan, screen: Console) -> None:
    if not found.next_runs:
        return
    screen.print(f"{typographic(found.next_sentence)}\n", markup=False)
    further = Listing("next run", "interval then", "")
    for cells in next_cells(found):
        further.add(*cells)
    screen.print(further.table)
    screen.print()


def _worth_showing(found: Plan) -> list[Option]:
    """Of each order the smallest, the first that is enough, and the largest: the report has them all."""
    shown: list[Option] = []
    for order in dict.fromkeys(option.order for option in found.options):
        own = [option for option in found.options if option.order == order]
        enough = next((option for option in own if option.chance >= found.question.chance), own[-1])
        shown += [option for option in own if option in (own[0], enough, own[-1])]
    return shown
