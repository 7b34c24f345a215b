"""What a report sheet may say of itself: how often intervals of each measure have held on simulated cars."""

import datetime

import polars as pl

from validation import statistics as judge
from validation.measure import MEASURES
from validation.tables import only

__all__ = ["track_record"]

LEAST = 100
"""Comparisons below which a share is too uncertain to be printed on every report."""


def track_record(comparisons: pl.DataFrame) -> str:
    """TOML for `pullproof.report`: comparisons behind it, and the share of 95 % intervals that held, by measure."""
    good = judge.plain(comparisons.filter(pl.col("measure").is_in(MEASURES)))
    shares = {measure: judge.coverage(only(good, measure)) for measure in MEASURES}
    lines = [
        "# How often 95 % intervals have held the truth on simulated cars, per cent. Written by `make validate-full`;",
        "# docs/validation.md says how.",
        f"made = {datetime.datetime.now(tz=datetime.UTC).date().isoformat()}",
        f"cars = {comparisons['car'].n_unique()}",
        "",
        "[held_pct]",
    ]
    lines += [f'"{measure}" = {100 * share.value:.1f}' for measure, share in shares.items() if share.count >= LEAST]
    return "\n".join(lines) + "\n"
