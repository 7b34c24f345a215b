"""Sections of the report below the targets, each a piece of Markdown from the rows."""

import itertools

import numpy as np
import polars as pl

from validation import statistics as judge
from validation.bounds import least_width
from validation.designs import DESIGNS
from validation.measure import MEASURES
from validation.plan import SCENARIOS
from validation.prose import REASONS_DATA, REASONS_POWER, REASONS_WEATHER, REASONS_WIDTH
from validation.tables import MAIN, markdown, only

__all__ = [
    "POWER_EDGES",
    "bias",
    "columns",
    "deliberate",
    "finding",
    "kinds",
    "power",
    "reasons",
    "refusals",
    "scenarios",
]

RUN_EDGES = np.array([0.0, 0.5, 0.8, 1.2, 10.0])
"""Bins of a car's run-to-run scatter of peak duty. [points]"""

POWER_EDGES = np.array([0.125, 0.375, 0.75, 1.25, 1.75, 2.5, 3.5, 5.0])
"""Bins of the true change of peak duty. [points]"""


def power(good: pl.DataFrame) -> str:
    """Clear answers by size of the true effect, and what the oracle would reach."""
    like = only(good).filter(pl.col("weather") == "like")
    head = [
        "true change of peak duty, points",
        *(f"{low:g} to {high:g}" for low, high in itertools.pairwise(POWER_EDGES)),
    ]
    rows = []
    for design in DESIGNS:
        some = like.filter(pl.col("design") == design)
        points = judge.power_curve(some, POWER_EDGES)
        rows.append([design, *(f"{share.percent()} ({share.count})" if share.count else "" for _, share in points)])
        oracle = []
        for low, high in itertools.pairwise(POWER_EDGES):
            size = pl.col("truth").abs()
            oracle.append(judge.oracle_power(some.filter((size >= low) & (size < high))).percent())
        rows.append([f"{design}: the oracle", *oracle])
    return (
        "Per cent of comparisons with a clear answer in the right direction, like weather, and what the oracle, who "
        "knows each car's scatter, would reach for the same effects.\n\n" + markdown(head, rows)
    )


def reasons(good: pl.DataFrame) -> str:
    """Why some targets are out of reach, in figures, and what data would reach them."""
    main = only(good).filter((pl.col("weather") == "like") & (pl.col("design") == "3+3, one day"))
    rows = []
    for low, high in itertools.pairwise(RUN_EDGES):
        some = main.filter((pl.col("true_run") >= low) & (pl.col("true_run") < high))
        effect = some.filter((pl.col("truth").abs() >= 1.0) & (pl.col("truth").abs() < 2.0))
        right = judge.power_curve(effect, np.array([1.0, 2.0]))[0][1]
        rows.append([f"{low:g} to {high:g}", right.percent(), judge.oracle_power(effect).percent(), str(effect.height)])
    cars = good.filter(pl.col("true_run").is_finite() & (pl.col("true_run") > 0)).unique(["car", "measure"])
    spreads = cars.group_by("measure").agg(pl.col("true_run").log().std().alias("spread"), pl.len())
    # 36 repeats tell a standard deviation to within 1 / sqrt(2 * 24) of itself, which is not a spread of cars.
    spread = float(np.sqrt(max(float(spreads["spread"].drop_nulls().drop_nans().median()) ** 2 - 1.0 / 48.0, 0.01)))  # type: ignore[arg-type]
    bounds = ", ".join(f"{least_width(spread, freedom):.2f} with {freedom}" for freedom in (0, 2, 4, 10, 20))
    head = ["run-to-run scatter of peak duty, points", "clear answers, %", "the oracle, %", "comparisons"]
    return (
        REASONS_WIDTH.format(spread=spread, bounds=bounds)
        + REASONS_WEATHER
        + REASONS_POWER
        + markdown(head, rows)
        + REASONS_DATA
    )


