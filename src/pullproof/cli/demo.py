"""`pullproof demo`: an invented car, its logs, the verdict and the report, from nothing."""

from pathlib import Path

import click

from pullproof.analysis.air_system import load_compressor_map
from pullproof.analysis.airpath import load_path
from pullproof.car import load_car
from pullproof.cli.demo_season import demo_season
from pullproof.cli.output import console, json_option, write_json
from pullproof.cli.sides import Question, answer
from pullproof.conditions import load_conditions
from pullproof.demo import DemoFiles, make_demo
from pullproof.errors import WrongUse
from pullproof.report.documents import comparison_document

__all__ = ["command"]


@click.command("demo")
@click.option("--dir", "folder", default="pullproof-demo", show_default=True, metavar="DIR", help="Where to put it.")
@click.option("--library", "library", metavar="DIR", help="Make a library with the car's whole summer in it instead.")
@json_option
def command(folder: str, library: str | None, json_file: str | None) -> int:
    """Make an invented car with logs from before and after a charge-pipe change, and compare them."""
    if library is not None:
        return demo_season(Path(library), json_file)
    screen = console(json_file)
    screen.print("Simulating an invented car on two test days ...")
    place = Path(folder)
    try:
        files = make_demo(place)
    except OSError as error:
        raise WrongUse(
            f"the demo cannot be written ({error.strerror})", where=str(place), advice="Name another folder with --dir."
        ) from error
    question = Question(
        car=load_car(files.car_sheet),
        conditions=load_conditions(files.conditions),
        before=files.before,
        after=files.after,
        paths=(load_path(files.pipes[0]), load_path(files.pipes[1])),
        compressor_map=load_compressor_map(files.compressor_map),
    )
    report = place / "report.html"
    found = answer(question, report)
    comparison = found.comparison
    main = next(measure for measure in comparison.measures if measure.id == comparison.main)
    screen.print(f"\n{comparison.sentence}\n", style="bold", markup=False)
    if main.id in files.truth:
        screen.print(
            f"The simulation's true effect is {files.truth[main.id]:+.2f} points: "
            "a figure that nobody has who changes a part on a real car.\n",
            markup=False,
        )
    for caution in comparison.cautions:
        screen.print(f"- {caution}", markup=False)
    screen.print(f"\nReport: {report.resolve()}", markup=False)
    screen.print(
        "It shows where the pulls run on the map of an invented compressor.\n"
        "The logs, the car sheet, the conditions, both pipes and the compressor map are beside it. "
        "The same by hand, in that folder:\n",
        markup=False,
    )
    screen.print(f"  {_by_hand(files)}", markup=False, soft_wrap=True)
    write_json(comparison_document(comparison, found.prediction, found.air, found.operating), json_file)
    return 0


def _by_hand(files: DemoFiles) -> str:
    before, after = (" ".join(path.name for path in side) for side in (files.before, files.after))
    old, new = (path.name for path in files.pipes)
    return (
        f"pullproof compare --car {files.car_sheet.name} --conditions {files.conditions.name} "
        f"--before {before} --after {after} --path-before {old} --path-after {new} "
        f"--compressor-map {files.compressor_map.name} --report report.html"
    )
