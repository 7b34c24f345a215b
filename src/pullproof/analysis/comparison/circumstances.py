"""Fairness checks of how the pulls were made and recorded: gear, order, days, counts, logging."""

import re
from collections import Counter
from collections.abc import Sequence
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.covariates import moment_of
from pullproof.analysis.comparison.evidence import Evidence
from pullproof.analysis.comparison.result import FairnessCheck
from pullproof.analysis.comparison.wording import capitalised, counted
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import read_measure
from pullproof.pulls import Pull
from pullproof.timebase import cut, typical_interval, value_at

__all__ = [
    "direction",
    "gear",
    "logging_rate",
    "order",
    "pulls_and_days",
    "refused_one_side",
    "several_changes",
    "wastegate_saturated",
]

Status = Literal["pass", "warn", "fail"]

_DETAILS = re.compile(r" (?:at|for|by|from) \d|[:,;(0-9]")

RATIO_TOLERANCE = 0.03
ANOTHER_GEAR = 1.3
"""Ratio of two times through the window that no part and no wind makes. The time goes with the square of the gear's
ratio, and neighbouring gears lie a fifth apart or more (common practice, no source)."""

AT_THE_STOP = 99.5
SOAK_KELVIN = 3.0
"""By how much a session warms the charge from one side to the other. Common practice, no source."""


def gear(evidence: Evidence) -> FairnessCheck:
    """All pulls in one gear, by the gear found or by engine speed over road speed."""
    sides = [[record.pull.gear for record in evidence.pulls.side(after=late)] for late in (False, True)]
    before, after = (sorted({number for number in side if number is not None}) for side in sides)
    all_known = None not in sides[0] + sides[1]
    if all_known and before == after and len(before) == 1:
        return FairnessCheck("gear", "pass", f"All pulls are in gear {before[0]}.")
    if len({*before, *after}) > 1:
        detail = f"Gear {_listed(before) or 'unknown'} before and gear {_listed(after) or 'unknown'} after"
        if all_known and before == after:
            return FairnessCheck("gear", "warn", f"{detail}: compare pulls of one gear only.")
        return FairnessCheck(
            "gear", "fail", f"{detail}: nothing of this can be compared.", evidence.explains_all(), incomparable=True
        )
    ratios = [record.pull.rpm_per_kmh for record in evidence.pulls.records]
    known = [ratio for ratio in ratios if ratio is not None]
    if len(known) < len(ratios):
        return _gear_by_pace(evidence)
    apart = max(known) / min(known) - 1.0
    if apart <= RATIO_TOLERANCE:
        detail = f"Engine speed over road speed agrees within {100 * apart:.1f} % in all pulls: one gear."
        return FairnessCheck("gear", "pass", detail)
    detail = f"Engine speed over road speed differs by up to {100 * apart:.0f} % between pulls: not one gear."
    return FairnessCheck("gear", "fail", detail, evidence.explains_all(), incomparable=True)


def _gear_by_pace(evidence: Evidence) -> FairnessCheck:
    """Without gear and road speed a pull that is far slower than another shows that it was in another gear."""
    records, window = evidence.pulls.records, evidence.pulls.window
    try:
        times = [read_measure("pull.time", record, window).value for record in records]
    except CannotAnswer:
        times = []
    unknown = "the gear is not known of every pull and cannot be told from road speed; log road speed or gear"
    if not times or max(times) < ANOTHER_GEAR * min(times):
        return FairnessCheck("gear", "warn", f"{capitalised(unknown)}.")
    detail = (
        f"Engine speed took from {min(times):.2f} to {max(times):.2f} s through the window, as in different gears, "
        f"and {unknown}."
    )
    return FairnessCheck("gear", "fail", detail, evidence.explains_all(), incomparable=True)


def logging_rate(evidence: Evidence) -> FairnessCheck:
    """Both sides sampled alike: peaks and first moments depend on how often one looks."""
    channel = _channel_of(evidence.main)
    rates = [[_rate(record, channel) for record in evidence.pulls.side(after=late)] for late in (False, True)]
    known = [[rate for rate in side if rate is not None] for side in rates]
    name = channel.replace("_", " ")
    if not all(known):
        return FairnessCheck("logging_rate", "warn", f"How often {name} was sampled is not known on both sides.")
    before, after = (float(np.mean(side)) for side in known)
    ratio = max(before, after) / min(before, after)
    detail = f"{name.capitalize()} was sampled {before:.1f} times a second before and {after:.1f} times after"
    if ratio < 1.5:
        return FairnessCheck("logging_rate", "pass", f"{detail}.")
    advice = "the denser log finds the higher peaks; trust the means, and log both sides alike"
    return FairnessCheck("logging_rate", "fail" if ratio >= 3.0 else "warn", f"{detail}: {advice}.")


