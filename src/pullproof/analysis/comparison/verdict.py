"""Which measure speaks, what the sentence says, and what a failed check takes back."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

from pullproof.analysis.comparison.fairness import concealments, explanations
from pullproof.analysis.comparison.result import FairnessCheck, LeftOut, MeasureDifference
from pullproof.analysis.comparison.wording import amount, capitalised, counted, digits_of, level_text
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import MEASURES

__all__ = ["choose_main", "hold_back", "known_measure", "sentence"]

PREFERRED = ("wastegate_duty.peak", "boost.mean", "wheel_power.mean", "pull.time")
"""The first that is there and free to move is the main measure where nobody named one."""

NUMBER_WORDS = {1: "one", 2: "two", 3: "three", 4: "four", 5: "five", 6: "six"}


def known_measure(measure: str) -> None:
    """Refuse a measure that does not exist.

    Raises
    ------
    WrongUse
        With the list of those that do.
    """
    if measure not in MEASURES:
        raise WrongUse(f'there is no measure "{measure}"', advice=f"Choose one of: {', '.join(MEASURES)}.")


def choose_main(
    named: str | None, differences: Mapping[str, MeasureDifference], left_out: Sequence[LeftOut]
) -> tuple[str, str]:
    """The measure that the sentence speaks of, and why it is not the one that was meant; empty where it is.

    Raises
    ------
    CannotAnswer
        The named measure cannot be read, or none that could carry the answer can.
    """
    if named is not None and named not in differences:
        reason = next((left.reason for left in left_out if left.measure == named), "no pull has it")
        raise CannotAnswer(
            f"the main measure {named} cannot be read: {reason}",
            advice="Log what it needs, or name another measure with --main.",
        )
    wanted = [named] if named is not None else []
    for measure in (*wanted, *PREFERRED):
        if measure in differences and not differences[measure].censored:
            return measure, _handed_over(named, differences, measure)
    if differences:
        stuck = next(iter(wanted), None) or next((name for name in PREFERRED if name in differences), None)
        if stuck is not None:
            return stuck, ""
    reasons = "; ".join(f"{left.measure}: {left.reason}" for left in left_out if left.measure in PREFERRED)
    raise CannotAnswer(
        f"none of {', '.join(PREFERRED)} can be read from these pulls ({reasons})",
        advice="Log engine speed with boost, wastegate duty or road speed, or name another measure with --main.",
    )


def hold_back(difference: MeasureDifference, checks: Sequence[FairnessCheck]) -> MeasureDifference:
    """A claim that a failed check could explain wholly becomes unclear, and a sameness that one could have made."""
    if difference.verdict == "unclear":
        return difference
    if difference.verdict == "same":
        found, consequence = concealments(difference, checks), "that could hide a difference worth having"
    else:
        found, consequence = explanations(difference, checks), "that could make the whole difference"
    if not found:
        return difference
    doubts = tuple(f"{check.detail.rstrip('.')}: {consequence}" for check in found)
    return replace(difference, verdict="unclear", doubts=(*difference.doubts, *doubts))


def sentence(main: MeasureDifference, handed_over: str, checks: Sequence[FairnessCheck], days: int) -> str:
    """The verdict in words, with its interval, what it rests on, and what one pull a side is worth."""
    parts = [handed_over, _claim(main, days), *_explained(main, checks), _one_a_side(main, days)]
    return " ".join(part for part in parts if part)


def _handed_over(named: str | None, differences: Mapping[str, MeasureDifference], chosen: str) -> str:
    stuck = named or next((name for name in PREFERRED if name in differences), chosen)
    if stuck == chosen:
        return ""
    return (
        f"{capitalised(MEASURES[stuck].label)} sat at its stop in every pull and cannot show a difference; "
        f"{MEASURES[chosen].label} carries the answer."
    )


def _claim(main: MeasureDifference, days: int) -> str:
    label = capitalised(MEASURES[main.id].label)
    rests_on = f"{counted(main.pulls_before, 'pull')} before and {main.pulls_after} after on {_days(days)}"
    if main.censored:
        return f"{label} sat at its stop in every pull and cannot show a difference, {rests_on}."
    digits = digits_of(main)
    size = amount(main.difference, main.unit, digits)
    unit = size.partition(" ")[2]
    lower, upper = (digits.bare(end) for end in main.interval)
    interval = f"({level_text(main.level)} interval {lower} to {upper} {unit}".rstrip() + ")"
    if main.verdict in ("lower", "higher"):
        verb = "fell" if main.verdict == "lower" else "rose"
        return f"{label} {verb} by {size} {interval}, {rests_on}."
    if main.verdict == "same":
        worth = amount(main.smallest_worth_having, main.unit)
        return f"{label} did not change by as much as is worth having, {worth}: {_signed(main)} {interval}, {rests_on}."
    return f"Whether {MEASURES[main.id].label} changed is unclear: {_signed(main)} {interval}, {rests_on}."


def _signed(main: MeasureDifference) -> str:
    digits = digits_of(main)
    text = amount(main.difference, main.unit, digits)
    shown = round(main.difference, digits.places)
    return f"-{text}" if shown < 0.0 else f"+{text}" if shown > 0.0 else text


def _explained(main: MeasureDifference, checks: Sequence[FairnessCheck]) -> list[str]:
    """Why a difference whose interval excludes zero is called unclear all the same."""
    lower, upper = main.interval
    if main.verdict != "unclear" or lower <= 0.0 <= upper or main.censored:
        return []
    return [f"{check.detail} That could make the whole difference." for check in explanations(main, checks)]


def _one_a_side(main: MeasureDifference, days: int) -> str:
    if max(main.pulls_before, main.pulls_after) > 1 or main.censored:
        return ""
    reach = amount((main.interval[1] - main.interval[0]) / 2.0, main.unit)
    if days == 1:
        return (
            "One pull a side shows no scatter of its own, so the interval rests on what is usual: with nothing "
            f"changed, two such pulls can differ by up to {reach}."
        )
    return (
        "One pull a side on two days proves little by itself: with nothing changed, two such pulls can differ by up to "
        f"{reach}."
    )


def _days(days: int) -> str:
    return f"{NUMBER_WORDS.get(days, str(days))} day{'s' if days != 1 else ''}"
