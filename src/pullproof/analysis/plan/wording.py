"""The sentences of a plan."""

from collections.abc import Sequence

import numpy as np

from pullproof.analysis.comparison.quantities import QUANTITIES
from pullproof.analysis.comparison.wording import amount, counted
from pullproof.analysis.plan.belief import Evidence
from pullproof.analysis.plan.cooling import Cooling, cooling_of
from pullproof.analysis.plan.orders import ORDERS
from pullproof.analysis.plan.result import Ceiling, Costs, NextRun, Option, Question
from pullproof.computed_channels import PullRecord
from pullproof.measures import MEASURES

__all__ = [
    "NOT_OVER",
    "chance_text",
    "heat_advice",
    "honest",
    "next_sentence",
    "one_day_sentence",
    "plan_sentence",
    "sized",
    "trust_doubts",
]

QUANTITY_NEAR = {quantity.id: quantity.warn for quantity in QUANTITIES}
"""How near the fairness checks want each quantity on both sides, by id, in its own unit."""

NOT_OVER = ", were that day not over"

STEADY = 0.12
"""An order that lets through less of an even drift counts as holding it off."""


def honest(option: Option, level: float) -> bool:
    """Whether the verdict would claim a change that is none no more often than twice what its level allows."""
    return option.false_alarm <= 2.0 * (1.0 - level)


def chance_text(chance: float) -> str:
    """`83 %`; never quite certain, because it is drawn."""
    return "over 99 %" if chance > 0.99 else f"{100.0 * chance:.0f} %"


def sized(value: float, question: Question) -> str:
    """An amount in the unit that is reckoned in: that of the measure, or per cent of its level."""
    if question.unit == "%" and MEASURES[question.measure].unit != "%":
        return f"{amount(value, '')} % of its level"
    return amount(value, question.unit)


def _asked(question: Question) -> str:
    return f"a difference of {sized(question.effect, question)} in {MEASURES[question.measure].label}"


def _cost(option: Option) -> str:
    days = "one day" if option.days == 1 else f"{option.days} days"
    return (
        f"{counted(option.pulls_before, 'pull')} before and {option.pulls_after} after (order: {option.label}): "
        f"{option.pulls_before + option.pulls_after} pulls, {counted(option.part_changes, 'change')} of the part, "
        f"about {option.minutes:.0f} min on {days}"
    )


def plan_sentence(question: Question, options: Sequence[Option], recommended: Option | None) -> str:
    """What to drive, with its chance and its cost; or that nothing weighed here is enough, and what comes nearest."""
    if recommended is None:
        sound = [option for option in options if option.fits and honest(option, question.level)]
        best = max(sound, key=lambda option: option.chance, default=None)
        if best is None:
            return f"None of the orders that were weighed fits and can be trusted for {_asked(question)}."
        shows = sized(best.shows, question)
        return (
            f"No order that was weighed shows {_asked(question)} with a chance of {chance_text(question.chance)}. The "
            f"best is {_cost(best)}, with {chance_text(best.chance)}; it would show {shows}."
        )
    sentence = (
        f"To see {_asked(question)} with a chance of {chance_text(question.chance)} or more, drive "
        f"{_cost(recommended)}. The chance of a clear answer is {chance_text(recommended.chance)}."
    )
    steadier = _steadier(options, question, recommended)
    return f"{sentence} {steadier}" if steadier else sentence


def _steadier(options: Sequence[Option], question: Question, recommended: Option) -> str:
    """The cheapest order that also holds off an even drift, where the recommended one does not."""
    if recommended.drift_share <= STEADY:
        return ""
    enough = [o for o in options if o.fits and o.chance >= question.chance and honest(o, question.level)]
    found = [option for option in enough if option.drift_share <= STEADY]
    if not found:
        return ""
    other = min(found, key=lambda option: option.minutes)
    more = other.minutes - recommended.minutes
    return (
        f"{100.0 * recommended.drift_share:.0f} % of an even drift through the session would be taken for the change; "
        f"for about {more:.0f} min more, {counted(other.pulls_before, 'pull')} before and {other.pulls_after} after in "
        f"the order {other.label} hold that off."
    )


def one_day_sentence(question: Question, options: Sequence[Option], ceilings: Sequence[Ceiling], costs: Costs) -> str:
    """Whether one day is enough, and what two days can never do."""
    one_day = [option for option in options if ORDERS[option.order].one_day]
    fitting = [option for option in one_day if option.fits]
    enough = [o for o in fitting if o.chance >= question.chance and honest(o, question.level)]
    limits = {ceiling.order: ceiling for ceiling in ceilings}
    parts = []
    if not fitting:
        parts.append(
            f"One day can never be enough: changing the part takes so long ({costs.change_min:g} min) that both states "
            "do not fit into one."
        )
    elif enough:
        fewest = min(enough, key=lambda option: option.pulls_before + option.pulls_after)
        pulls = f"{fewest.pulls_before} + {fewest.pulls_after}"
        parts.append(f"One day is enough if both states are driven on it, from {pulls} pulls on.")
    elif not any(limit.enough for limit in limits.values() if ORDERS[limit.order].one_day):
        best = max((limit for limit in limits.values() if ORDERS[limit.order].one_day), key=lambda c: c.chance)
        parts.append(
            f"One day can never be enough: even {best.pulls_a_side} pulls a side ({best.label}) have a chance of "
            f"{chance_text(best.chance)} only."
        )
    else:
        most = max(option.pulls_before for option in fitting)
        parts.append(
            f"One day is not enough in practice: {most} pulls a side do not reach {chance_text(question.chance)}, and "
            "more do not keep to one state of heat, fuel and driver."
        )
    parts.append(_two_days(limits["two_days"], question))
    return " ".join(parts)


