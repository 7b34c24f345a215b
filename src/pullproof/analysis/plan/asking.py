"""What is asked of a plan, and what there is to go by: earlier pulls, or the table of usual values."""

import datetime
from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from pullproof.analysis.comparison.adjustments import effects
from pullproof.analysis.comparison.priors import Effect, MeasurePrior, load_priors
from pullproof.analysis.comparison.window import SHARE_OF_REDLINE
from pullproof.analysis.plan.belief import Belief, Evidence, believe_table, learn
from pullproof.analysis.plan.chances import DRAWS
from pullproof.analysis.plan.result import Costs, Scatter
from pullproof.analysis.plan.what_to_log import USUAL_RPM_PER_S
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import MEASURES

__all__ = ["Known", "Logger", "Request", "check_request", "size_of_effect", "what_is_known"]

USUAL_LOW_RPM = 4000.0
"""Foot of the window where neither car sheet nor logs tell it. Common practice, no source. [rpm]"""


@dataclass(frozen=True, slots=True)
class Logger:
    """What the logger gives in all [1/s], and whether it writes all its channels in each row."""

    samples_per_second: float = 60.0
    at_once: bool = False


@dataclass(frozen=True, slots=True)
class Request:
    """What else may be asked of a plan.

    `window` is between which engine speeds the measure is read [rpm]; `typical` its usual level, for scatter that goes
    in per cent of it, where no earlier log tells it; `in_percent` says that the effect is in per cent of that level;
    `level` and `chance` are those of the interval and of a clear answer; `draws` is how often each chance is drawn for
    each of eight weathers: fewer are quicker and less exact.
    """

    window: tuple[float, float] | None = None
    typical: float | None = None
    in_percent: bool = False
    level: float = 0.95
    chance: float = 0.8
    costs: Costs = field(default_factory=Costs)
    logger: Logger = field(default_factory=Logger)
    draws: int = DRAWS


@dataclass(frozen=True, slots=True)
class Known:
    """What there is before the next run."""

    prior: MeasurePrior
    effects: Mapping[str, Effect]
    belief: Belief
    scatter: Scatter
    typical: float
    evidence: Evidence | None
    rise: float
    low: float
    doubts: tuple[str, ...]


def check_request(effect: float | None, asked: Request, measure: str) -> None:
    """Refuse numbers that make no sense.

    Raises
    ------
    WrongUse
        One of them does not.
    """
    if effect is not None and (not np.isfinite(effect) or effect == 0.0):
        raise WrongUse(f"an effect of {effect:g} is none", advice="Give the size of the difference you want to see.")
    if not 0.5 <= asked.level < 1.0:
        raise WrongUse(f"level is {asked.level:g}", advice="Give a probability from 0.5 to below 1, such as 0.95.")
    if not 0.5 <= asked.chance <= 0.99:
        raise WrongUse(f"chance is {asked.chance:g}", advice="Give a probability from 0.5 to 0.99, such as 0.8.")
    if asked.draws < 1:
        raise WrongUse(f"draws is {asked.draws}", advice="Give the number of draws, 1 or more.")
    if asked.typical is not None and not (np.isfinite(asked.typical) and asked.typical != 0.0):
        raise WrongUse(f"a typical value of {asked.typical:g} is none", advice="Give the measure's usual level.")
    if asked.in_percent and MEASURES[measure].unit in ("%", "1", "deg", "degC", "K", "rpm"):
        raise WrongUse(
            f"an effect in per cent of {MEASURES[measure].label} has no clear meaning",
            advice=f"Give it in {_words_of(MEASURES[measure].unit)}.",
        )


def _words_of(unit: str) -> str:
    return {"%": "percentage points, without the sign", "1": "its own unit"}.get(unit, unit)


