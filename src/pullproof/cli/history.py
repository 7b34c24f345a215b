"""`pullproof history`: what each change of a season did, and how sure that is."""

import datetime
from pathlib import Path

import click
from rich.console import Console

from pullproof.analysis.history import Estimate, History, MeasureHistory, Season, season_history
from pullproof.analysis.history.season_sheet import load_season
from pullproof.analysis.history.wording import what
from pullproof.cli.compare import Window
from pullproof.cli.library import database_option, library_option
from pullproof.cli.output import Listing, console, json_option, print_list, write_json
from pullproof.errors import WrongUse
from pullproof.library import catalogue, default_folder, open_library
from pullproof.library.marker import MARKER
from pullproof.library.seasons import season_of
from pullproof.report.history_document import history_document
from pullproof.report.history_drawables import numbered_changes
from pullproof.report.history_sections import changes_listed, history_report, rank_text, step_text
from pullproof.report.rounding import Rounding
from pullproof.report.wording import capitalised, difference_unit, level_text, measure_name
from pullproof.report.writing import check_report_path, write_report

__all__ = ["command"]


@click.command("history")
@library_option
@database_option
@click.option("--car", "car_name", metavar="NAME", help="The car, by its name in the library.")
@click.option("--season", "season_file", metavar="FILE", help="A season sheet (TOML) in place of a library.")
@click.option("--window", type=Window(), metavar="LOW-HIGH", help="Engine speeds to look at, in rpm.")
@click.option(
    "--level", type=float, default=0.95, show_default=True, help="Probability that an interval holds the truth."
)
@click.option("--main", metavar="MEASURE", help="The measure that the sentence speaks of; name it before you look.")
@click.option("--report", "report_file", metavar="FILE", help="Write a report: .html, .pdf or .png.")
@json_option
def command(
    folder: str | None,
    database: str | None,
    car_name: str | None,
    season_file: str | None,
    window: tuple[float, float] | None,
    level: float,
    main: str | None,
    report_file: str | None,
    json_file: str | None,
) -> int:
    """Say what every change of a season did to every measure, what cannot be told, and how the car repeats and ages."""
    if season_file is not None and (folder is not None or car_name is not None):
        raise WrongUse("a season sheet and a library were named", where=season_file, advice="Name one of the two.")
    report = None if report_file is None else check_report_path(report_file)
    season = load_season(season_file) if season_file is not None else _from_library(folder, database, car_name)
    history = season_history(season, window=window, level=level, main=main)
    screen = console(json_file)
    show(history, screen)
    if report is not None:
        made_at = datetime.datetime.now().astimezone()
        write_report(history_report(history, car=season.car, made_at=made_at), report)
        screen.print(f"\nReport: {report}", markup=False)
    write_json(history_document(history), json_file)
    return 0


def _from_library(folder: str | None, database: str | None, car_name: str | None) -> Season:
    if car_name is None:
        raise WrongUse("no car is named", advice='Add --car "NAME" as the library calls it, or --season FILE.')
    place = default_folder() if folder is None else Path(folder)
    if not (place / MARKER).is_file():
        raise WrongUse(
            "there is no library here",
            where=str(place),
            advice="Name its folder with --library, or make one: pullproof demo --library DIR.",
        )
    with open_library(place, database) as library:
        with library.reading() as session:
            car_id = catalogue.car_named(session, car_name).id
        return season_of(library, car_id)


