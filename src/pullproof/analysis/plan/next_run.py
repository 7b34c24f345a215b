"""Which single next run narrows an open question most.

The pulls that are there give what is believed of the two scatters. At each of these the interval with one more pull
in the model is exact, because its width does not hang on what the pull will read. What the pull would teach about
the scatter itself is left out.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.analysis.comparison.design import Model
from pullproof.analysis.plan.belief import Belief, Evidence
from pullproof.analysis.plan.chances import Setting, new_columns
from pullproof.analysis.plan.result import NextRun, Run, State
from pullproof.analysis.plan.wording import NOT_OVER
from pullproof.arrays import Array
from pullproof.stats.mixed_model import Design
from pullproof.stats.mixture import NormalMixture
from pullproof.stats.sample_size import contrast_deviation

__all__ = ["half_width_now", "next_runs"]

WEATHERS = 24
"""Draws of a new day's weather."""

SEED = 20_260_404


@dataclass(frozen=True, slots=True)
class _Candidate:
    """Pulls to add: their states, and the day they are on; None for a day that has not been yet."""

    label: str
    states: tuple[State, ...]
    day: int | None


def half_width_now(evidence: Evidence, level: float) -> float | None:
    """Half of the interval as the question stands; None where the earlier logs have one side only."""
    known = evidence.model
    if known is None:
        return None
    return _half_width(_deviations(known.design, known.change, evidence.belief), evidence.belief, level)


def next_runs(evidence: Evidence, setting: Setting) -> tuple[NextRun, ...]:
    """One more pull a side, on each day and on a new one, and one of both on a new day: the narrowest first."""
    if evidence.model is None:
        return ()
    known, now = evidence.model, half_width_now(evidence, setting.level) or np.nan
    found = [
        NextRun(entry.label, len(entry.states), then, 100.0 * (1.0 - then / now))
        for entry in _candidates(evidence)
        for then in [_with(entry, known, setting)]
    ]
    return tuple(sorted(found, key=lambda run: run.half_width))


def _candidates(evidence: Evidence) -> Sequence[_Candidate]:
    """Days are numbered as the model numbers them: in the order of their labels."""
    sides: tuple[State, State] = ("before", "after")
    found = [
        _Candidate(f"one pull {state} on {label}{NOT_OVER}", (state,), day)
        for day, label in enumerate(sorted(evidence.days))
        for state in sides
    ]
    found += [_Candidate(f"one pull {state} on a new day", (state,), None) for state in sides]
    return [*found, _Candidate("one pull before and one after on one new day", ("before", "after"), None)]


def _with(entry: _Candidate, known: Model, setting: Setting) -> float:
    """Half of the interval with the pulls of a candidate in the model."""
    rng = np.random.default_rng(SEED)
    draws = WEATHERS if entry.day is None else 1
    deviations = [
        _deviations(_extended(known, entry, setting, rng), known.change, setting.belief) for _ in range(draws)
    ]
    together = np.sqrt(np.mean(np.square(deviations), axis=0))
    return _half_width(together, setting.belief, setting.level)


def _extended(known: Model, entry: _Candidate, setting: Setting, rng: np.random.Generator) -> Design:
    """The model's design with further rows: at its mean conditions on a day that was, in drawn weather on a new one."""
    design, count = known.design, len(entry.states)
    rows = np.zeros((count, design.columns.shape[1]))
    rows[:, 0] = 1.0
    rows[:, 1] = [0.5 if state == "after" else -0.5 for state in entry.states]
    day = design.group.max() + 1 if entry.day is None else entry.day
    if entry.day is None:
        rows[:, 2:] = _weather(known, count, setting, rng)
    return replace(
        design,
        columns=np.vstack([design.columns, rows]),
        group=np.concatenate((design.group, np.full(count, day))).astype(np.intp),
    )


def _weather(known: Model, count: int, setting: Setting, rng: np.random.Generator) -> Array:
    """What differs on a new day from the mean of the pulls so far, for the covariates of the model."""
    table = {name: effect for name, effect in setting.effects.items() if name in known.names}
    runs = [Run("before", day, 0.0) for day in (1, 1, 1, *[2] * count)]
    columns, _, _ = new_columns(runs, {**table, "order": setting.effects["order"]}, setting.costs, rng)
    names = [*sorted(name for name in table if name not in ("order", "direction")), "order"]
    moved = columns[3:] - columns[:3].mean(axis=0)
    found = np.zeros((count, len(known.names)))
    for place, name in enumerate(known.names):
        if name in names:
            found[:, place] = moved[:, names.index(name)]
    return found


def _deviations(design: Design, contrast: Array, belief: Belief) -> Array:
    return contrast_deviation(design, contrast, belief.s_day, belief.s_run)


def _half_width(deviations: Array, belief: Belief, level: float) -> float:
    """Half of the interval of a difference whose deviation is not known exactly."""
    weights = belief.weights[:, None]
    mixture = NormalMixture(weights, np.zeros_like(weights), deviations[:, None])
    lower, upper = mixture.interval(level)
    return float(upper[0] - lower[0]) / 2.0