def bias(good: pl.DataFrame) -> str:
    """Mean error and its size over what the interval says, in like and in unlike weather."""
    rows = []
    for measure in MEASURES:
        some = only(good, measure)
        if some.height < 20:
            continue
        cells = [f"`{measure}`"]
        for weather in ("like", "unlike"):
            part = some.filter(pl.col("weather") == weather)
            cells += [judge.bias(part).plain(), judge.spread(part).plain()]
        for name in ("true_run", "run_to_run", "true_day", "day_to_day"):
            cells.append(f"{some[name].fill_nan(None).median() or np.nan:.3g}")
        rows.append(cells)
    head = [
        "measure",
        "bias, like",
        "spread, like",
        "bias, unlike",
        "spread, unlike",
        "true run",
        "believed run",
        "true day",
        "believed day",
    ]
    return (
        "Bias is the mean error in halves of the interval's width. Spread is the root mean square of error over the "
        "interval's standard error: above 1 the interval is too narrow, below 1 too wide. The last four columns are "
        "medians of the true scatter (as logged) and of what the model came to believe.\n\n" + markdown(head, rows)
    )


def kinds(good: pl.DataFrame) -> str:
    """Coverage, bias and wrong claims by kind of change."""
    rows = []
    for kind in sorted(good["kind"].unique()):
        some = good.filter(pl.col("kind") == kind)
        main = only(some)
        rows.append(
            [
                str(kind),
                judge.coverage(some).percent(),
                judge.coverage(main).percent(),
                judge.bias(main).plain(),
                judge.wrong_sign(some).percent(),
            ]
        )
    return markdown(
        ["change", "coverage, all measures", f"coverage, `{MAIN}`", f"bias, `{MAIN}`", "claims in the wrong direction"],
        rows,
    )


def deliberate(answered: pl.DataFrame) -> str:
    """Changes that alter boost or mass on purpose."""
    some = answered.filter(pl.col("kind").is_in(judge.DELIBERATE) & ~pl.col("censored") & pl.col("truth").is_finite())
    rows = []
    for kind in judge.DELIBERATE:
        for measure in MEASURES:
            part = only(some.filter(pl.col("kind") == kind), measure)
            if part.height >= 10:
                rows.append(
                    [f"{kind}: `{measure}`", judge.coverage(part).percent(), judge.bias(part).plain(), str(part.height)]
                )
    return (
        "A new boost target alters boost itself, which other comparisons hold equal; mass put aboard without a word "
        "alters what wheel power is computed with. Truth is taken at equal boost, as everywhere.\n\n"
        + markdown(["change and measure", "coverage", "bias", "comparisons"], rows)
    )


def scenarios(comparisons: pl.DataFrame) -> str:
    """Comparisons that are not plain."""
    rows = []
    for scenario, meaning in SCENARIOS.items():
        some = comparisons.filter((pl.col("scenario") == scenario) & ~pl.col("kind").is_in(judge.DELIBERATE))
        if some.height == 0:
            continue
        known = some.filter((pl.col("measure").is_in(MEASURES)) & ~pl.col("censored") & pl.col("truth").is_finite())
        quiet = known.filter(pl.col("kind") == "nothing")
        whole = some.group_by("car", "trial").agg(pl.col("warned").first(), pl.col("refusal").first())
        warned = judge.share((whole["warned"] != "").cast(pl.Float64), whole["car"])
        refused = judge.share((whole["refusal"] != "").cast(pl.Float64), whole["car"])
        rows.append(
            [
                f"{scenario}: {meaning}",
                judge.coverage(known).percent(),
                judge.coverage(only(known)).percent(),
                judge.claims(quiet).percent(),
                judge.claims(only(quiet)).percent(),
                warned.percent(),
                refused.percent(),
            ]
        )
    head = [
        "scenario",
        "coverage, all",
        f"coverage, `{MAIN}`",
        "false claims, all",
        f"false claims, `{MAIN}`",
        "a check warned",
        "refused",
    ]
    return markdown(head, rows)


