"""Which column is which channel: every candidate is weighed, and for each channel the best column is taken.

In reading order: columns are looked at one by one; those that help to judge others (engine speed, pedal, ambient
pressure) come first; pressures are judged beside them; channels that must agree are held against one another; then
columns are given out, the surest first. What lost says to whom it lost. The owner's word in the car sheet goes before
everything.
"""

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car, ColumnRule
from pullproof.channels import CHANNELS
from pullproof.errors import WrongUse
from pullproof.reading import agreement
from pullproof.reading.candidates import Candidate, Looked, house_units, look_at, plain_candidate, unit_by_owner
from pullproof.reading.columns import Recorded
from pullproof.reading.header_words import Header
from pullproof.reading.naming import Meaning
from pullproof.reading.pressure_reference import Surroundings
from pullproof.reading.pressures import REFERENCED, pressure_candidate
from pullproof.reading.samples import instants, sampled
from pullproof.reading.unit_choice import channel_of
from pullproof.reading.vocabulary import vocabulary
from pullproof.reading.wastegate_sense import duty_sense
from pullproof.units import UNITS, Unit, convert, repair_text

__all__ = ["Decision", "Recognition", "recognise"]

USED = 0.5
"""Confidence from which a column is used under the name of a channel."""

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
    rules = _rules(columns, car)
    at = instants(columns)
    longest = max((column.time.size for column in columns), default=0)
    looked = [look_at(index, column, sampled(column, at, longest)) for index, column in enumerate(columns)]
    free = [column for column in looked if column.index not in rules and column.filled]
    houses = house_units(looked)
    forced = [_ruled(looked[index], rule, car) for index, rule in rules.items() if rule.channel is not None]
    pool, refused = _all_candidates(free, houses, forced)
    pool = _agreed(pool, looked, at)
    taken = _give_out([*forced, *pool])
    taken = [_settled(candidate, looked, taken, car) for candidate in taken]
    by_column = {candidate.column: candidate for candidate in taken}
    decisions = tuple(
        _decision(
            column, by_column.get(column.index), pool, taken, refused.get(column.index), ruled=column.index in rules
        )
        for column in looked
    )
    return Recognition(decisions, tuple(_notes(taken, looked)))


def _rules(columns: Sequence[Recorded], car: Car | None) -> dict[int, ColumnRule]:
    """The owner's word by index of the column; headers may be written as seen or with a broken degree sign repaired."""
    if car is None:
        return {}
    written: Mapping[str, ColumnRule] = {repair_text(header).strip(): rule for header, rule in car.columns.items()}
    found = {index: written.get(repair_text(column.header).strip()) for index, column in enumerate(columns)}
    return {index: rule for index, rule in found.items() if rule is not None and rule.channel != "time"}


def _ruled(column: Looked, rule: ColumnRule, car: Car | None) -> Candidate:
    """The owner's word as a candidate that nothing beats; what the owner left open is found out as usual."""
    channel = rule.channel or ""
    where = f'car sheet of {car.name}, columns."{column.recorded.header}"' if car else column.recorded.header
    if channel_of(channel) not in CHANNELS:
        near = difflib.get_close_matches(channel, CHANNELS, n=1)
        advice = f'Did you mean "{near[0]}"?' if near else f"Channels are: {', '.join(CHANNELS)}."
        raise WrongUse(f'channel "{channel}" does not exist', where=where, advice=advice)
    meaning = Meaning(channel, 0.99)
    if rule.unit is None:
        found = _candidate(column, meaning, Surroundings(), frozenset())
        if isinstance(found, str):
            raise WrongUse(
                f"{column.recorded.header} cannot be {channel}: {found}",
                where=where,
                advice='Add the unit, like "kPa gauge".',
            )
        return replace(found, score=0.99, evidence=("the car sheet names the channel", *found.evidence))
    named = unit_by_owner(rule.unit)
    canonical = UNITS[CHANNELS[channel_of(channel)].unit]
    if named is None or not _suits(named[0], canonical, channel):
        raise WrongUse(
            f'unit "{rule.unit}" is no unit of {channel}',
            where=where,
            advice=f'Write it like "{channel}, {CHANNELS[channel_of(channel)].unit}".',
        )
    unit, ratio = named
    return Candidate(
        column=column.index,
        channel=channel,
        score=1.0,
        unit=unit,
        scale=1 / ratio if unit.name == "AFR" else unit.factor / canonical.factor,
        offset=0.0 if unit.name in ("AFR", "lambda") else convert(0.0, replace(unit, reference=""), canonical),
        evidence=("the car sheet says so",),
    )


def _suits(unit: Unit, canonical: Unit, channel: str) -> bool:
    if channel in ("lambda", "lambda_target"):
        return unit.dimension in ("mixture", "air-fuel ratio", "number")
    return unit.dimension == canonical.dimension


def _candidate(column: Looked, meaning: Meaning, around: Surroundings, houses: frozenset[str]) -> Candidate | str:
    if meaning.channel in REFERENCED:
        return pressure_candidate(column, meaning, around, houses)
    return plain_candidate(column, meaning, houses)


