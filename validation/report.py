"""Write docs/validation.md from the rows on disk. It prints what was found; a target that is missed is named missed."""

import datetime
import itertools
import subprocess
from pathlib import Path

import numpy as np
import polars as pl

from validation import plots
from validation import statistics as judge
from validation.designs import DESIGNS
from validation.measure import MEASURES
from validation.plan import SCENARIOS
from validation.prose import ABOUT, DEFINITIONS, LIMITS
from validation.statistics import Share
from validation.tables import by_measure, designs_and_weathers, markdown, marked

__all__ = ["write_report"]

MAIN = "wastegate_duty.peak"
POWER_EDGES = np.array([0.125, 0.375, 0.75, 1.25, 1.75, 2.5, 3.5, 5.0])


def write_report(
    comparisons: pl.DataFrame,
    drives: pl.DataFrame,
    pulls: pl.DataFrame,
    columns: pl.DataFrame,
    target: Path,
    *,
    seeds: str,
    command: str,
) -> str:
    """Write the report and its figures; the text is returned too."""
    answered = comparisons.filter(pl.col("measure") != "")
    good = judge.plain(answered)
    folder = target.with_suffix("")
    _draw(good, folder)
    name = folder.name
    parts = [
        "# What the verdict is worth: a trial on simulated cars",
        _stamp(comparisons, drives, seeds, command),
        ABOUT,
        "## Targets\n\n" + _targets(good, answered, drives),
        DEFINITIONS,
        "## How often the 95 % interval holds the truth\n\nPer cent of comparisons, with one Monte Carlo error. "
        "Target: 93 to 97.\n\n"
        + by_measure(good, judge.coverage, lambda s: marked(s, s.percent(), low=0.93, high=0.97))
        + f"\n\n![Coverage of the 95 % intervals by measure and design]({name}/coverage.svg)",
        "## Intervals of 50 and 80 %\n\n" + _levels(good),
        "## Claims where nothing had changed\n\nPer cent of comparisons with the verdict `lower` or `higher`. "
        "Target: at most 5.\n\n"
        + by_measure(
            good.filter(pl.col("kind") == "nothing"), judge.claims, lambda s: marked(s, s.percent(), high=0.05)
        )
        + f"\n\n![False claims by measure]({name}/false-claims.svg)",
        "## Width against an oracle\n\nMean width of the 95 % interval over that of the oracle. Target: 1.3 in like "
        "weather, 1.6 where 8 K or more lie between the sets or where one pull a side is compared over two days.\n\n"
        + by_measure(good, lambda rows: judge.width_ratio(rows)[0], lambda s: s.plain())
        + f"\n\n![Width over the oracle's by measure]({name}/width.svg)",
        "## Clear answers by size of the effect\n\n" + _power(good) + f"\n\n![Clear answers]({name}/power.svg)",
        "## Bias and calibration by measure\n\n" + _bias(good),
        "## By kind of change\n\n" + _kinds(good),
        "## Changes that alter what is held equal\n\n" + _deliberate(answered),
        "## Beyond the plain comparison\n\n" + _scenarios(comparisons),
        "## Finding pulls\n\n" + _finding(drives, pulls),
        "## Recognising columns\n\n" + _columns(columns),
        "## Refusals and censoring\n\n" + _refusals(comparisons),
        LIMITS,
    ]
    text = "\n\n".join(part.strip() for part in parts) + "\n"
    target.parent.mkdir(parents=True, exist_ok=True)
    target.write_text(text, encoding="utf-8")
    return text


def _stamp(comparisons: pl.DataFrame, drives: pl.DataFrame, seeds: str, command: str) -> str:
    asked = ["git", "log", "-1", "--format=%h"]
    commit = subprocess.run(asked, capture_output=True, text=True, check=False).stdout.strip()  # noqa: S603
    count = comparisons.select("car", "trial").unique().height
    cars = comparisons["car"].n_unique()
    today = datetime.datetime.now(tz=datetime.UTC).date().isoformat()
    return (
        f"Made by `{command}` on {today}, commit {commit or 'unknown'}: {count} comparisons of {cars} simulated cars, "
        f"{drives.height} drives through files; {seeds}."
    )


