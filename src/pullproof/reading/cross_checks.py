"""Candidates held against one another: what the channels of one log say of each other."""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from pullproof.arrays import Array
from pullproof.reading import agreement
from pullproof.reading.candidates import Candidate, Looked
from pullproof.reading.header_words import Header
from pullproof.reading.vocabulary import vocabulary
from pullproof.units import UNITS

__all__ = ["canonical_samples", "held_against_each_other"]


def canonical_samples(candidate: Candidate, columns: Sequence[Looked]) -> Array:
    """Samples (k,) of a candidate's column in the canonical unit of its channel."""
    return columns[candidate.column].samples * candidate.scale + candidate.offset


def held_against_each_other(pool: Sequence[Candidate], columns: Sequence[Looked], at: Array) -> list[Candidate]:
    """The candidates after they were held against one another.

    Parameters
    ----------
    pool : sequence
        All candidates of all columns.
    columns : sequence
        The columns with their samples, in the order of the file.
    at : (k,)
        Instants of the samples. [s]
    """
    best: dict[str, Array] = {}
    for candidate in sorted(pool, key=lambda candidate: candidate.score):
        best[candidate.channel] = canonical_samples(candidate, columns)
    return [_held_against(candidate, columns, best, at) for candidate in pool]


def _held_against(candidate: Candidate, columns: Sequence[Looked], best: Mapping[str, Array], at: Array) -> Candidate:
    column = columns[candidate.column]
    values, engine_speed = column.samples, best.get("engine_speed")
    found: agreement.Agreement | None = None
    if candidate.channel == "vehicle_speed" and engine_speed is not None:
        found = agreement.turns_with_engine(values, engine_speed)
    elif candidate.channel == "manifold_pressure" and engine_speed is not None and "air_mass_flow" in best:
        absolute = values * candidate.scale + candidate.offset
        found = agreement.speed_density(absolute, best["air_mass_flow"], engine_speed)
    elif candidate.channel == "injector_duty" and engine_speed is not None:
        found = _pulse_width(values, engine_speed, columns)
    elif candidate.channel == "air_mass_flow" and engine_speed is not None and column.header.unit is None:
        return _breathing(candidate, column, engine_speed)
    elif candidate.channel == "longitudinal_acceleration" and "vehicle_speed" in best:
        return _accelerating(candidate, column, best["vehicle_speed"], at)
    elif candidate.channel == "lambda" and agreement.commands_itself(values):
        return replace(candidate, channel="lambda_target", score=0.6, doubts=()).but(
            1.0, doubt="it is one value all through, as a command is and no measurement"
        )
    elif candidate.channel == "charge_pressure" and "manifold_pressure" in best:
        return _independent(candidate, column, best["manifold_pressure"])
    if found is None:
        return candidate
    if candidate.channel == "injector_duty":
        candidate = replace(candidate, doubts=())
    return replace(candidate, score=min(0.99, candidate.score + found.bonus)).but(1.0, evidence=found.evidence)


def _pulse_width(values: Array, engine_speed: Array, columns: Sequence[Looked]) -> agreement.Agreement | None:
    for column in columns:
        if column.header.unit is not None and column.header.unit.name == "ms" and _injects(column.header):
            found = agreement.follows_pulse_width(values, column.samples, engine_speed)
            if found is not None:
                return found
    return None


def _injects(header: Header) -> bool:
    texts = {word.text for word in header.words}
    return bool(texts & {"pw", "pulsewidth", "pulse", "injection", "injector", "inj", "einspritzzeit"})


def _breathing(candidate: Candidate, column: Looked, engine_speed: Array) -> Candidate:
    """An air flow without a unit, in the unit that makes it the breath of an engine."""
    options = [UNITS[name] for name in vocabulary().channels["air_mass_flow"].units]
    told = agreement.air_flow_unit(column.samples, engine_speed, options)
    if told is None:
        return candidate
    unit, sentence = told
    doubt = f"it has no unit; taken as {unit.name}, because {sentence}"
    return replace(candidate, unit=unit, scale=unit.factor, doubts=()).but(1.0, doubt=doubt)


def _accelerating(candidate: Candidate, column: Looked, speed: Array, at: Array) -> Candidate:
    told = agreement.acceleration_unit(column.samples, speed, at)
    if told is None:
        return candidate
    unit, sentence = told
    if unit.name == candidate.unit.name:
        return replace(candidate, score=min(0.97, candidate.score + 0.15), doubts=()).but(1.0, evidence=sentence)
    return replace(candidate, unit=unit, scale=unit.factor, offset=0.0, doubts=(), score=max(candidate.score, 0.7)).but(
        1.0, doubt=f"its name does not say {unit.name}, but {sentence}"
    )


def _independent(candidate: Candidate, column: Looked, manifold: Array) -> Candidate:
    """A boost column that is the manifold pressure cut off at the air around is no sensor before the throttle."""
    charge = column.samples * candidate.scale + candidate.offset
    floor = float(np.nanmin(charge))
    above, below = manifold > floor + 10, manifold < floor - 10
    if np.count_nonzero(above) < 20 or np.count_nonzero(below) < 20:
        return candidate
    same = float(np.nanmean(np.abs(charge[above] - manifold[above]) < 5))
    cut = float(np.nanmean(np.abs(charge[below] - floor) < 2))
    if same > 0.9 and cut > 0.9:
        return candidate.but(0.4, doubt="it is the manifold pressure cut off at the air around, not a second sensor")
    return candidate