def _all_candidates(
    free: list[Looked], houses: frozenset[str], forced: list[Candidate]
) -> tuple[list[Candidate], dict[int, str]]:
    """All candidates of all columns, and why a column with a fitting name cannot be what it is called."""
    pool: list[Candidate] = []
    refused: dict[int, str] = {}
    by_index = {column.index: column for column in free}
    for pressures in (False, True):
        around = _surroundings(_give_out([*forced, *pool]), by_index) if pressures else Surroundings()
        for column in free:
            for meaning in column.meanings:
                if meaning.channel == "time" or (meaning.channel in REFERENCED) is not pressures:
                    continue
                if meaning.instance > 1 and meaning is not column.meanings[0]:
                    continue  # a second sensor of one kind is not the first of another
                found = _candidate(column, meaning, around, houses)
                if isinstance(found, Candidate):
                    pool.append(found)
                else:
                    refused.setdefault(column.index, f"It is called like {meaning.channel}, but {found}.")
    return pool, refused


def _converted(candidate: Candidate, columns: Mapping[int, Looked]) -> Array | None:
    column = columns.get(candidate.column)
    return None if column is None else column.samples * candidate.scale + candidate.offset


def _surroundings(taken: Sequence[Candidate], columns: Mapping[int, Looked]) -> Surroundings:
    """What pressures are judged beside. An ambient pressure that no place on a road has is not believed."""
    found = {candidate.channel: _converted(candidate, columns) for candidate in taken if candidate.score >= USED}
    ambient = found.get("ambient_pressure")
    middle = float(np.nanmedian(ambient)) if ambient is not None and np.isfinite(ambient).any() else None
    low, high = CHANNELS["ambient_pressure"].plausible
    pedal = found.get("pedal_position")
    return Surroundings(
        engine_speed=found.get("engine_speed"),
        pedal=found.get("throttle_position") if pedal is None else pedal,
        ambient_kpa=middle if middle is not None and low <= middle <= high else None,
    )


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


def _agreed(pool: list[Candidate], looked: Sequence[Looked], at: Array) -> list[Candidate]:
    """The candidates after they were held against one another."""
    columns = {column.index: column for column in looked}
    best: dict[str, Array] = {}
    for candidate in sorted(pool, key=lambda candidate: candidate.score):
        values = _converted(candidate, columns)
        if values is not None:
            best[candidate.channel] = values
    return [_held_against(candidate, columns, best, at) for candidate in pool]


def _held_against(
    candidate: Candidate, columns: Mapping[int, Looked], best: Mapping[str, Array], at: Array
) -> Candidate:
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
        return replace(candidate, channel="lambda_target").but(
            0.6, doubt="it is one value all through, as a command is and no measurement"
        )
    elif candidate.channel == "charge_pressure" and "manifold_pressure" in best:
        return _independent(candidate, column, best["manifold_pressure"])
    if found is None:
        return candidate
    return replace(candidate, score=min(0.99, candidate.score + found.bonus)).but(1.0, evidence=found.evidence)


def _pulse_width(values: Array, engine_speed: Array, columns: Mapping[int, Looked]) -> agreement.Agreement | None:
    for column in columns.values():
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


def _settled(candidate: Candidate, looked: Sequence[Looked], taken: Sequence[Candidate], car: Car | None) -> Candidate:
    """What can only be said once all columns have been given out: the sense of a duty, the fuel behind a ratio."""
    if candidate.channel == "wastegate_duty":
        return _closed_is_100(candidate, looked, taken, car)
    if candidate.unit.name == "AFR" and "the car sheet says so" not in candidate.evidence:
        return _by_logger_ratio(candidate, looked, car)
    if candidate.channel in REFERENCED and "the car sheet says so" in candidate.evidence:
        return _referred_by_owner(candidate, looked, taken)
    return candidate


def _closed_is_100(
    candidate: Candidate, looked: Sequence[Looked], taken: Sequence[Candidate], car: Car | None
) -> Candidate:
    closed = car.boost.wastegate_duty_closed if car is not None else None
    turned = replace(candidate, scale=-candidate.scale, offset=100.0 - candidate.offset)
    if closed is not None:
        said = candidate if closed == 100 else turned
        return said.but(1.0, evidence=f"the car sheet says that {closed:g} % is held closed")
    columns = {column.index: column for column in looked}
    found = {other.channel: _converted(other, columns) for other in taken}
    pedal, pressure = found.get("pedal_position"), found.get("charge_pressure")
    sense = duty_sense(
        looked[candidate.column].samples * candidate.scale + candidate.offset,
        found.get("throttle_position") if pedal is None else pedal,
        found.get("manifold_pressure") if pressure is None else pressure,
        found.get("charge_pressure_target"),
        found.get("engine_speed"),
    )
    if sense.reversed is None:
        return candidate.but(
            0.8, doubt=f"whether 100 % means held closed is uncertain ({sense.evidence}); taken as such"
        )
    if sense.reversed:
        return turned.but(0.75, doubt=f"0 % was taken as held closed, because {sense.evidence}")
    return candidate.but(1.0, evidence=f"100 % is held closed: {sense.evidence}")