def show(history: History, screen: Console) -> None:
    """Print the season for people: the sentence, the main measure in full, the others in a line an effect."""
    low, high = history.window_rpm
    screen.print(history.sentence, style="bold", markup=False)
    screen.print(
        f"\nWindow {low:.0f} to {high:.0f} rpm; {len(history.days)} test days; "
        f"main measure: {measure_name(history.main)}.\n",
        markup=False,
    )
    made = Listing("", "change", "fitted", "cost", numbers=(0, 3))
    for row in changes_listed(history.changes):
        made.add(*row)
    screen.print(made.table)
    main = history.measure(history.main)
    if main is not None:
        screen.print(f"\n{capitalised(measure_name(main.id))}:", markup=False)
        screen.print(_effects(history, main).table)
        screen.print(
            "Effects at the mean conditions of the season, at equal boost and with the boost that a change brought, "
            f"with {level_text(history.level)} intervals; as driven is the plain difference of the builds.\n",
            markup=False,
        )
        print_list(
            screen,
            "What cannot be told apart",
            [f"{capitalised(one.change)}: {one.reason}" for one in main.alone_unknown],
        )
        if main.ranking:
            print_list(screen, "Effect for money", [rank_text(main, entry) for entry in main.ranking])
    screen.print("\nOther measures:", markup=False)
    screen.print(_others(history).table)
    screen.print()
    screen.print(_repeats(history).table)
    screen.print()
    steps = [step_text(one, history.level) for one in history.measures if one.step is not None and one.step.flagged]
    for heading, lines in (
        ("Steps without a change", steps),
        ("Refused", [f"{pull.log} from {pull.start_s:.1f} s: {pull.reason}" for pull in history.refused]),
        ("Left out", [f"{measure_name(left.measure)}: {left.reason}" for left in history.left_out]),
        ("Doubts", history.doubts),
        ("Next", history.next_steps),
        ("Cautions", history.cautions),
    ):
        print_list(screen, heading, lines)


def _effects(history: History, measure: MeasureHistory) -> Listing:
    """Effects on the main measure; changes go by their numbers, so that all columns fit a narrow console."""
    unit, numbers = difference_unit(measure.unit, measure.id), numbered_changes(history.changes)
    listing = Listing(
        "change", f"effect, {unit}" if unit else "effect", "interval", "with boost", "interval", "as driven", "weather",
        "verdict", numbers=(1, 3, 5, 6),
    )  # fmt: skip
    for effect in measure.effects:
        bare = _bare(effect.effect)
        whole = ("", "") if effect.whole is None else _both(effect.whole)
        explained = effect.explained
        listing.add(
            " and ".join(str(numbers[name]) for name in effect.changes),
            *_both(effect.effect),
            *whole,
            bare.signed(explained.raw),
            bare.signed(explained.weather.value),
            effect.verdict,
        )
    return listing


def _bare(estimate: Estimate) -> Rounding:
    return Rounding.of(estimate.interval, estimate.value, "")


def _both(estimate: Estimate) -> tuple[str, str]:
    return _bare(estimate).signed(estimate.value), _bare(estimate).interval(estimate.interval)


def _others(history: History) -> Listing:
    """Effects that are sure, of the measures that do not speak."""
    listing = Listing("measure", "change", "effect", "interval", "", numbers=(2,))
    for measure in history.measures:
        unit = difference_unit(measure.unit, measure.id)
        for effect in measure.effects if measure.id != history.main else ():
            felt = effect.as_felt
            if felt.excludes_zero:
                value = Rounding.of(felt.interval, felt.value, unit).signed(felt.value)
                by_boost = "" if effect.effect.excludes_zero else "with the boost it brought"
                listing.add(measure_name(measure.id), what(effect), value, _both(felt)[1], by_boost)
    return listing


def _repeats(history: History) -> Listing:
    listing = Listing("scatter of", "between pulls", "usual", "between days", "usual", numbers=(1, 2, 3, 4))
    for measure in history.measures:
        unit = difference_unit(measure.unit, measure.id)
        cells = []
        for scatter in (measure.run_to_run, measure.day_to_day):
            usual = Rounding.of(scatter.usual_interval, 0.0, unit)
            cells += [
                Rounding.of(scatter.interval, scatter.value, unit).plain(scatter.value),
                usual.plain(scatter.usual),
            ]
        listing.add(measure_name(measure.id), *cells)
    return listing
