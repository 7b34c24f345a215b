"""Candidates for pressures of the intake tract and of oil: unit, gauge or absolute, before or after the throttle."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.channels import CHANNELS
from pullproof.reading.candidates import (
    USED,
    Candidate,
    Looked,
    checked_values,
    is_canonical,
    plain_candidate,
    stated_unit,
    with_meaning,
)
from pullproof.reading.naming import Meaning
from pullproof.reading.pressure_reference import Judgement, Surroundings, goes_below_ambient, judge_reference
from pullproof.reading.unit_choice import UnitChoice
from pullproof.reading.vocabulary import vocabulary
from pullproof.units import UNITS, Reference, Unit, convert

__all__ = ["REFERENCED", "candidate_of", "surroundings"]

REFERENCED = {
    "manifold_pressure": "manifold",
    "charge_pressure": "charge",
    "charge_pressure_target": "target",
    "compressor_inlet_pressure": "inlet",
    "compressor_outlet_pressure": "charge",
    "oil_pressure": "closed",
}
"""Channels whose reference has to be found out, with the place that they are taken at."""


def surroundings(taken: Sequence[Candidate], columns: Sequence[Looked]) -> Surroundings:
    """What pressures are judged beside. An ambient pressure that no place on a road has is not believed."""
    found = {
        candidate.channel: columns[candidate.column].samples * candidate.scale + candidate.offset
        for candidate in taken
        if candidate.score >= USED
    }
    ambient, pedal = found.get("ambient_pressure"), found.get("pedal_position")
    measured = [other.unit.reference for other in taken if other.channel in ("charge_pressure", "manifold_pressure")]
    middle = float(np.nanmedian(ambient)) if ambient is not None and np.isfinite(ambient).any() else None
    low, high = CHANNELS["ambient_pressure"].plausible
    return Surroundings(
        engine_speed=found.get("engine_speed"),
        pedal=found.get("throttle_position") if pedal is None else pedal,
        ambient_kpa=middle if middle is not None and low <= middle <= high else None,
        boost=measured[0] if len(set(measured)) == 1 else "",
    )


def candidate_of(
    looked: Looked, meaning: Meaning, around: Surroundings, house_units: frozenset[str]
) -> Candidate | str:
    """The candidate for a meaning of a column; a sentence where the column cannot be what it is called.

    Parameters
    ----------
    around : Surroundings
        What the other columns say at the same instants; only pressures need it.
    house_units : set of str
        Units that other columns of the file state.
    """
    if meaning.channel in REFERENCED:
        return _pressure(looked, meaning, around, house_units)
    return plain_candidate(looked, meaning, house_units)


@dataclass(frozen=True, slots=True)
class _Option:
    unit: Unit
    judged: Judgement
    fitness: float


def _pressure(looked: Looked, meaning: Meaning, around: Surroundings, house_units: frozenset[str]) -> Candidate | str:
    stated = stated_unit(looked, meaning.channel)
    if stated is not None and stated.dimension not in ("pressure", "number"):
        return f"it is in {stated.name}, which is no unit of {meaning.channel}"
    place = _place(meaning.channel, looked)
    if stated is not None and stated.dimension == "pressure":
        option = _judged(looked, stated, place, around)
        choice = UnitChoice(stated, 1.08, f"the file says {stated.name}")
    else:
        option, choice = _chosen_unit(looked, meaning.channel, place, around, house_units)
    candidate = with_meaning(looked, meaning, replace(choice, unit=option.unit))
    candidate = _referred(candidate, option, around)
    if meaning.channel == "charge_pressure":
        candidate = _after_throttle(looked, candidate, option, around)
    return checked_values(looked, candidate)


def _place(channel: str, looked: Looked) -> str:
    """Where it is taken. Boost may be taken before or after the throttle, so it is judged by what both allow."""
    before = looked.header.ideas & {"upstream", "compressor", "outlet", "abbreviated_throttle_inlet_pressure"}
    if channel == "charge_pressure" and not before and not is_canonical(looked.recorded.header):
        return "boost"
    return REFERENCED[channel]


def _said(looked: Looked, unit: Unit) -> tuple[Reference, bool]:
    """What the header says of the reference, and whether it says so outright."""
    if unit.reference:
        return unit.reference, True
    ideas = looked.header.ideas
    if ideas & {"gauge", "relative"}:
        return "gauge", True
    if "absolute" in ideas or is_canonical(looked.recorded.header):
        return "absolute", True
    if "manifold_pressure" in ideas:
        return "absolute", False
    return ("gauge" if any(word.text in ("boost", "turboboost") for word in looked.header.words) else ""), False


def _judged(looked: Looked, unit: Unit, place: str, around: Surroundings) -> _Option:
    values = looked.samples * unit.factor
    said, outright = _said(looked, unit)
    judged = judge_reference(values, place, said, around, outright=outright)
    if unit.reference and judged.reference == unit.reference:
        judged = Judgement(unit.reference, 0.99, f"the file says {unit.name} {unit.reference}")
    return _Option(unit.referred_to(judged.reference), judged, _fitness(values, place, judged, around))


def _fitness(values: np.ndarray, place: str, judged: Judgement, around: Surroundings) -> float:
    """How well the values [kPa] suit a turbocharged engine in this unit. [1]"""
    known = values[np.isfinite(values)]
    if not known.size:
        return 0.0
    absolute = known + (around.air if judged.reference == "gauge" else 0.0)
    low, high = float(np.quantile(absolute, 0.01)), float(absolute.max())
    possible = 0.0 if low < 5 or high > 600 else 1.0
    if place == "closed":
        return judged.certainty * (1.0 if 150 < known.max() < 1200 else 0.3)
    drawn = 0.15 * around.air < low < 0.65 * around.air if low < 0.9 * around.air else True
    built = 0.9 * around.air < high < 450
    moves = float(np.quantile(absolute, 0.98)) - low > 15
    faint = place == "boost" and high < 1.25 * around.air
    weights = (1.0 if drawn else 0.6, 1.0 if built else 0.4, 1.0 if moves else 0.4, 0.7 if faint else 1.0)
    return judged.certainty * possible * float(np.prod(weights))


def _chosen_unit(
    looked: Looked, channel: str, place: str, around: Surroundings, house_units: frozenset[str]
) -> tuple[_Option, UnitChoice]:
    """Unit and reference together, where the file gives no unit: the pair that suits the engine best."""
    options = [_judged(looked, UNITS[name], place, around) for name in vocabulary().channels[channel].units]
    ranked = sorted(
        options, key=lambda option: -option.fitness * (1.1 if option.unit.name.split()[0] in house_units else 1)
    )
    best, second = ranked[0], ranked[1]
    known = looked.samples[np.isfinite(looked.samples)]
    span = f"{known.min():.4g} to {known.max():.4g}" if known.size else "none"
    close = second.fitness > 0.75 * best.fitness
    rival = f", and {second.unit.name} would do too" if close else ""
    weight = (0.7 if close else 0.85) if best.fitness > 0.2 else 0.5
    doubt = f"it has no unit; values of {span} were taken as {best.unit.name}{rival}"
    return best, UnitChoice(best.unit, weight, f"no unit is given; {best.unit.name} suits the values best", doubt)


def _referred(candidate: Candidate, option: _Option, around: Surroundings) -> Candidate:
    """The conversion with the reference in it, and the doubt about the reference."""
    target = UNITS["kPa"].referred_to("gauge" if candidate.channel == "oil_pressure" else "absolute")
    offset = convert(0.0, option.unit, target, ambient_kpa=around.air)
    gauge = option.unit.reference == "gauge" and target.reference == "absolute"
    candidate = replace(
        candidate, scale=option.unit.factor, offset=offset, gauge_kpa=around.air if gauge else None
    ).but(1.0, evidence=f"{option.unit.reference}: {option.judged.evidence}")
    if option.judged.certainty >= 0.85:
        return candidate
    return candidate.but(
        0.6 + 0.4 * option.judged.certainty,
        doubt="whether it is gauge or absolute is uncertain; "
        f"taken as {option.unit.reference} because {option.judged.evidence}",
    )


def _after_throttle(looked: Looked, candidate: Candidate, option: _Option, around: Surroundings) -> Candidate:
    """A boost column that falls far below the air around is measured after the throttle: manifold pressure."""
    values = looked.samples * option.unit.factor
    if not goes_below_ambient(values, option.unit.reference, around):
        return candidate
    if is_canonical(looked.recorded.header):
        return candidate.but(0.8, doubt="it falls far below the air around, which pressure before a throttle does not")
    moved = candidate.but(1.0, evidence="it falls far below the air around, so it is measured after the throttle")
    return replace(moved, channel="manifold_pressure")
