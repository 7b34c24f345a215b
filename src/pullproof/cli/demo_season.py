"""`pullproof demo --library`: a library with an invented car's whole summer in it, and what it teaches."""

from pathlib import Path

from rich.console import Console

from pullproof.analysis.history import ChangeEffect, History, MeasureHistory, season_history
from pullproof.analysis.history.wording import what
from pullproof.cli.output import Listing, console, write_json
from pullproof.demo.library import fill_library
from pullproof.demo.season import SeasonTruth, season_truth
from pullproof.errors import WrongUse
from pullproof.library import open_library
from pullproof.library.seasons import season_of
from pullproof.report.history_document import history_document
from pullproof.report.rounding import Rounding
from pullproof.report.wording import difference_unit, measure_name

__all__ = ["demo_season"]


def demo_season(folder: Path, json_file: str | None) -> int:
    """Fill a library with the demo's season, and hold what is found against what was put in."""
    screen = console(json_file)
    screen.print("Simulating an invented car over a summer of ten test days and eight changes ...")
    try:
        with open_library(folder) as library:
            season = season_of(library, fill_library(library))
    except OSError as error:
        raise WrongUse(
            f"the demo cannot be written ({error.strerror})", where=str(folder), advice="Name another folder."
        ) from error
    history = season_history(season)
    screen.print(f"\n{history.sentence}\n", style="bold", markup=False)
    main = history.measure(history.main)
    if main is not None and not screen.quiet:
        _beside_the_truth(history, main, season_truth(), screen)
    for caution in history.cautions:
        screen.print(f"- {caution}", markup=False)
    screen.print(f"\nLibrary: {folder.resolve()}. All of it, and the same in the browser:\n", markup=False)
    screen.print(f'  pullproof history --library {folder} --car "{season.car.name}"', markup=False, soft_wrap=True)
    screen.print(f"  pullproof open --library {folder}", markup=False, soft_wrap=True)
    write_json(history_document(history), json_file)
    return 0


def _beside_the_truth(history: History, main: MeasureHistory, truth: SeasonTruth, screen: Console) -> None:
    unit = difference_unit(main.unit, main.id)
    listing = Listing("change", f"found, {unit}" if unit else "found", "interval", "true", numbers=(1, 3))
    for effect in main.effects:
        rounding = Rounding.of(effect.as_felt.interval, effect.as_felt.value, "")
        true = _true(effect, main.id, truth)
        listing.add(
            what(effect),
            rounding.signed(effect.as_felt.value),
            rounding.interval(effect.as_felt.interval),
            "" if true is None else rounding.signed(true),
        )
    screen.print(listing.table)
    screen.print(
        f"Effects on {measure_name(history.main)}, with the boost that each change brought, beside what the simulation "
        "really did: figures that nobody has who changes parts on a real car.\n",
        markup=False,
    )


def _true(effect: ChangeEffect, measure: str, truth: SeasonTruth) -> float | None:
    parts = [truth.whole[name].get(measure) for name in effect.changes]
    if any(part is None for part in parts):
        return None
    return sum(weight * (part or 0.0) for weight, part in zip(effect.weights, parts, strict=True))
