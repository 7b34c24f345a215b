"""The history's sentences: what it found of the main measure, what to do next, and how often it looked."""

from collections.abc import Sequence

from pullproof.analysis.comparison.wording import Digits, amount, capitalised, counted, level_text
from pullproof.analysis.history.result import ChangeEffect, Estimate, MeasureHistory, Step
from pullproof.measures import MEASURES

__all__ = ["looks", "next_steps", "sentence", "what"]

LEAST_PULLS = 3


def what(effect: ChangeEffect) -> str:
    """`charge pipe`, `intake and air filter together`, `hose B in place of hose A`."""
    gained = [name for name, weight in zip(effect.changes, effect.weights, strict=True) if weight > 0.0]
    lost = [name for name, weight in zip(effect.changes, effect.weights, strict=True) if weight < 0.0]
    text = f"{_listed(gained)} together" if len(gained) > 1 else gained[0]
    return f"{text} in place of {_listed(lost)}" if lost else text


def sentence(main: MeasureHistory, level: float, changes: int) -> str:
    """What the season says of the main measure."""
    label = MEASURES[main.id].label
    moved = [effect for effect in main.effects if effect.verdict in ("lower", "higher")]
    parts = [f"{what(effect)} {_signed(effect.effect)}" for effect in moved]
    count = sum(len(effect.changes) for effect in moved)
    if moved:
        unit = amount(1.0, main.unit).partition(" ")[2] or "units of one"
        text = (
            f"{capitalised(label)} moved with {count} of {counted(changes, 'change')}, in {unit} with "
            f"{level_text(level)} intervals: {'; '.join(parts)}."
        )
    elif changes:
        text = f"None of {counted(changes, 'change')} is seen to have moved {label} for certain."
    else:
        text = f"No change was recorded; {label} is shown as it went."
    brought = [
        f"{what(effect)} {_signed(effect.whole)}"
        for effect in main.effects
        if effect.whole is not None and effect.whole.excludes_zero and effect not in moved
    ]
    if brought:
        text += f" With the boost it brought: {'; '.join(brought)}."
    together = [unknown.change for unknown in main.alone_unknown if unknown.others]
    if together:
        text += f" {capitalised(_listed(together))} cannot be told apart."
    if main.step is not None and main.step.flagged:
        text += f" {_step(main.step, main.unit, level)}"
    return text


def _signed(estimate: Estimate) -> str:
    """`-1.22 (-2.06 to -0.36)`."""
    digits = Digits.of_interval(estimate.interval)
    lower, upper = (digits.bare(end) for end in estimate.interval)
    sign = "+" if round(estimate.value, digits.places) > 0.0 else ""
    return f"{sign}{digits.bare(estimate.value)} ({lower} to {upper})"


def _size(estimate: Estimate, unit: str, level: float) -> str:
    digits = Digits.of_interval(estimate.interval)
    size = amount(estimate.value, unit, digits)
    lower, upper = (digits.bare(end) for end in estimate.interval)
    verb = "lower" if estimate.value < 0.0 else "higher"
    unit_words = size.partition(" ")[2]
    return f"{size} {verb} ({level_text(level)} interval {lower} to {upper} {unit_words}".rstrip() + ")"


def _step(step: Step, unit: str, level: float) -> str:
    return (
        f"Between {step.after} and {step.before} it took a step that no recorded change explains: "
        f"{_size(step.size, unit, level)}, probability {step.probability:.2f}."
    )


def next_steps(measures: Sequence[MeasureHistory], main: MeasureHistory) -> tuple[str, ...]:
    """What to drive or to look at next."""
    found = []
    stepped = [one for one in measures if one.step is not None and one.step.flagged]
    if stepped:
        gaps = dict.fromkeys(f"{one.step.after} and {one.step.before}" for one in stepped if one.step is not None)
        found.append(
            f"Look for what happened between {_listed(list(gaps))}: a leak, a slipped hose, a dirty sensor, another "
            "fuel, or a change that nobody wrote down. Let hot parts cool before you touch them."
        )
    for unknown in main.alone_unknown:
        if unknown.others:
            found.append(
                f"To know {unknown.change} alone, drive a few pulls with it and without {_listed(unknown.others)}, "
                "on one day."
            )
            break
    weak = [
        effect
        for effect in main.effects
        if effect.verdict == "unclear" and min(effect.pulls_with, effect.pulls_without) < LEAST_PULLS
    ]
    if weak:
        found.append(f"{capitalised(what(weak[0]))} rests on few pulls: add some on another day with the same build.")
    return tuple(found)


def looks(intervals: int, level: float) -> str:
    """How many intervals stand beside each other, and how many of them lie by chance."""
    chance = intervals * (1.0 - level)
    return (
        f"{intervals} intervals were looked at: about {chance:.0f} of them will miss the truth, and if nothing had "
        "changed so many would leave out zero by chance; only the main measure is a test, the others describe"
    )


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"
