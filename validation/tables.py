"""Markdown tables of the report, each from the rows of many comparisons."""

from collections.abc import Callable, Iterable, Sequence

import polars as pl

from validation.designs import DESIGNS
from validation.measure import MEASURES
from validation.statistics import Share

__all__ = ["MAIN", "by_measure", "cells_of", "designs_and_weathers", "markdown", "marked", "only"]

MAIN = "wastegate_duty.peak"


def markdown(head: Sequence[str], rows: Iterable[Sequence[str]]) -> str:
    """A Markdown table; the first column is text, the others are figures."""
    lines = ["| " + " | ".join(head) + " |", "| --- |" + " ---: |" * (len(head) - 1)]
    lines += ["| " + " | ".join(row) + " |" for row in rows]
    return "\n".join(lines)


def only(rows: pl.DataFrame, measure: str = MAIN) -> pl.DataFrame:
    """Rows of one measure."""
    return rows.filter(pl.col("measure") == measure)


def designs_and_weathers(rows: pl.DataFrame) -> list[tuple[str, str]]:
    """Every design and weather that the rows hold, in the order of the designs."""
    present = set(rows.select("design", "weather").unique().iter_rows())
    return [(design, weather) for design in DESIGNS for weather in ("like", "unlike") if (design, weather) in present]


def marked(share: Share, text: str, *, low: float = -1e9, high: float = 1e9) -> str:
    """The text, with `(missed)` where the share is outside its target by more than two Monte Carlo errors."""
    if share.count == 0:
        return ""
    clear = share.value < low - 2 * share.error or share.value > high + 2 * share.error
    near = share.value < low or share.value > high
    return f"{text} **missed**" if clear else f"{text} (outside, within error)" if near else text


def cells_of(rows: pl.DataFrame, judge: Callable[[pl.DataFrame], Share]) -> dict[tuple[str, str, str], Share]:
    """`judge` for every measure, design and weather."""
    found = {}
    for design, weather in designs_and_weathers(rows):
        some = rows.filter((pl.col("design") == design) & (pl.col("weather") == weather))
        for measure in MEASURES:
            found[measure, design, weather] = judge(some.filter(pl.col("measure") == measure))
    return found


def by_measure(
    rows: pl.DataFrame, judge: Callable[[pl.DataFrame], Share], show: Callable[[Share], str], least: int = 20
) -> str:
    """A table with a row a measure and a column a design and weather; blank where fewer than `least` comparisons."""
    columns = designs_and_weathers(rows)
    found = cells_of(rows, judge)
    head = ["measure", *(f"{design}; {weather}" for design, weather in columns)]
    table = []
    for measure in MEASURES:
        shares = [found[measure, *column] for column in columns]
        if any(share.count >= least for share in shares):
            table.append([f"`{measure}`", *(show(share) if share.count >= least else "" for share in shares)])
    return markdown(head, table)
