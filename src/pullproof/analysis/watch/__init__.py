"""What the engine's own channels warn of: limits, where they were passed, trends, and what nobody could see.

In reading order: `limits` and `limits.toml` say what a reading is held against; `scene` is a log as the rules look at
it; `rules` and `pressures` read it; `events` finds where a limit was passed; `sensors` says what cannot be believed;
`trends` compares test days by what `pull_readings` gathers; `watching` strings these together.
"""

from pullproof.analysis.watch.result import (
    Event,
    Limit,
    NotWatched,
    Place,
    SensorDoubt,
    Trend,
    Watch,
    Watched,
)
from pullproof.analysis.watch.watching import watch, watch_limits

__all__ = [
    "Event",
    "Limit",
    "NotWatched",
    "Place",
    "SensorDoubt",
    "Trend",
    "Watch",
    "Watched",
    "watch",
    "watch_limits",
]