def _one(rows: pl.DataFrame, measure: str = MAIN) -> pl.DataFrame:
    return rows.filter(pl.col("measure") == measure)


def _targets(good: pl.DataFrame, answered: pl.DataFrame, drives: pl.DataFrame) -> str:
    """Every target beside the figure, with how many of the single cells miss it."""
    unlike = good.filter(pl.col("weather") == "unlike")
    like = good.filter(pl.col("weather") == "like")
    quiet = good.filter(pl.col("kind") == "nothing")
    three = _one(good).filter(
        (pl.col("design") == "3+3, one day") & (pl.col("truth").abs() >= 1.25) & (pl.col("truth").abs() < 1.75)
    )
    power = judge.power_curve(three, np.array([1.25, 1.75]))[0][1]
    easy = like.filter(pl.col("design") != "1+1, two days")
    hard = pl.concat([unlike, like.filter(pl.col("design") == "1+1, two days")])
    wanted, found, hits, false = (int(drives[name].sum()) for name in ("wanted", "found", "hit", "false"))
    rows = [
        ["95 % intervals hold the truth, all measures and designs", "93 to 97 %", judge.coverage(good).percent()],
        ["the same, single measure and design", "each 93 to 97 %", _missed(good, judge.coverage, 0.93, 0.97)],
        [f"the same, `{MAIN}`", "93 to 97 %", judge.coverage(_one(good)).percent()],
        [
            "false claims, like weather",
            "at most 5 %",
            judge.claims(quiet.filter(pl.col("weather") == "like")).percent(),
        ],
        [
            "false claims, 8 K or more between",
            "at most 5 %",
            judge.claims(quiet.filter(pl.col("weather") == "unlike")).percent(),
        ],
        ["the same, single measure and design", "each at most 5 %", _missed(quiet, judge.claims, -1.0, 0.05)],
        ["width over oracle, like weather", "at most 1.3", _width(easy)],
        ["width over oracle, unlike weather or 1+1 on two days", "at most 1.6", _width(hard)],
        [f"width over oracle, `{MAIN}`, like weather", "at most 1.3", _width(_one(easy))],
        [f"width over oracle, `{MAIN}`, unlike weather or 1+1 on two days", "at most 1.6", _width(_one(hard))],
        ["clear answers for 1.5 points of peak duty, 3+3 on one day", "at least 80 %", power.percent()],
        ["pulls: precision", "at least 0.99", f"{1 - false / max(found, 1):.4f} ({found} found)"],
        ["pulls: recall", "at least 0.99", f"{hits / max(wanted, 1):.4f} ({wanted} there)"],
        ["share of `same` that is right", "", judge.same_is_right(answered).percent()],
    ]
    return markdown(["what", "target", "found"], rows)


def _width(rows: pl.DataFrame) -> str:
    pooled, median = judge.width_ratio(rows)
    if pooled.count == 0:
        return ""
    by = [judge.width_ratio(_one(rows, measure)) for measure in MEASURES]
    ratios = [share.value for share, _ in by if share.count >= 20]
    return (
        f"median {median:.2f}; by measure {min(ratios):.2f} to {max(ratios):.2f}" if ratios else f"median {median:.2f}"
    )


def _missed(rows: pl.DataFrame, rule: "judge.Judge", low: float, high: float) -> str:
    cells = []
    for design, weather in designs_and_weathers(rows):
        some = rows.filter((pl.col("design") == design) & (pl.col("weather") == weather))
        cells += [rule(_one(some, measure)) for measure in MEASURES]
    counted = [share for share in cells if share.count >= 20]
    outside = [share for share in counted if not low <= share.value <= high]
    clear = [s for s in outside if s.value < low - 2 * s.error or s.value > high + 2 * s.error]
    below = sum(share.value < low for share in clear)
    tail = f"; of the clear ones {below} lie below" if low > 0 and clear else ""
    return f"{len(outside)} of {len(counted)} outside, {len(clear)} by more than two errors{tail}"