def direction(evidence: Evidence) -> FairnessCheck:
    """Both sides driven the same way along the road, or both ways equally often."""
    sides = [[record.direction for record in evidence.pulls.side(after=late)] for late in (False, True)]
    if any(value is None for side in sides for value in side):
        detail = "The direction along the road is not written down for every log; a grade or wind would go unseen."
        return FairnessCheck("direction", "warn", detail)
    before, after = (sum(value == "out" for value in side) / len(side) for side in sides)
    text = f"{100 * before:.0f} % of the pulls before and {100 * after:.0f} % after were driven outward"
    if abs(before - after) < 0.01:
        return FairnessCheck("direction", "pass", f"{text}.")
    status: Status = "fail" if abs(before - after) > 0.5 else "warn"
    known = "direction" in evidence.pulls.covariates.columns
    explained = evidence.explains("direction", before - after)
    return FairnessCheck("direction", status, f"{text}: a grade counts as part of the change.", explained, known)


def order(evidence: Evidence) -> FairnessCheck:
    """Before and after interleaved, so that a session's drift does not count as the change."""
    pulls = evidence.pulls
    shared = set(pulls.day[pulls.after]) & set(pulls.day[~pulls.after])
    if not shared:
        return FairnessCheck(
            "order", "pass", "No day holds pulls of both sides, so the order within a day is no matter."
        )
    moments = [moment_of(record, evidence.moments) for record in pulls.records]
    if None in moments:
        detail = 'The time of day is not known of every log, so drift through the session goes unseen; add "when".'
        return FairnessCheck("order", "warn", detail)
    times = np.array(moments, dtype="datetime64[ms]")
    if any(_one_after_the_other(times[pulls.day == day], pulls.after[pulls.day == day]) for day in shared):
        detail = (
            "On a day with pulls of both sides one side came wholly after the other, so heat soak and a warming "
            "car count as part of the change unless a recorded temperature shows them; drive before, after, before."
        )
        explained = evidence.explains("charge_temperature_start", SOAK_KELVIN)
        return FairnessCheck("order", "warn", detail, explained, "charge_temperature_start" in pulls.covariates.columns)
    return FairnessCheck("order", "pass", "Pulls before and after the change alternate within the day.")


def pulls_and_days(evidence: Evidence) -> FairnessCheck:
    """Enough pulls, and days that cannot be mistaken for the change."""
    pulls = evidence.pulls
    before, after = int(np.count_nonzero(~pulls.after)), int(np.count_nonzero(pulls.after))
    days_before, days_after = set(pulls.day[~pulls.after]), set(pulls.day[pulls.after])
    counts = f"{counted(before, 'pull')} before on {counted(len(days_before), 'day')} and {after} after on "
    counts += counted(len(days_after), "day")
    if days_before == days_after:
        days = "the same day on both sides" if len(days_before) == 1 else "the same days on both sides"
        fair_days = True
    elif days_before & days_after:
        days, fair_days = "one day shared by both sides", True
    else:
        days, fair_days = "no day in common, so two days that differ for no reason look like a change", False
        if min(len(days_before), len(days_after)) >= 2:
            days, fair_days = "no day in common, but several on each side, which show how days differ", True
    enough = min(before, after) >= 3
    fair = enough and fair_days
    few = "" if enough else "; fewer than three pulls a side show little of the scatter"
    return FairnessCheck(
        "pulls_and_days", "pass" if fair else "warn", f"{counts}: {days}{few}.", {}, accounted_for=True
    )


