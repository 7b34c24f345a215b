"""Judge the rows of many comparisons: coverage, false alarms, width, power, bias, and how sure each figure is.

Comparisons of one car are not independent of each other (its scatter and its logger are the same), so every Monte
Carlo error is that of a mean over cars.
"""

import itertools
from collections.abc import Callable, Iterable
from dataclasses import dataclass

import numpy as np
import polars as pl
from scipy.stats import norm

from validation.batches import Array
from validation.measure import MEASURES

__all__ = [
    "DELIBERATE",
    "Judge",
    "Share",
    "bias",
    "claims",
    "coverage",
    "oracle_power",
    "plain",
    "power_curve",
    "same_is_right",
    "share",
    "spread",
    "width_ratio",
    "wrong_sign",
]

DELIBERATE = ("boost target", "mass")
"""Changes that alter what the analysis holds equal or cannot know: judged in a table of their own."""


@dataclass(frozen=True, slots=True)
class Share:
    """A share or a mean, its Monte Carlo standard error, and the number of comparisons behind it."""

    value: float
    error: float
    count: int

    def percent(self) -> str:
        """As a percentage with its error."""
        return "" if self.count == 0 else f"{100 * self.value:.1f} ± {100 * self.error:.1f}"

    def plain(self, digits: int = 2) -> str:
        """As a number with its error."""
        return "" if self.count == 0 else f"{self.value:.{digits}f} ± {self.error:.{digits}f}"


Judge = Callable[[pl.DataFrame], Share]


def share(values: Iterable[float], cars: Iterable[int]) -> Share:
    """Mean of values with its error between cars."""
    table = pl.DataFrame({"value": np.asarray(list(values), dtype=float), "car": list(cars)})
    table = table.filter(pl.col("value").is_finite())
    count = len(table)
    if count == 0:
        return Share(np.nan, np.nan, 0)
    mean = float(table["value"].mean())  # type: ignore[arg-type]
    sums = table.group_by("car").agg((pl.col("value") - mean).sum())["value"].to_numpy()
    clusters = len(sums)
    correction = clusters / (clusters - 1) if clusters > 1 else np.nan
    return Share(mean, float(np.sqrt(np.sum(sums**2) * correction) / count), count)


def plain(rows: pl.DataFrame) -> pl.DataFrame:
    """Answers that count in the pooled tables: nothing out of the ordinary, not censored, truth known."""
    return rows.filter(
        (pl.col("scenario") == "plain")
        & ~pl.col("kind").is_in(DELIBERATE)
        & pl.col("measure").is_in(MEASURES)
        & ~pl.col("censored")
        & pl.col("truth").is_finite()
    )


def coverage(rows: pl.DataFrame, level: int = 95) -> Share:
    """How often the interval of a level [%] holds the truth."""
    inside = (rows[f"low{level}"] <= rows["truth"]) & (rows["truth"] <= rows[f"high{level}"])
    return share(inside.cast(pl.Float64), rows["car"])


def claims(rows: pl.DataFrame) -> Share:
    """How often `lower` or `higher` is claimed."""
    return share(rows["verdict"].is_in(["lower", "higher"]).cast(pl.Float64), rows["car"])


def same_is_right(rows: pl.DataFrame) -> Share:
    """How often the true difference is smaller than the smallest worth having where `same` is said."""
    said = rows.filter(pl.col("verdict") == "same")
    return share((said["truth"].abs() <= said["smallest"]).cast(pl.Float64), said["car"])


def wrong_sign(rows: pl.DataFrame) -> Share:
    """How often a claim points the wrong way, of all claims where something had changed."""
    said = rows.filter(pl.col("verdict").is_in(["lower", "higher"]) & (pl.col("kind") != "nothing"))
    wrong = (said["verdict"] == "higher") != (said["truth"] > 0)
    return share(wrong.cast(pl.Float64), said["car"])


def width_ratio(rows: pl.DataFrame) -> tuple[Share, float]:
    """Width of the 95 % interval over the oracle's: ratio of the mean widths, and the median ratio."""
    known = rows.filter(pl.col("oracle").is_finite() & (pl.col("oracle") > 0))
    if len(known) == 0:
        return Share(np.nan, np.nan, 0), np.nan
    half = (known["high95"] - known["low95"]) / 2
    ratio = half / known["oracle"]
    pooled = float(half.mean() / known["oracle"].mean())  # type: ignore[operator]
    spread = share((half - pooled * known["oracle"]) / known["oracle"].mean(), known["car"])
    return Share(pooled, spread.error, len(known)), float(ratio.median())  # type: ignore[arg-type]


def bias(rows: pl.DataFrame) -> Share:
    """Mean error, in halves of the interval's width: 0.1 costs little, 0.5 spoils the coverage."""
    half = (rows["high95"] - rows["low95"]) / 2
    return share((rows["difference"] - rows["truth"]) / half, rows["car"])


def spread(rows: pl.DataFrame) -> Share:
    """Root mean square of error over the interval's standard error: 1 where the interval is as wide as it should be."""
    half = (rows["high95"] - rows["low95"]) / 2 / 1.96
    square = share(((rows["difference"] - rows["truth"]) / half) ** 2, rows["car"])
    root = float(np.sqrt(square.value))
    return Share(root, square.error / (2 * root) if root > 0 else np.nan, square.count)


def power_curve(rows: pl.DataFrame, edges: Array) -> list[tuple[float, Share]]:
    """Share of clear answers in the right direction by size of the true effect; bins between `edges`."""
    found = []
    for low, high in itertools.pairwise(edges):
        inside = rows.filter((pl.col("truth").abs() >= low) & (pl.col("truth").abs() < high))
        right = ((inside["verdict"] == "higher") & (inside["truth"] > 0)) | (
            (inside["verdict"] == "lower") & (inside["truth"] < 0)
        )
        centre = float(inside["truth"].abs().mean()) if len(inside) else (low + high) / 2  # type: ignore[arg-type]
        found.append((centre, share(right.cast(pl.Float64), inside["car"])))
    return found


def oracle_power(rows: pl.DataFrame) -> Share:
    """How often the oracle would give a clear answer in the right direction for the same true effects."""
    known = rows.filter(pl.col("oracle").is_finite() & (pl.col("oracle") > 0))
    quantile = float(norm.ppf(0.975))
    size = known["truth"].abs().to_numpy() / (known["oracle"].to_numpy() / quantile)
    return share(norm.cdf(size - quantile), known["car"])
