"""Write docs/validation.md from the rows on disk. It prints what was found; a target that is missed is named missed."""

import datetime
import subprocess
from pathlib import Path

import numpy as np
import polars as pl

from validation import plots, sections
from validation import statistics as judge
from validation.designs import DESIGNS
from validation.measure import MEASURES
from validation.prose import ABOUT, DEFINITIONS, LIMITS
from validation.statistics import Share
from validation.tables import MAIN, by_measure, designs_and_weathers, markdown, marked, only

__all__ = ["write_report"]


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
    answered = comparisons.filter(pl.col("measure").is_in(MEASURES))
    good = judge.plain(answered)
    folder = target.with_suffix("")
    _draw(good, folder)
    name = folder.name
    parts = [
        "# What the verdict is worth: a trial on simulated cars",
        _stamp(comparisons, drives, seeds, command),
        ABOUT,
        "## Targets\n\n" + _targets(good, answered, drives),
        "## Where a target is missed, and what would reach it\n\n" + sections.reasons(good),
        DEFINITIONS,
        "## How often the 95 % interval holds the truth\n\nPer cent of comparisons, with one Monte Carlo error. "
        "Target: 93 to 97.\n\n"
        + by_measure(good, judge.coverage, lambda s: marked(s, s.percent(), low=0.93, high=0.97))
        + f"\n\n![Coverage of the 95 % intervals by measure and design]({name}/coverage.svg)",
        "## Intervals of 50 and 80 %\n\n" + _levels(good, comparisons),
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
        "## Clear answers by size of the effect\n\n" + sections.power(good) + f"\n\n![Clear answers]({name}/power.svg)",
        "## Bias and calibration by measure\n\n" + sections.bias(good),
        "## By kind of change\n\n" + sections.kinds(good),
        "## Changes that alter what is held equal\n\n" + sections.deliberate(answered),
        "## Beyond the plain comparison\n\n" + sections.scenarios(comparisons),
        "## Finding pulls\n\n" + sections.finding(drives, pulls),
        "## Recognising columns\n\n" + sections.columns(columns),
        "## Refusals and censoring\n\n" + sections.refusals(comparisons),
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


def _targets(good: pl.DataFrame, answered: pl.DataFrame, drives: pl.DataFrame) -> str:
    """Every target beside the figure, with how many of the single cells miss it."""
    unlike = good.filter(pl.col("weather") == "unlike")
    like = good.filter(pl.col("weather") == "like")
    quiet = good.filter(pl.col("kind") == "nothing")
    three = only(good).filter(
        (pl.col("design") == "3+3, one day") & (pl.col("truth").abs() >= 1.25) & (pl.col("truth").abs() < 1.75)
    )
    power = judge.power_curve(three, np.array([1.25, 1.75]))[0][1]
    oracle = judge.oracle_power(three)
    easy = like.filter(pl.col("design") != "1+1, two days")
    hard = pl.concat([unlike, like.filter(pl.col("design") == "1+1, two days")])
    read = drives.filter(pl.col("refusal") == "")
    wanted, found, hits, false = (int(read[name].sum()) for name in ("wanted", "found", "hit", "false"))
    rows = [
        ["95 % intervals hold the truth, all measures and designs", "93 to 97 %", judge.coverage(good).percent()],
        ["the same, single measure and design", "each 93 to 97 %", _missed(good, judge.coverage, 0.93, 0.97)],
        [f"the same, `{MAIN}`", "93 to 97 %", judge.coverage(only(good)).percent()],
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
        [f"width over oracle, `{MAIN}`, like weather", "at most 1.3", _width(only(easy))],
        [f"width over oracle, `{MAIN}`, unlike weather or 1+1 on two days", "at most 1.6", _width(only(hard))],
        [
            "clear answers for 1.5 points of peak duty, 3+3 on one day",
            "at least 80 %",
            f"{power.percent()}; the oracle {oracle.percent()}",
        ],
        ["pulls: precision", "at least 0.99", f"{1 - false / max(found, 1):.4f} ({found} found)"],
        [
            "pulls: recall, in files that could be read",
            "at least 0.99",
            f"{hits / max(wanted, 1):.4f} ({wanted} there)",
        ],
        ["files that could not be read", "", f"{drives.height - read.height} of {drives.height}"],
        ["share of `same` that is right", "", judge.same_is_right(answered).percent()],
    ]
    return markdown(["what", "target", "found"], rows)


def _width(rows: pl.DataFrame) -> str:
    pooled, median = judge.width_ratio(rows)
    if pooled.count == 0:
        return ""
    by = [judge.width_ratio(only(rows, measure)) for measure in MEASURES]
    ratios = [share.value for share, _ in by if share.count >= 20]
    return (
        f"median {median:.2f}; by measure {min(ratios):.2f} to {max(ratios):.2f}" if ratios else f"median {median:.2f}"
    )


def _missed(rows: pl.DataFrame, rule: "judge.Judge", low: float, high: float) -> str:
    cells = []
    for design, weather in designs_and_weathers(rows):
        some = rows.filter((pl.col("design") == design) & (pl.col("weather") == weather))
        cells += [rule(only(some, measure)) for measure in MEASURES]
    counted = [share for share in cells if share.count >= 20]
    outside = [share for share in counted if not low <= share.value <= high]
    clear = [s for s in outside if s.value < low - 2 * s.error or s.value > high + 2 * s.error]
    below = sum(share.value < low for share in clear)
    tail = f"; of the clear ones {below} lie below" if low > 0 and clear else ""
    return f"{len(outside)} of {len(counted)} outside, {len(clear)} by more than two errors{tail}"


def _levels(good: pl.DataFrame, answered: pl.DataFrame) -> str:
    """Coverage at three levels, of the whole effect besides, and what the bands of curves hold."""
    rows = []
    for measure in (*MEASURES, "all"):
        some = good if measure == "all" else only(good, measure)
        if some.height >= 20:
            found = [judge.coverage(some, level) for level in (50, 80, 95)]
            whole = judge.coverage(some.with_columns(truth=pl.col("truth_whole")))
            rows.append([f"`{measure}`", *(share.percent() for share in (*found, whole)), str(some.height)])
    head = ["measure", "50 %", "80 %", "95 %", "95 %, whole effect", "comparisons"]
    return (
        markdown(head, rows)
        + "\n\nThe fourth column asks whether the 95 % interval holds the whole effect, boost included."
        + "\n\n### Bands of curves\n\nWhere nothing had changed: per cent of comparisons whose 95 % band holds zero at "
        "every engine speed. Target: 93 to 97.\n\n" + _bands(answered)
    )


def _bands(comparisons: pl.DataFrame) -> str:
    bands = comparisons.filter(pl.col("measure").str.starts_with("band:") & (pl.col("scenario") == "plain"))
    rows = []
    for name in sorted(bands["measure"].unique()):
        cells = [f"`{name.removeprefix('band:')}`"]
        for weather in ("like", "unlike"):
            some = bands.filter((pl.col("measure") == name) & (pl.col("weather") == weather))
            cells.append(judge.share((some["verdict"] == "holds").cast(pl.Float64), some["car"]).percent())
        rows.append([*cells, str(bands.filter(pl.col("measure") == name).height)])
    return markdown(["channel", "like", "unlike", "comparisons"], rows)


def _draw(good: pl.DataFrame, folder: Path) -> None:
    """The four figures."""
    measures = [measure for measure in MEASURES if only(good, measure).height >= 20]

    def shares(rule: "judge.Judge", rows: pl.DataFrame, column: tuple[str, str]) -> list[Share]:
        some = rows.filter((pl.col("design") == column[0]) & (pl.col("weather") == column[1]))
        return [rule(only(some, measure)) for measure in measures]

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
    like = only(good).filter(pl.col("weather") == "like")
    lines = {
        design: judge.power_curve(like.filter(pl.col("design") == design), sections.POWER_EDGES) for design in DESIGNS
    }
    plots.curves(folder / "power", lines, "true change of peak duty, points", "clear answers, %", 80)