def _by_logger_ratio(candidate: Candidate, looked: Sequence[Looked], car: Car | None) -> Candidate:
    """Lambda from an air-fuel ratio needs the ratio that the logger multiplied by."""
    for other in looked:
        if other.header.unit is not UNITS["lambda"] and "lambda" not in {meaning.channel for meaning in other.meanings}:
            continue
        ratio = agreement.stoichiometric_ratio(looked[candidate.column].samples, other.samples)
        if ratio is not None:
            return replace(candidate, scale=1 / ratio).but(
                1.0, evidence=f"the log's own lambda gives a ratio of {ratio:.2f}"
            )
    fuel = car.engine.fuel if car is not None else None
    if fuel not in (None, "petrol", "e10"):
        return candidate.but(0.8, doubt=f"14.7 was taken for lambda 1, and the fuel is {fuel}; loggers differ in that")
    return candidate.but(1.0, evidence="14.7 was taken for lambda 1")


def _referred_by_owner(candidate: Candidate, looked: Sequence[Looked], taken: Sequence[Candidate]) -> Candidate:
    """Gauge pressure by the owner's word, on the log's ambient pressure."""
    air = _surroundings(taken, {column.index: column for column in looked}).air
    oil = candidate.channel == "oil_pressure"
    gauge = candidate.unit.reference == "gauge"
    if gauge is oil:
        return candidate
    return replace(candidate, offset=-air if oil else air, gauge_kpa=None if oil else air)


def _decision(
    column: Looked,
    candidate: Candidate | None,
    pool: Sequence[Candidate],
    taken: Sequence[Candidate],
    refused: str | None,
    *,
    ruled: bool,
) -> Decision:
    if candidate is not None:
        return Decision(candidate, round(candidate.score, 3), _doubt(column, candidate), candidate.evidence)
    if ruled:
        return Decision(None, 0.0, None, ("the car sheet says to leave it as it is",))
    own = sorted((found for found in pool if found.column == column.index), key=lambda found: -found.score)
    if not own:
        return Decision(None, 0.0, refused)
    best = own[0]
    if best.score < WORTH_A_WORD:
        return Decision(None, round(best.score, 3), refused)
    winner = next((other for other in taken if other.channel == best.channel), None)
    if winner is not None and best.score >= USED:
        return Decision(None, round(0.5 * best.score, 3), None, (f"it also looks like {best.channel}",))
    reasons = "; ".join(best.doubts) or "too little speaks for it"
    return Decision(
        None, round(min(best.score, USED - 0.01), 3), f"It may be {best.channel}: {reasons}. {_settle(column, best)}"
    )


def _doubt(column: Looked, candidate: Candidate) -> str | None:
    if not candidate.doubts:
        return None
    reasons = "; ".join(candidate.doubts)
    return f"{reasons[0].upper()}{reasons[1:]}. {_settle(column, candidate)}"


def _settle(column: Looked, candidate: Candidate) -> str:
    suits = candidate.unit.dimension == UNITS[CHANNELS[channel_of(candidate.channel)].unit].dimension
    unit = (
        candidate.unit.name if suits or candidate.unit.name == "AFR" else CHANNELS[channel_of(candidate.channel)].unit
    )
    if any("held closed" in doubt for doubt in candidate.doubts):
        return "To settle it, write wastegate_duty_closed = 100 (or 0) under [boost] in the car sheet."
    return (
        f'To settle it, write "{column.recorded.header}" = "{candidate.channel}, {unit}" (or what it is) '
        "under [columns] in the car sheet."
    )


def _notes(taken: Sequence[Candidate], looked: Sequence[Looked]) -> list[str]:
    found = {
        candidate.channel: _converted(candidate, {column.index: column for column in looked}) for candidate in taken
    }
    notes = []
    if "engine_speed" not in found:
        notes.append("No engine speed was recognised: pulls cannot be found in this log.")
    if sentence := agreement.moves_as_one({name: values for name, values in found.items() if values is not None}):
        notes.append(sentence[0].upper() + sentence[1:])
    wild = [candidate.channel for candidate in taken if any("implausible" in doubt for doubt in candidate.doubts)]
    if len(wild) >= 3 and len(wild) >= 0.3 * len(taken):
        notes.append(
            f"{len(wild)} of {len(taken)} channels hold implausible values ({', '.join(wild)}): no real driving."
        )
    referred = [candidate for candidate in taken if candidate.gauge_kpa is not None]
    if referred and "ambient_pressure" not in found:
        names = " and ".join(candidate.channel for candidate in referred)
        notes.append(
            f"Gauge pressure without an ambient pressure in the log ({names}): 101.325 kPa was added, "
            "so boost is as logged and absolute pressure is off by what the air differed from that."
        )
    return notes