def finding(drives: pl.DataFrame, pulls: pl.DataFrame) -> str:
    """Precision, recall and edges of found pulls."""
    read = drives.filter(pl.col("refusal") == "")
    rows = []
    groups = [("all that could be read", read)]
    groups += [(f"{layout}", read.filter(pl.col("layout") == layout)) for layout in ("rows", "held", "blank")]
    groups += [
        ("below 6 Hz a channel", read.filter(pl.col("rate") < 6)),
        ("6 Hz and more", read.filter(pl.col("rate") >= 6)),
    ]
    groups += [
        ("no pedal channel", read.filter(~pl.col("pedal"))),
        ("no road speed", read.filter(~pl.col("road_speed"))),
    ]
    for name, some in groups:
        wanted, found, hits, false = (int(some[column].sum()) for column in ("wanted", "found", "hit", "false"))
        rows.append([name, str(wanted), f"{hits / max(wanted, 1):.3f}", str(found), f"{1 - false / max(found, 1):.3f}"])
    text = markdown(["drives", "pulls there", "recall", "pulls found", "precision"], rows)
    if pulls.height:
        interval = 1.0 / pulls["rate"]
        edges = []
        for name in ("start_error", "end_error"):
            size = pulls[name].abs()
            per = (size / interval).median()
            edges.append(
                f"{name.split('_')[0]}: median {size.median():.2f} s ({per:.1f} sample intervals), "
                f"95 % within {size.quantile(0.95):.2f} s"
            )
        text += "\n\nError of the edges: " + "; ".join(edges) + "."
    rows = []
    for language in sorted(drives["language"].unique()):
        some = drives.filter(pl.col("language") == language)
        rows.append([str(language), str(some.height), str(some.filter(pl.col("refusal") != "").height)])
    text += "\n\n" + markdown(["language of the headers", "files", "refused"], rows)
    refused = drives.filter(pl.col("refusal") != "")
    text += f"\n\n{refused.height} of {drives.height} drives were refused."
    sentences = refused.with_columns(pl.col("refusal").str.replace(r"^.*?\.csv: ", "").str.slice(0, 60))
    for sentence, count in sentences.group_by("refusal").len().sort("len", descending=True).head(8).iter_rows():
        text += f"\n- {count}: {sentence} ..."
    return text


def columns(table: pl.DataFrame) -> str:
    """How columns were recognised, and the most frequent mistakes."""
    if table.height == 0:
        return "No columns were read."
    rows = []
    for channel in ("all", *sorted(table["channel"].unique())):
        some = table if channel == "all" else table.filter(pl.col("channel") == channel)
        silent = (~some["right_unit"]) & ~some["doubt"]
        rows.append(
            [
                channel,
                _percent(some["right_channel"]),
                _percent(some["right_unit"]),
                _percent(some["doubt"]),
                _percent(silent),
                str(some.height),
            ]
        )
    text = markdown(
        [
            "channel",
            "channel right, %",
            "unit and reference right too, %",
            "doubt stated, %",
            "wrong without a doubt, %",
            "columns",
        ],
        rows,
    )
    wrong = table.filter(~pl.col("right_unit")).group_by("header", "channel", "taken_for", "unit", "taken_unit").len()
    text += "\n\nMost frequent mistakes:\n"
    for header, channel, taken, unit, taken_unit, count in wrong.sort("len", descending=True).head(15).iter_rows():
        truth, guess = f"{channel}, {unit or 'no unit'}", f"{taken or 'nothing'}, {taken_unit or 'no unit'}"
        text += f'\n- {count} × "{header}" ({truth}) taken for {guess}'
    return text


def _percent(values: pl.Series) -> str:
    return f"{100 * float(values.mean()):.1f}"  # type: ignore[arg-type]


def refusals(comparisons: pl.DataFrame) -> str:
    """What was refused, and whether censoring is seen."""
    whole = comparisons.group_by("car", "trial").agg(pl.col("refusal").first())
    refused = whole.filter(pl.col("refusal") != "")
    text = f"{refused.height} of {whole.height} comparisons were refused."
    sentences = refused.with_columns(pl.col("refusal").str.replace(r"^.*?\.csv: ", "").str.slice(0, 60))
    for sentence, count in sentences.group_by("refusal").len().sort("len", descending=True).head(10).iter_rows():
        text += f"\n- {count}: {sentence} ..."
    duty = comparisons.filter(pl.col("measure") == MAIN)
    pinned = duty.filter(pl.col("level_before") > 99.0)
    right = pinned.filter(pl.col("censored")).height
    free = duty.filter(pl.col("level_before") < 97.0)
    over = free.filter(pl.col("censored")).height
    return text + (
        f"\n\nPeak duty truly pinned at 100 %: {pinned.height} comparisons, {right} of them marked as censored. "
        f"Truly free (below 97 % before): {free.height}, {over} marked all the same."
    )