def _levels(good: pl.DataFrame) -> str:
    rows = []
    for measure in MEASURES:
        some = _one(good, measure)
        if some.height >= 20:
            rows.append(
                [f"`{measure}`", *(judge.coverage(some, level).percent() for level in (50, 80, 95)), str(some.height)]
            )
    rows.append(["all", *(judge.coverage(good, level).percent() for level in (50, 80, 95)), str(good.height)])
    return markdown(["measure", "50 %", "80 %", "95 %", "comparisons"], rows)


def _power(good: pl.DataFrame) -> str:
    like = _one(good).filter(pl.col("weather") == "like")
    head = [
        "true change of peak duty, points",
        *(f"{low:g} to {high:g}" for low, high in itertools.pairwise(POWER_EDGES)),
    ]
    rows = []
    for design in DESIGNS:
        points = judge.power_curve(like.filter(pl.col("design") == design), POWER_EDGES)
        rows.append([design, *(f"{share.percent()} ({share.count})" if share.count else "" for _, share in points)])
    return "Per cent of comparisons with a clear answer in the right direction, like weather.\n\n" + markdown(
        head, rows
    )


def _bias(good: pl.DataFrame) -> str:
    """Mean error and its size over what the interval says, in like and in unlike weather."""
    rows = []
    for measure in MEASURES:
        some = _one(good, measure)
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


def _kinds(good: pl.DataFrame) -> str:
    rows = []
    for kind in sorted(good["kind"].unique()):
        some = good.filter(pl.col("kind") == kind)
        main = _one(some)
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


def _deliberate(answered: pl.DataFrame) -> str:
    some = answered.filter(pl.col("kind").is_in(judge.DELIBERATE) & ~pl.col("censored") & pl.col("truth").is_finite())
    rows = []
    for kind in judge.DELIBERATE:
        for measure in MEASURES:
            part = _one(some.filter(pl.col("kind") == kind), measure)
            if part.height >= 10:
                rows.append(
                    [f"{kind}: `{measure}`", judge.coverage(part).percent(), judge.bias(part).plain(), str(part.height)]
                )
    return (
        "A new boost target alters boost itself, which other comparisons hold equal; mass put aboard without a word "
        "alters what wheel power is computed with. Truth is the whole effect; for the duty, the analysis answers at "
        "equal boost, so a difference from the whole effect is to be expected there.\n\n"
        + markdown(["change and measure", "coverage", "bias", "comparisons"], rows)
    )


