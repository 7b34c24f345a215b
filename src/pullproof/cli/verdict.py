"""The answer of `compare` on the console."""

from rich.console import Console

from pullproof.analysis.air_system import AirComparison
from pullproof.analysis.comparison.result import Comparison, MeasureDifference
from pullproof.analysis.prediction import PathPrediction
from pullproof.cli.output import Listing, print_list
from pullproof.cli.sides import Answer
from pullproof.report.air_section import air_lines, air_rows
from pullproof.report.map_section import operating_notes
from pullproof.report.path_drawables import agreement_roundings
from pullproof.report.prediction_section import JUDGEMENTS
from pullproof.report.rounding import Rounding
from pullproof.report.wording import difference_unit, measure_name, typographic, unit_text

__all__ = ["show"]


def show(found: Answer, screen: Console) -> None:
    """Print the answer for people: the sentence first, then what it rests on and what stands against it."""
    comparison = found.comparison
    low, high = comparison.window_rpm
    screen.print(comparison.sentence, style="bold", markup=False)
    screen.print(
        f"\nWindow {low:.0f} to {high:.0f} rpm; main measure: {measure_name(comparison.main)}.\n", markup=False
    )
    screen.print(_measures(comparison).table)
    screen.print(
        "Before and after are means as driven; the difference is after minus before at the mean conditions "
        f"of all pulls, with its {100 * comparison.level:.4g} % interval.\n",
        markup=False,
    )
    _show_prediction(found.prediction, screen)
    _show_air(found.air, screen)
    print_list(screen, "Not shown", found.not_shown)
    for side, line in found.operating:
        print_list(screen, f"On the compressor map, {side}", operating_notes(None, line))
    listing = Listing("fairness check", "", "")
    for check in comparison.checks:
        if check.status != "pass":
            listing.add(check.id.replace("_", " "), check.status, check.detail)
    passed = sum(check.status == "pass" for check in comparison.checks)
    if passed < len(comparison.checks):
        screen.print(listing.table)
    screen.print(f"{passed} of {len(comparison.checks)} fairness checks passed.\n", markup=False)
    for pull in (*comparison.before, *comparison.after):
        if not pull.used:
            screen.print(
                f"Refused: {pull.log} from {pull.start_s:.1f} s to {pull.end_s:.1f} s: {pull.reason}.", markup=False
            )
    for heading, lines in (
        ("Left out", [f"{measure_name(left.measure)}: {left.reason}" for left in comparison.left_out]),
        ("Doubts", comparison.doubts),
        ("Next", comparison.next_steps),
        ("Cautions", comparison.cautions),
    ):
        print_list(screen, heading, lines)


def _show_prediction(prediction: PathPrediction | None, screen: Console) -> None:
    """Predicted and measured beside each other, and whether they agree."""
    if prediction is None:
        return
    screen.print(f"Predicted: {typographic(prediction.paths.sentence)}", markup=False)
    listing = Listing(
        "measure", "predicted", "measured", "measured − predicted", "interval", "agree?", numbers=(1, 2, 3)
    )
    for one in prediction.agreements:
        predicted, measured, gap = agreement_roundings(one)
        listing.add(
            measure_name(one.id),
            predicted.signed(one.predicted),
            measured.signed(one.measured),
            gap.signed(one.gap),
            gap.interval(one.gap_interval),
            JUDGEMENTS[one.judgement][1],
        )
    screen.print(listing.table)
    screen.print(prediction.sentence, markup=False)
    for left in prediction.left_out:
        screen.print(f"- {measure_name(left.measure)}: {left.reason}", markup=False)
    screen.print()


def _show_air(air: AirComparison, screen: Console) -> None:
    """The air system before and after; what no log tells is one line."""
    rows = air_rows(air)
    if rows:
        listing = Listing("air system", "before", "after", "difference", "interval", "measured?", numbers=(1, 2, 3))
        for row in rows:
            listing.add(*row)
        screen.print(listing.table)
    for line in air_lines(air):
        screen.print(f"- {line}", markup=False)
    screen.print()


def _measures(comparison: Comparison) -> Listing:
    listing = Listing("measure", "before", "after", "difference", "interval", "verdict", numbers=(1, 2, 3))
    for measure in comparison.measures:
        listing.add(*_row(measure))
    return listing


def _row(measure: MeasureDifference) -> tuple[str, ...]:
    rounding = Rounding.of(measure.interval, measure.before, difference_unit(measure.unit, measure.id))
    value = Rounding(rounding.places, unit_text(measure.unit, measure.id))
    cells = (measure_name(measure.id), value.plain(measure.before), value.plain(measure.after))
    if measure.censored:
        return (*cells, "none", "", "pinned: cannot move")
    return (*cells, rounding.signed(measure.difference), rounding.interval(measure.interval), measure.verdict)
