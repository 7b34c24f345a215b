"""One line on how often intervals of a kind have held, from the trial on simulated cars."""

import importlib.resources
import tomllib
from functools import cache
from typing import Any

from pullproof.report.rounding import NBSP
from pullproof.report.wording import measure_name

__all__ = ["how_often_held"]

LEVEL = 0.95
"""Of the intervals that the trial counted."""


def how_often_held(measure: str, level: float) -> str | None:
    """A sentence for the report; None where the trial says nothing of the measure or of the level."""
    record = _record()
    if level != LEVEL or measure not in record["held_pct"]:
        return None
    return (
        f"On {record['cars']} simulated cars, logged as real loggers log and changed in known ways, 95{NBSP}% "
        f"intervals for {measure_name(measure)} held the truth {record['held_pct'][measure]:.1f}{NBSP}% of the time "
        f"(trial of {record['made']:%d %B %Y}; all figures in docs/validation.md)."
    )


@cache
def _record() -> dict[str, Any]:
    text = importlib.resources.files("pullproof.report").joinpath("track_record.toml").read_text("utf-8")
    return tomllib.loads(text)