def _scenarios(comparisons: pl.DataFrame) -> str:
    rows = []
    for scenario, meaning in SCENARIOS.items():
        some = comparisons.filter((pl.col("scenario") == scenario) & ~pl.col("kind").is_in(judge.DELIBERATE))
        if some.height == 0:
            continue
        known = some.filter((pl.col("measure") != "") & ~pl.col("censored") & pl.col("truth").is_finite())
        quiet = known.filter(pl.col("kind") == "nothing")
        whole = some.group_by("car", "trial").agg(pl.col("warned").first(), pl.col("refusal").first())
        warned = judge.share((whole["warned"] != "").cast(pl.Float64), whole["car"])
        refused = judge.share((whole["refusal"] != "").cast(pl.Float64), whole["car"])
        rows.append(
            [
                f"{scenario}: {meaning}",
                judge.coverage(known).percent(),
                judge.coverage(_one(known)).percent(),
                judge.claims(quiet).percent(),
                judge.claims(_one(quiet)).percent(),
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


def _finding(drives: pl.DataFrame, pulls: pl.DataFrame) -> str:
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
    refused = drives.filter(pl.col("refusal") != "")
    text += f"\n\n{refused.height} of {drives.height} drives were refused."
    for sentence, count in refused.group_by("refusal").len().sort("len", descending=True).head(8).iter_rows():
        text += f"\n- {count}: {sentence[:160]}"
    return text


def _columns(columns: pl.DataFrame) -> str:
    if columns.height == 0:
        return "No columns were read."
    rows = []
    for channel in ("all", *sorted(columns["channel"].unique())):
        some = columns if channel == "all" else columns.filter(pl.col("channel") == channel)
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
    wrong = columns.filter(~pl.col("right_unit")).group_by("header", "channel", "taken_for", "unit", "taken_unit").len()
    text += "\n\nMost frequent mistakes:\n"
    for header, channel, taken, unit, taken_unit, count in wrong.sort("len", descending=True).head(15).iter_rows():
        truth, guess = f"{channel}, {unit or 'no unit'}", f"{taken or 'nothing'}, {taken_unit or 'no unit'}"
        text += f'\n- {count} × "{header}" ({truth}) taken for {guess}'
    return text


def _percent(values: pl.Series) -> str:
    return f"{100 * float(values.mean()):.1f}"  # type: ignore[arg-type]


def _refusals(comparisons: pl.DataFrame) -> str:
    whole = comparisons.group_by("car", "trial").agg(pl.col("refusal").first())
    refused = whole.filter(pl.col("refusal") != "")
    text = f"{refused.height} of {whole.height} comparisons were refused."
    for sentence, count in refused.group_by("refusal").len().sort("len", descending=True).head(10).iter_rows():
        text += f"\n- {count}: {sentence[:200]}"
    duty = comparisons.filter(pl.col("measure") == MAIN)
    pinned = duty.filter(pl.col("level_before") > 99.0)
    right = pinned.filter(pl.col("censored")).height
    free = duty.filter(pl.col("level_before") < 97.0)
    over = free.filter(pl.col("censored")).height
    return text + (
        f"\n\nPeak duty truly pinned at 100 %: {pinned.height} comparisons, {right} of them marked as censored. "
        f"Truly free (below 97 % before): {free.height}, {over} marked all the same."
    )


def _draw(good: pl.DataFrame, folder: Path) -> None:
    """The four figures."""
    measures = [measure for measure in MEASURES if _one(good, measure).height >= 20]

    def shares(rule: "judge.Judge", rows: pl.DataFrame, column: tuple[str, str]) -> list[Share]:
        some = rows.filter((pl.col("design") == column[0]) & (pl.col("weather") == column[1]))
        return [rule(_one(some, measure)) for measure in measures]

    def groups(rule: "judge.Judge", rows: pl.DataFrame, weather: str) -> dict[str, list[Share]]:
        columns = [column for column in designs_and_weathers(rows) if column[1] == weather]
        return {column[0]: shares(rule, rows, column) for column in columns}

    quiet = good.filter(pl.col("kind") == "nothing")

    def ratio(rows: pl.DataFrame) -> Share:
        return judge.width_ratio(rows)[0]

    for weather in ("like", "unlike"):
        tail = "" if weather == "like" else "-unlike"
        plots.dots(
            folder / f"coverage{tail}",
            measures,
            groups(judge.coverage, good, weather),
            f"95 % intervals that hold the truth, % ({weather} weather)",
            target=(93, 97),
            scale=100,
        )
        plots.dots(
            folder / f"false-claims{tail}",
            measures,
            groups(judge.claims, quiet, weather),
            f"claims where nothing had changed, % ({weather} weather)",
            target=(0, 5),
            scale=100,
        )
        plots.dots(
            folder / f"width{tail}",
            measures,
            groups(ratio, good, weather),
            f"width over the oracle's, 1 ({weather} weather)",
            target=(1, 1.3 if weather == "like" else 1.6),
        )
    like = _one(good).filter(pl.col("weather") == "like")
    lines = {design: judge.power_curve(like.filter(pl.col("design") == design), POWER_EDGES) for design in DESIGNS}
    plots.curves(folder / "power", lines, "true change of peak duty, points", "clear answers, %", 80)