def wastegate_saturated(evidence: Evidence) -> FairnessCheck:
    """A wastegate held shut, or open, has no control left: duty then says nothing of the margin."""
    held = [
        [_at_the_stop(record, evidence.pulls.window) for record in evidence.pulls.side(after=late)]
        for late in (False, True)
    ]
    if any(value is None for side in held for value in side):
        detail = "Wastegate duty is not logged in every pull, so a wastegate without control left goes unseen."
        return FairnessCheck("wastegate_saturated", "warn", detail)
    before, after = (sum(map(bool, side)) for side in held)
    if before == after == 0:
        return FairnessCheck("wastegate_saturated", "pass", "Wastegate duty stayed below its stop in every pull.")
    detail = (
        f"Wastegate duty sat at its stop in {before} of {len(held[0])} pulls before and {after} of {len(held[1])} "
        "after: there boost shows what duty cannot"
    )
    uneven = before / len(held[0]) != after / len(held[1])
    return FairnessCheck(
        "wastegate_saturated", "warn", f"{detail}{', and duty shows too small a difference' if uneven else ''}."
    )


def refused_one_side(evidence: Evidence) -> FairnessCheck:
    """Refusals that fall on one side make a choice that nobody meant to make."""
    before, after = len(evidence.refused_before), len(evidence.refused_after)
    detail = f"{counted(before, 'pull').capitalize()} refused before and {after} after"
    if before == after == 0:
        return FairnessCheck("refused_one_side", "pass", "No pull was refused on either side.")
    reasons = _reasons((*evidence.refused_before, *evidence.refused_after))
    if abs(before - after) <= 1 and min(before, after) > 0:
        return FairnessCheck("refused_one_side", "pass", f"{detail}, by the same rules ({reasons}).")
    return FairnessCheck(
        "refused_one_side", "warn", f"{detail} ({reasons}): look whether the rule met one side by chance."
    )


def several_changes(evidence: Evidence) -> FairnessCheck:
    """What else was done to the car between the sides."""
    changes = evidence.changes
    if not changes:
        detail = (
            "Nobody wrote down what was changed, so only you know whether it was one thing; add [[change]] entries."
        )
        return FairnessCheck("several_changes", "warn", detail)
    if len(changes) == 1:
        return FairnessCheck("several_changes", "pass", f"One change is written down: {changes[0].what}.")
    names = _listed([change.what for change in changes])
    detail = f"{len(changes)} changes were made together ({names}): only their sum shows, not what each of them did."
    return FairnessCheck("several_changes", "warn", detail)


def _listed(items: Sequence[object]) -> str:
    texts = [str(item) for item in items]
    return " and ".join(filter(None, (", ".join(texts[:-1]), *texts[-1:])))


def _reasons(pulls: Sequence[Pull]) -> str:
    """Each kind of reason once, with its number of pulls: figures and places are left out."""
    kinds = Counter(_DETAILS.split(pull.reason or "no reason given")[0].strip() for pull in pulls)
    return ", ".join(kind if number == 1 else f"{kind} {number} times" for kind, number in kinds.items())


def _channel_of(measure: str) -> str:
    """The logged channel that a measure is read from, for the rate at which it was sampled."""
    quantity = measure.partition(".")[0]
    return {
        "wastegate": "wastegate_duty",
        "boost": "manifold_pressure",
        "wheel_power": "engine_speed",
        "pull": "engine_speed",
        "charge_pressure_drop": "charge_pressure",
    }.get(quantity, quantity)


def _rate(record: PullRecord, channel: str) -> float | None:
    trace = record.traces.get(channel)
    if trace is None and channel == "manifold_pressure":
        trace = record.traces.get("charge_pressure")
    if trace is None:
        return None
    interval = typical_interval(cut(trace, record.pull.start_s, record.pull.end_s))
    return 1.0 / interval if np.isfinite(interval) else None


def _one_after_the_other(times: NDArray[np.datetime64], after: NDArray[np.bool_]) -> bool:
    return bool(times[after].min() > times[~after].max() or times[after].max() < times[~after].min())


def _at_the_stop(record: PullRecord, window: tuple[float, float]) -> bool | None:
    duty, engine = record.traces.get("wastegate_duty"), record.traces.get("engine_speed")
    if duty is None or engine is None:
        return None
    part = cut(duty, record.pull.start_s, record.pull.end_s)
    speed = value_at(engine, part.time)
    # The foot of the window is where boost is still being built with the wastegate shut by design.
    upper = (speed >= 0.5 * (window[0] + window[1])) & (speed <= window[1])
    return bool(np.any(part.values[upper] >= AT_THE_STOP))
