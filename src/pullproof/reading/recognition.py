"""Which column is which channel: every candidate is weighed, and for each channel the best column is taken.

In reading order: columns are looked at one by one; those that help to judge others (engine speed, pedal, ambient
pressure) come first; pressures are judged beside them; channels that must agree are held against one another; then
columns are given out, the surest first. What lost says to whom it lost. The owner's word in the car sheet goes before
everything.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.car import Car
from pullproof.channels import CHANNELS
from pullproof.reading.candidates import USED, Candidate, Looked, house_units, look_at
from pullproof.reading.columns import Recorded
from pullproof.reading.cross_checks import canonical_samples, held_against_each_other
from pullproof.reading.owner import owner_rules, ruled_candidate
from pullproof.reading.pressure_reference import Surroundings
from pullproof.reading.pressures import REFERENCED, candidate_of, surroundings
from pullproof.reading.remarks import notes_on
from pullproof.reading.samples import instants, sampled
from pullproof.reading.settling import settled
from pullproof.reading.unit_choice import channel_of
from pullproof.units import UNITS

__all__ = ["Decision", "Recognition", "recognise"]

WORTH_A_WORD = 0.3
"""Confidence from which a column that is not used is said to look like a channel."""


@dataclass(frozen=True, slots=True)
class Decision:
    """What a column was taken for.

    `candidate` is None where the column keeps its own header; `doubt` then says what it may be.
    """

    candidate: Candidate | None
    confidence: float
    doubt: str | None
    evidence: tuple[str, ...] = ()


@dataclass(frozen=True, slots=True)
class Recognition:
    """Decisions in the order of the columns, and notes about the log as a whole."""

    decisions: tuple[Decision, ...]
    notes: tuple[str, ...]


def recognise(columns: Sequence[Recorded], car: Car | None) -> Recognition:
    """Find out what the columns of a log are.

    Parameters
    ----------
    columns : sequence
        Everything recorded but the time.
    car : Car or None
        Its `columns` are the owner's word; its boost control and fuel settle what a log cannot tell.

    Raises
    ------
    WrongUse
        The car sheet names a channel or a unit that does not exist.
    """
    rules = owner_rules(columns, car)
    at = instants(columns)
    longest = max((column.time.size for column in columns), default=0)
    looked = _cylinders([look_at(index, column, sampled(column, at, longest)) for index, column in enumerate(columns)])
    forced = [ruled_candidate(looked[index], rule, car) for index, rule in rules.items() if rule.channel is not None]
    free = [column for column in looked if column.index not in rules and column.filled]
    pool, refused = _all_candidates(looked, free, forced)
    pool = held_against_each_other(pool, looked, at)
    taken = _give_out([*forced, *pool])
    taken = [_beside_rivals(settled(candidate, looked, taken, car), pool, looked) for candidate in taken]
    by_column = {candidate.column: candidate for candidate in taken}
    decisions = []
    for column in looked:
        if column.index in by_column:
            decisions.append(_used(column, by_column[column.index]))
        elif column.index in rules:
            decisions.append(Decision(None, 0.0, None, ("the car sheet says to leave it as it is",)))
        else:
            decisions.append(_unused(column, pool, taken, refused.get(column.index)))
    return Recognition(tuple(decisions), tuple(notes_on(taken, looked)))


def _cylinders(looked: list[Looked]) -> list[Looked]:
    """Columns of knock retard that differ by a number alone are cylinders; a single one with a number is not."""
    numbered: dict[tuple[str, ...], list[Looked]] = {}
    for column in looked:
        if column.meanings and column.meanings[0].channel == "knock_retard":
            stem = tuple(word.text for word in column.header.words if not word.text.isdigit())
            if len(stem) == len(column.header.words) - 1:
                numbered.setdefault(stem, []).append(column)
    renamed = list(looked)
    for group in numbered.values():
        if len(group) > 1:
            for column in group:
                number = next(word.text for word in column.header.words if word.text.isdigit())
                meaning = replace(column.meanings[0], channel=f"knock_retard_{int(number)}", instance=1)
                renamed[column.index] = replace(column, meanings=(meaning,))
    return renamed


def _all_candidates(
    looked: Sequence[Looked], free: Sequence[Looked], forced: Sequence[Candidate]
) -> tuple[list[Candidate], dict[int, str]]:
    """All candidates of all columns, and why a column with a fitting name cannot be what it is called."""
    pool: list[Candidate] = []
    refused: dict[int, str] = {}
    houses = house_units(looked)
    for turn in (0, 1, 2):
        around = surroundings(_give_out([*forced, *pool]), looked) if turn else Surroundings()
        for column in free:
            for meaning in column.meanings:
                if _turn(meaning.channel) != turn:
                    continue
                if meaning.instance > 1 and meaning is not column.meanings[0]:
                    continue  # a second sensor of one kind is not the first of another
                found = candidate_of(column, meaning, around, houses)
                if isinstance(found, Candidate):
                    pool.append(found)
                else:
                    refused.setdefault(column.index, f"It is called like {meaning.channel}, but {found}.")
    return pool, refused


def _turn(channel: str) -> int | None:
    """When a channel is judged: after those that it is judged beside. The time has been found before."""
    if channel == "time":
        return None
    return 2 if channel == "charge_pressure_target" else int(channel in REFERENCED)


def _give_out(pool: Sequence[Candidate]) -> list[Candidate]:
    """Each channel to one column and each column to one channel, the surest pair first."""
    taken: list[Candidate] = []
    columns: set[int] = set()
    channels: set[str] = set()
    for candidate in sorted(pool, key=lambda candidate: (-round(candidate.score, 6), candidate.column)):
        if candidate.score >= USED and candidate.column not in columns and candidate.channel not in channels:
            taken.append(candidate)
            columns.add(candidate.column)
            channels.add(candidate.channel)
    return taken


def _beside_rivals(candidate: Candidate, pool: Sequence[Candidate], looked: Sequence[Looked]) -> Candidate:
    """A doubt where another column is called the same, is as likely, and reads something else."""
    own = canonical_samples(candidate, looked)
    span = float(np.nanmax(own) - np.nanmin(own)) if np.isfinite(own).any() else 0.0
    for other in pool:
        same = other.channel == candidate.channel and other.column != candidate.column
        if not same or other.score < 0.985 * candidate.score or not span:
            continue
        apart = float(np.nanmean(np.abs(canonical_samples(other, looked) - own)))
        if apart > 0.1 * span:
            header = looked[other.column].recorded.header
            return candidate.but(0.8, doubt=f'"{header}" is called the same and reads differently')
    return candidate


def _used(column: Looked, candidate: Candidate) -> Decision:
    reasons = "; ".join(candidate.doubts)
    doubt = f"{reasons[0].upper()}{reasons[1:]}. {_settle(column, candidate)}" if reasons else None
    return Decision(candidate, round(max(USED, candidate.score), 3), doubt, candidate.evidence)


def _unused(column: Looked, pool: Sequence[Candidate], taken: Sequence[Candidate], refused: str | None) -> Decision:
    """Why a column keeps its own header, where there is anything to say."""
    best = max((found for found in pool if found.column == column.index), key=lambda found: found.score, default=None)
    if best is None or best.score < WORTH_A_WORD:
        return Decision(None, 0.0 if best is None else round(best.score, 3), refused)
    winner = next((other for other in taken if other.channel == best.channel), None)
    if winner is not None and best.score >= USED:
        return Decision(None, round(0.5 * best.score, 3), None, (f"it also looks like {best.channel}",))
    reasons = "; ".join(best.doubts) or "too little speaks for it"
    doubt = f"It may be {best.channel}: {reasons}. {_settle(column, best)}"
    return Decision(None, round(min(best.score, USED - 0.01), 3), doubt)


def _settle(column: Looked, candidate: Candidate) -> str:
    canonical = UNITS[CHANNELS[channel_of(candidate.channel)].unit]
    suits = candidate.unit.dimension == canonical.dimension or candidate.unit.name in ("AFR", "lambda")
    unit = candidate.unit.name if suits else canonical.name
    if any("held closed" in doubt for doubt in candidate.doubts):
        return "To settle it, write wastegate_duty_closed = 100 (or 0) under [boost] in the car sheet."
    return (
        f'To settle it, write "{column.recorded.header}" = "{candidate.channel}, {unit}" (or what it is) '
        "under [columns] in the car sheet."
    )
