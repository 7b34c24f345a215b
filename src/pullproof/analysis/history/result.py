"""What a car's history says, as plain data."""

import datetime
from dataclasses import dataclass
from typing import Literal

from pullproof.analysis.comparison.result import LeftOut, Verdict
from pullproof.analysis.history.season import SeasonChange, SeasonDay
from pullproof.pulls import Pull

__all__ = [
    "AloneUnknown",
    "Better",
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
    "Step",
]

Better = Literal["more", "less"]


@dataclass(frozen=True, slots=True)
class Estimate:
    """A value with the interval that holds it at the history's level."""

    value: float
    interval: tuple[float, float]

    @property
    def excludes_zero(self) -> bool:
        """Whether the whole interval lies on one side of zero."""
        return self.interval[0] > 0.0 or self.interval[1] < 0.0


@dataclass(frozen=True, slots=True)
class Explained:
    """What lies between the difference as driven and the effect, in the measure's unit.

    `raw - weather - circumstances - ageing - unequal` is the effect.
    """

    raw: float
    """Difference as driven: ordinary least squares on the builds alone, every pull counted the same."""
    weather: Estimate
    """Made by air temperature, pressure and humidity."""
    circumstances: Estimate
    """Made by boost achieved, start of the pull, direction and place in the day."""
    ageing: float
    """Made by the slow trend, and by a step without a change where one was found."""
    unequal: float
    """Left over, because days with more pulls count less than their number of pulls."""
    by_covariate: tuple[tuple[str, float], ...]


@dataclass(frozen=True, slots=True)
class NearlyAlike:
    """Something that this effect can hardly be told from: another change, or a circumstance."""

    name: str
    correlation: float
    """Posterior correlation of the two. [1] Near -1: only their sum is known well; near +1: only their difference."""
    together: Estimate | None
    """Sum of the two effects, for another change."""


@dataclass(frozen=True, slots=True)
class ChangeEffect:
    """Effect of a change on one measure, at the mean conditions of the season; or of several, as a combination.

    `weights` has one entry for each of `changes`: 1 and 1 is what both did together, 1 and -1 what the second was
    exchanged for the first for.
    """

    changes: tuple[str, ...]
    weights: tuple[float, ...]
    effect: Estimate
    """At equal boost, as the difference of a comparison, where boost is a circumstance."""
    whole: Estimate | None
    """With what the change did by way of the boost achieved; None where boost is no circumstance of this measure."""
    verdict: Verdict
    explained: Explained
    pulls_with: int
    pulls_without: int
    days_with: int
    days_without: int
    nearly_alike: tuple[NearlyAlike, ...] = ()
    doubts: tuple[str, ...] = ()

    @property
    def as_felt(self) -> Estimate:
        """What the owner of the car gets: the whole effect where it is known apart from the effect."""
        return self.whole or self.effect


@dataclass(frozen=True, slots=True)
class AloneUnknown:
    """A change whose own effect these test days cannot tell."""

    change: str
    others: tuple[str, ...]
    reason: str


@dataclass(frozen=True, slots=True)
class Scatter:
    """A standard deviation, learnt from this car's repeats, beside what is usual."""

    value: float
    interval: tuple[float, float]
    usual: float
    usual_interval: tuple[float, float]


@dataclass(frozen=True, slots=True)
class Drift:
    """Slow trend of the whole season."""

    per: Literal["1000 km", "30 days"]
    rate: Estimate
    """In the measure's unit, for each 1000 km or 30 days."""
    doubt_before: float
    """Standard deviation that was allowed for before any pull was read."""


@dataclass(frozen=True, slots=True)
class Step:
    """Whether something happened between two test days that nobody wrote down."""

    after: str
    before: str
    """Between which test days it is most probable, of those that can tell."""
    probability: float
    """That there was a step there. [1]"""
    probability_anywhere: float
    flagged: bool
    size: Estimate
    """If there was one."""
    tested: int
    untested: tuple[str, ...]
    """Gaps in which a change was made that takes the step's place."""


@dataclass(frozen=True, slots=True)
class PullPoint:
    """One pull as driven, and as it would have read at the mean conditions of the season."""

    day: str
    log: str
    start_s: float
    when: datetime.datetime | None
    build: frozenset[str]
    as_driven: float
    at_mean_conditions: float
    censored: bool
    stands_out: bool


@dataclass(frozen=True, slots=True)
class DayPoint:
    """What one build read on one day at the mean conditions of the season, and what the model says of that build."""

    day: str
    when: datetime.datetime | None
    build: frozenset[str]
    pulls: int
    mean: Estimate
    model: Estimate


@dataclass(frozen=True, slots=True)
class Rank:
    """Effect for money. `per_hundred` is in the measure's unit for each hundred of the currency."""

    changes: tuple[str, ...]
    cost: float
    currency: str
    per_hundred: Estimate
    known: bool
    """The interval of the effect leaves out zero: without that a place in the order says little."""


@dataclass(frozen=True, slots=True)
class MeasureHistory:
    """One measure over the season."""

    id: str
    unit: str
    smallest_worth_having: float
    better: Better | None
    """None where it depends on what is wanted."""
    effects: tuple[ChangeEffect, ...]
    alone_unknown: tuple[AloneUnknown, ...]
    run_to_run: Scatter
    day_to_day: Scatter
    weather_swing: Estimate
    """Between the test days that the weather helped most and least."""
    weather_days: tuple[str, str]
    """Where the weather made the measure lowest, and highest."""
    drift: Drift | None
    step: Step | None
    ranking: tuple[Rank, ...]
    pulls: tuple[PullPoint, ...]
    days: tuple[DayPoint, ...]
    doubts: tuple[str, ...]

    def effect_of(self, *changes: str) -> ChangeEffect | None:
        """The effect of a change, or of several that are known together only."""
        return next((effect for effect in self.effects if set(effect.changes) == set(changes)), None)


@dataclass(frozen=True, slots=True)
class History:
    """A car's season: what each change did to each measure, and how sure that is."""

    car: str
    level: float
    window_rpm: tuple[float, float]
    main: str
    sentence: str
    changes: tuple[SeasonChange, ...]
    days: tuple[SeasonDay, ...]
    measures: tuple[MeasureHistory, ...]
    refused: tuple[Pull, ...]
    left_out: tuple[LeftOut, ...]
    next_steps: tuple[str, ...]
    doubts: tuple[str, ...]
    cautions: tuple[str, ...]

    def measure(self, measure: str) -> MeasureHistory | None:
        """One measure by its id."""
        return next((one for one in self.measures if one.id == measure), None)