def _two_days(ceiling: Ceiling, question: Question) -> str:
    """Before on one day and after on another: two days differ for no reason, and pulls do not help against that."""
    if ceiling.enough:
        return (
            "Before on one day and after on another can do, because the effect is large against what two days differ "
            "by anyway; how many pulls matters little then."
        )
    return (
        f"Before on one day and after on another can never be enough, however many pulls are driven: two days differ "
        f"for no reason, and even {ceiling.pulls_a_side} pulls a side have a chance of {chance_text(ceiling.chance)}; "
        f"they would show {sized(ceiling.shows, question)}."
    )


def trust_doubts(question: Question, options: Sequence[Option]) -> tuple[str, ...]:
    """What is to be said where some orders would raise false alarms more often than the level allows."""
    loose = [option for option in options if not honest(option, question.level)]
    if not loose:
        return ()
    worst = max(loose, key=lambda option: option.false_alarm)
    pulls = f"{worst.pulls_before} + {worst.pulls_after} pulls ({worst.label})"
    doubt = (
        f"with few pulls the verdict leans on usual scatter, which this car exceeds: {pulls} would claim a change in "
        f"{chance_text(worst.false_alarm)} of the runs in which there is none. Such orders are not recommended, "
        "whatever their chance"
    )
    return (doubt,)


def heat_advice(
    question: Question, soaking: float, evidence: Evidence | None, records: Sequence[PullRecord], costs: Costs
) -> tuple[str, ...]:
    """Heat-soak and cool-down: what the model allows for, what to do, and what the earlier logs show."""
    near = {name: f"{kelvins:g} K" for name, kelvins in QUANTITY_NEAR.items()}
    label = MEASURES[question.measure].label
    allowed = (
        f"A session warms the car most in its first three pulls. What that does to {label} is taken to be 0 ± "
        f"{sized(1.96 * soaking, question)} over the whole session (95 %; common practice, no source), and the "
        "interval is the wider for it unless both states share it evenly."
    )
    cooling = (
        f"Drive gently after each pull (here {costs.pull_min:g} min for pull, way back and cooling) until charge "
        f"temperature is within {near['charge_temperature_start']}, coolant within {near['coolant_temperature_start']} "
        f"and oil within {near['oil_temperature_start']} of where the first pull began. Those figures decide, not the "
        "clock."
    )
    lines = [
        allowed,
        "Drive one pull that does not count before the first that does, in either state.",
        cooling,
        "A stop with a hot engine soaks the intake: after changing the part drive ten minutes before the next pull.",
    ]
    back = QUANTITY_NEAR["charge_temperature_start"]
    return tuple(line for line in (*lines, _seen(evidence), _cooled(cooling_of(records, back), back)) if line)


def next_sentence(runs: Sequence[NextRun]) -> str:
    """Which next run narrows an open question most, in words; empty where there is no open question."""
    if not runs:
        return ""
    fresh = [run for run in runs if "new day" in run.label]
    singles = [run for run in fresh if run.pulls == 1]
    best, pair = singles[0], next(run for run in fresh if run.pulls > 1)
    parts = []
    if runs[0] not in fresh:
        still = next(run for run in runs if run not in fresh)
        parts.append(f"If that day is still going on, {_unended(still)} narrows the interval by {_share(still)}.")
    one = best.label.removesuffix(" on a new day")
    parts.append(
        f"On a new day the single pull that narrows it most is {one}, by {_share(best)}; "
        f"{pair.label} narrow it by {_share(pair)}."
    )
    return " ".join(parts)


def _unended(run: NextRun) -> str:
    return run.label.removesuffix(NOT_OVER)


def _share(run: NextRun) -> str:
    return f"{max(run.narrower_pct, 0.0):.0f} %"


def _cooled(cooling: Cooling, within: float) -> str:
    """How long earlier pulls took to cool down."""
    pulls = len(cooling.seconds) + cooling.not_back
    if not pulls:
        return ""
    where = f"In {len(cooling.seconds)} of {pulls} earlier pulls charge temperature was back within {within:g} K"
    if not cooling.seconds:
        return f"{where} before the next pull began or the log ended: leave more time, and log it."
    longest = f"{np.median(cooling.seconds):.0f} s after the pull (at most {max(cooling.seconds):.0f} s)"
    rest = " In the others the next pull began, or the log ended, before that." if cooling.not_back else ""
    return f"{where} {longest}.{rest}"


def _seen(evidence: Evidence | None) -> str:
    """How far charge temperature at the start rose through the earlier sessions."""
    if evidence is None or not evidence.start_temperatures:
        return ""
    days: dict[str, list[float]] = {}
    for day, value in evidence.start_temperatures:
        days.setdefault(day, []).append(value)
    spans = [max(values) - min(values) for values in days.values() if len(values) > 1]
    if not spans:
        return ""
    return (
        f"In the earlier sessions charge temperature at the start differed by up to {np.max(spans):.0f} K within a day."
    )
