"""What a plan says, as plain data.

In reading order: `Question` is what was asked; `Scatter` what the answer rests on; `Option` one way to drive it with
its chance and its cost; `Ceiling` what an order could reach with no end of pulls; `NextRun` how much one more pull
would narrow an open question; `Channel` and `Logging` what to log and how fast; `Equal` what to hold equal; `Plan`
holds all of it.
"""

from dataclasses import dataclass
from typing import Literal

from pullproof.analysis.watch import Limit

__all__ = [
    "Ceiling",
    "Channel",
    "Costs",
    "Equal",
    "Logging",
    "NextRun",
    "Option",
    "Plan",
    "Question",
    "Run",
    "Scatter",
    "State",
]

State = Literal["before", "after"]


@dataclass(frozen=True, slots=True)
class Costs:
    """What a run costs, in minutes, and how much one day holds. Usual values are common practice, no source."""

    pull_min: float = 6.0
    """One pull with the way back and gentle driving until everything is as cool as it was."""
    warm_up_min: float = 20.0
    """Once for each test day."""
    change_min: float = 60.0
    """To fit the part, or to take it off again."""
    day_min: float = 480.0
    """What one day holds."""
    day_pulls: int = 20
    """What car, fuel and driver hold on one day."""
    warming_k_per_hour: float = 1.0
    """How fast the air warms while one drives; the model takes it out, with its doubt."""


@dataclass(frozen=True, slots=True)
class Question:
    """A difference of a measure worth seeing. `typical` is the measure's usual level, None where nobody knows it."""

    measure: str
    unit: str
    effect: float
    """Size of the difference after minus before, in `unit`; its sign is not used."""
    level: float
    chance: float
    """Probability of a clear answer that is asked for."""
    typical: float | None = None


@dataclass(frozen=True, slots=True)
class Scatter:
    """What is believed of the two scatters: the middle and the limits that hold 90 %, in `unit`."""

    unit: str
    run: float
    run_limits: tuple[float, float]
    day: float
    day_limits: tuple[float, float]
    pulls: int
    """Earlier pulls that speak of it; 0 where only usual values do."""
    days: int
    origin: str


@dataclass(frozen=True, slots=True)
class Run:
    """One pull of an order: which state of the car, on which test day (counted from 1), minutes into that day."""

    state: State
    day: int
    at_min: float


@dataclass(frozen=True, slots=True)
class Option:
    """One way to drive it.

    `chance` is the probability that the interval of the verdict leaves out zero on the side of the effect, and
    `false_alarm` that it leaves it out where nothing changed: more than the level allows where few pulls leave the
    verdict to usual scatters and this car scatters more;
    `half_width` half of the interval to be expected; `shows` the smallest difference with the chance that was asked
    for; `drift_share` how much of an even drift through the session, of which the model knows nothing, would be taken
    for the change (0 where the order cancels it, 0.5 where all of one half comes before the other).
    """

    order: str
    label: str
    runs: tuple[Run, ...]
    pulls_before: int
    pulls_after: int
    days: int
    part_changes: int
    minutes: float
    fits: bool
    """Whether each of its days holds it."""
    chance: float
    false_alarm: float
    half_width: float
    shows: float
    drift_share: float


@dataclass(frozen=True, slots=True)
class Ceiling:
    """What an order reaches with more pulls than anybody drives."""

    order: str
    label: str
    pulls_a_side: int
    chance: float
    shows: float
    enough: bool


@dataclass(frozen=True, slots=True)
class NextRun:
    """One more pull to existing ones, and half of the interval then: at what is known of the scatter now."""

    label: str
    pulls: int
    half_width: float
    narrower_pct: float


@dataclass(frozen=True, slots=True)
class Channel:
    """One channel to log. `rate_hz` is its share of the budget, 0 where none is left."""

    channel: str
    label: str
    role: Literal["measure", "finds the pull", "warns", "explains"]
    least_hz: float
    useful_hz: float
    rate_hz: float
    why: str


@dataclass(frozen=True, slots=True)
class Logging:
    """A budget of samples a second shared out. `enough` says whether all that the measure needs gets its least rate."""

    samples_per_second: float
    channels: tuple[Channel, ...]
    enough: bool
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Equal:
    """Something to hold equal: how near, and what one unit of it does to the measure, where that is known."""

    what: str
    within: float
    unit: str
    per_unit: float | None
    per_unit_doubt: float | None
    advice: str


@dataclass(frozen=True, slots=True)
class Plan:
    """How many pulls, in which order, with what chance and at what cost, and all that goes with it."""

    question: Question
    sentence: str
    one_day: str
    """Whether one day is enough, in words."""
    scatter: Scatter
    costs: Costs
    options: tuple[Option, ...]
    recommended: Option | None
    """The cheapest that fits and has the chance asked for; None where none has."""
    ceilings: tuple[Ceiling, ...]
    half_width_now: float | None
    """Of the question as it stands after the earlier logs, where they have both sides."""
    next_runs: tuple[NextRun, ...]
    next_sentence: str
    logging: Logging
    hold_equal: tuple[Equal, ...]
    heat: tuple[str, ...]
    stops: tuple[Limit, ...]
    how: str
    """How the chances were reckoned, and how exact they are."""
    assumptions: tuple[str, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]
