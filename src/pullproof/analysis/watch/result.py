"""What a watch says, as plain data.

In reading order: `Limit` is what a reading is held against; `Watched` says of each quantity how near it came;
`Event` is where a limit was passed; `NotWatched` is what nobody can say; `SensorDoubt` names a sensor that cannot be
believed; `Trend` says what changed from day to day; `Watch` holds all of it.
"""

from dataclasses import dataclass
from typing import Literal

from pullproof.pulls import Pull

__all__ = ["Event", "Limit", "NotWatched", "Place", "SensorDoubt", "Side", "Trend", "Watch", "Watched"]

Side = Literal["above", "below"]


@dataclass(frozen=True, slots=True)
class Limit:
    """A figure that a reading is held against.

    `side` says where it goes wrong. `from_sheet` is true where the owner set it; `origin` says where it comes from.
    """

    key: str
    unit: str
    side: Side
    value: float
    origin: str
    from_sheet: bool = False
    for_s: float = 0.0
    """What lasts less than this is called brief. [s]"""


@dataclass(frozen=True, slots=True)
class Place:
    """Where a reading was taken: log, instant on its clock [s], engine speed [rpm], and the pull it belongs to."""

    log: str
    at_s: float
    rpm: float | None = None
    pull: int | None = None
    """Number of the pull in its log, counted from 1, refused ones included; None outside every pull."""


@dataclass(frozen=True, slots=True)
class Event:
    """A limit that was passed.

    `kind` is `sustained`, `brief` (shorter than the limit's own time) or `single sample`: one reading alone, of which
    nobody can say how long it lasted, nor whether it was real. What is between two samples was not seen, so the time
    past the limit lies between `at_least_s`, first to last sample past it, and `at_most_s`, the samples around them;
    the latter is None at an end of the record.
    """

    id: str
    rule: str
    label: str
    channel: str
    kind: Literal["sustained", "brief", "single sample"]
    limit: Limit
    worst: float
    """In the limit's unit."""
    beyond: float
    """How far past the limit, never negative, in the limit's unit."""
    place: Place
    """Of the worst reading."""
    start_s: float
    end_s: float
    samples: int
    passages: int
    """How often the limit was passed between `start_s` and `end_s`, with less than 5 s between."""
    at_least_s: float
    at_most_s: float | None
    detail: str = ""
    around: tuple[tuple[float, float], ...] = ()
    """What the rule read from some seconds before the event to some after it: instant [s] and value, own samples."""


@dataclass(frozen=True, slots=True)
class Watched:
    """One quantity that could be watched.

    `margin` is the distance of the worst reading from the limit, negative where it was passed, in `limit.unit`.
    `status` is `passed the limit`, `touched it` (single samples and brief ones only) or `within`.
    `sees_s` is the usual time between two samples: what lasts less can pass unseen.
    """

    rule: str
    label: str
    channels: tuple[str, ...]
    limit: Limit
    worst: float
    margin: float
    place: Place
    logs: tuple[str, ...]
    samples: int
    sees_s: float
    status: Literal["passed the limit", "touched it", "within"]
    doubts: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class NotWatched:
    """One quantity that could not be watched in some logs, why, and what would mend it."""

    rule: str
    label: str
    logs: tuple[str, ...]
    reason: str
    advice: str


@dataclass(frozen=True, slots=True)
class SensorDoubt:
    """A sensor whose readings cannot be believed, or not beyond some value."""

    log: str
    channel: str
    kind: Literal["constant", "at its end"]
    detail: str


@dataclass(frozen=True, slots=True)
class Trend:
    """Worst reading of each pull, from the first test day to the last.

    `difference` is last minus first with its interval, in `unit`; scatter between days and between pulls is in it.
    """

    rule: str
    label: str
    unit: str
    days: tuple[str, ...]
    day_means: tuple[float, ...]
    pulls: int
    difference: float
    interval: tuple[float, float]
    level: float
    verdict: Literal["worse", "better", "no clear change"]
    detail: str


@dataclass(frozen=True, slots=True)
class Watch:
    """What was watched in a set of logs, and what was not. It never clears an engine."""

    sentence: str
    logs: tuple[str, ...]
    pulls: tuple[Pull, ...]
    watched: tuple[Watched, ...]
    events: tuple[Event, ...]
    not_watched: tuple[NotWatched, ...]
    sensors: tuple[SensorDoubt, ...]
    trends: tuple[Trend, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]