def what_is_known(
    measure: str,
    car: Car,
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    moments: Mapping[str, datetime.datetime],
    asked: Request,
) -> Known:
    """What earlier pulls say, or the table where there are none or too few."""
    if after and not before:
        raise WrongUse("logs are given after the change and none before it", advice="Give both, or --logs alone.")
    if not before:
        usual = (
            "no earlier log was given: the scatter is what is usual (common practice, no source), not this car's own"
        )
        return _by_table(measure, car, asked, USUAL_RPM_PER_S, (usual,))
    before, after, other_gears = _one_gear(before, after)
    pulls = [record.pull for record in (*before, *after)]
    rise = float(np.median([(pull.rpm_end - pull.rpm_start) / (pull.end_s - pull.start_s) for pull in pulls]))
    try:
        evidence = learn(measure, before, after, car=car, window=asked.window, moments=moments)
    except CannotAnswer as error:
        return _by_table(measure, car, asked, rise, (f"{error} Usual values are taken.",))
    days = "one day" if len(evidence.days) == 1 else f"{len(evidence.days)} days"
    origin = f"{evidence.pulls} earlier pulls of this car on {days}, on top of usual values"
    doubts = [*other_gears, *evidence.doubts]
    if len(evidence.days) == 1:
        doubts.insert(0, "the earlier pulls are of one day, so the scatter between days is the usual one")
    scatter = evidence.belief.summary(MEASURES[measure].unit, evidence.pulls, len(evidence.days), origin)
    return Known(
        prior=evidence.prior,
        effects=evidence.effects,
        belief=evidence.belief,
        scatter=scatter,
        typical=evidence.typical,
        evidence=evidence,
        rise=rise,
        low=evidence.window[0],
        doubts=tuple(doubts),
    )


def _one_gear(
    before: Sequence[PullRecord], after: Sequence[PullRecord]
) -> tuple[Sequence[PullRecord], Sequence[PullRecord], list[str]]:
    """The pulls in the gear that most of them are in: the next run holds it equal, so other gears are no scatter."""
    gears = Counter(record.pull.gear for record in (*before, *after) if record.pull.gear is not None)
    if len(gears) < 2:
        return before, after, []
    gear = gears.most_common(1)[0][0]
    sides = [[record for record in side if record.pull.gear in (gear, None)] for side in (before, after)]
    if len(sides[0]) + len(sides[1]) < 2 or any(
        full and not left for full, left in zip((before, after), sides, strict=True)
    ):
        return before, after, ["the earlier pulls are in several gears, and that is in their scatter"]
    left_out = len(before) + len(after) - len(sides[0]) - len(sides[1])
    return sides[0], sides[1], [f"{left_out} earlier pulls in other gears than {gear} are left out"]


def _by_table(measure: str, car: Car, asked: Request, rise: float, doubts: tuple[str, ...]) -> Known:
    """Usual values alone; without a level, scatter that goes in per cent of it stays in per cent."""
    prior = load_priors().measures[measure]
    redline = car.engine.redline_rpm
    low = asked.window[0] if asked.window else SHARE_OF_REDLINE * redline if redline else USUAL_LOW_RPM
    typical = asked.typical if asked.typical is not None else 100.0
    unit = "%" if prior.relative and asked.typical is None else MEASURES[measure].unit
    belief = believe_table(prior, typical, car)
    scatter = belief.summary(unit, 0, 0, f"usual values: {prior.origin}")
    found = dict(effects(measure, prior, belief.state, typical))
    if car.engine.aspiration == "none":
        found.pop("boost", None)  # the comparison has no such column for it
    return Known(prior, found, belief, scatter, typical, None, rise, low, doubts)


def size_of_effect(effect: float | None, measure: str, known: Known, asked: Request) -> tuple[float, list[str]]:
    """Size of the effect in the unit that is reckoned in, and what is in doubt about it."""
    prior, label, unit = load_priors().measures[measure], MEASURES[measure].label, MEASURES[measure].unit
    level_known = known.evidence is not None or asked.typical is not None
    if effect is None:
        smallest = prior.in_unit(prior.smallest, known.typical)
        return smallest, ["no effect was given: the smallest that is worth having by the table is taken"]
    if asked.in_percent:
        if not (prior.relative or level_known):
            raise WrongUse(
                f"the level of {label} is not known, so nobody can tell what {effect:g} % of it is",
                advice=f"Give the effect in {unit}, or earlier logs, or --typical.",
            )
        return abs(effect * known.typical) / 100.0, []
    if prior.relative and not level_known:
        raise WrongUse(
            f"scatter of {label} goes in per cent of its level, and that is not known",
            advice=f'Give the effect in per cent (--effect "2%"), or earlier logs, or --typical in {unit}.',
        )
    return abs(effect), []
