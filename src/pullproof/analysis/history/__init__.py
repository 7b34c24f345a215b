"""A car's whole history: what did each change do?

In reading order: `season` is what goes in (`season_sheet` reads one that was typed); `gathering` puts the pulls beside
each other; `readings` reads a measure; `model` makes columns of changes and circumstances; `together` says what cannot
be told apart; `effects` gives each change its effect and what stands between it and the difference as driven;
`scatter`, `ageing` with `step_odds`, and `points` say how the car repeats, how it ages, and what a picture shows;
`ranking` divides by money; `analysing` strings these together; `result` is what comes out.
"""

from pullproof.analysis.history.analysing import season_history
from pullproof.analysis.history.result import (
    AloneUnknown,
    ChangeEffect,
    DayPoint,
    Drift,
    Estimate,
    Explained,
    History,
    MeasureHistory,
    NearlyAlike,
    PullPoint,
    Rank,
    Scatter,
    Step,
)
from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, SeasonPull, Spell, build_at

__all__ = [
    "AloneUnknown",
    "ChangeEffect",
    "DayPoint",
    "Drift",
    "Estimate",
    "Explained",
    "History",
    "MeasureHistory",
    "NearlyAlike",
    "PullPoint",
    "Rank",
    "Scatter",
    "Season",
    "SeasonChange",
    "SeasonDay",
    "SeasonPull",
    "Spell",
    "Step",
    "build_at",
    "season_history",
]
