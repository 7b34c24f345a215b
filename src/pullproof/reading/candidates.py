"""What a column may be: channel, unit and conversion, with the confidence and what speaks for and against it."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import CHANNELS
from pullproof.reading.columns import Recorded
from pullproof.reading.header_words import Header, understand
from pullproof.reading.naming import Meaning, meanings
from pullproof.reading.unit_choice import UnitChoice, channel_of, choose_unit, hidden_scale
from pullproof.reading.vocabulary import plain_text, vocabulary
from pullproof.units import UNITS, Unit, parse_unit

__all__ = [
    "STOICHIOMETRIC",
    "USED",
    "Candidate",
    "Looked",
    "checked_values",
    "house_units",
    "is_canonical",
    "look_at",
    "plain_candidate",
    "stated_unit",
    "unit_by_owner",
    "with_meaning",
]

STOICHIOMETRIC = 14.7
"""Air-fuel ratio that loggers print for lambda 1, whatever the fuel (common practice, no source)."""

USED = 0.5
"""Confidence from which a column is used under the name of a channel."""

_MOVING = frozenset(
    {
        *("engine_speed", "vehicle_speed", "pedal_position", "throttle_position", "manifold_pressure"),
        *("charge_pressure", "air_mass_flow", "lambda", "ignition_timing", "wastegate_duty", "injector_duty"),
        *("engine_load", "engine_torque", "turbo_speed", "longitudinal_acceleration"),
    }
)


@dataclass(frozen=True, slots=True)
class Candidate:
    """A channel that a column may be.

    `values * scale + offset` is the column in the canonical unit. `unit` is what the file is taken to use.
    `gauge_kpa` is the ambient pressure that the offset holds, where gauge pressure was turned into absolute.
    """

    column: int
    channel: str
    score: float
    unit: Unit
    scale: float
    offset: float
    gauge_kpa: float | None = None
    evidence: tuple[str, ...] = ()
    doubts: tuple[str, ...] = ()

    def but(self, factor: float, *, doubt: str | None = None, evidence: str | None = None) -> "Candidate":
        """The same with its confidence multiplied, and what was found out added."""
        return replace(
            self,
            score=min(0.99, self.score * factor),
            doubts=(*self.doubts, doubt) if doubt else self.doubts,
            evidence=(*self.evidence, evidence) if evidence else self.evidence,
        )


@dataclass(frozen=True, slots=True)
class Looked:
    """A column as recognition sees it. `samples` (k,) are its values at the instants of `samples.instants`."""

    index: int
    recorded: Recorded
    header: Header
    meanings: tuple[Meaning, ...]
    samples: Array

    @property
    def filled(self) -> bool:
        """Whether it holds any value at all."""
        return bool(np.isfinite(self.samples).any())


def look_at(index: int, recorded: Recorded, samples: Array) -> Looked:
    """Take a column's header apart and keep it together with its samples."""
    header = understand(recorded.header, recorded.unit)
    return Looked(index, recorded, header, meanings(header), samples)


def stated_unit(looked: Looked, channel: str) -> Unit | None:
    """The unit that the file gives; a last word that would be a wrong unit is not counted as one."""
    unit = looked.header.unit
    if unit is None or looked.header.unit_is_certain:
        return unit
    allowed = {UNITS[name].dimension for name in vocabulary().channels[channel_of(channel)].units}
    return unit if unit.dimension in allowed else None


def plain_candidate(looked: Looked, meaning: Meaning, house_units: frozenset[str]) -> Candidate | str:
    """The candidate of a meaning that needs no other channel to be judged; a sentence where it cannot be."""
    stated = stated_unit(looked, meaning.channel)
    if meaning.channel in ("lambda", "lambda_target"):
        return _mixture(looked, meaning, stated)
    if meaning.channel == "ignition_timing" and stated is not None and stated.name == "%":
        return _share_of_byte(looked, meaning, stated)
    hidden = hidden_scale(meaning.channel, stated, looked.samples)
    choice = hidden or choose_unit(meaning.channel, stated, looked.samples, house_units)
    if isinstance(choice, str):
        return choice
    candidate = _candidate(looked, meaning, choice)
    if channel_of(meaning.channel) == "knock_retard":
        candidate = _positive_retard(looked, candidate)
    return checked_values(looked, candidate)


def _candidate(looked: Looked, meaning: Meaning, choice: UnitChoice) -> Candidate:
    canonical = UNITS[CHANNELS[channel_of(meaning.channel)].unit]
    open_question = vocabulary().channels[channel_of(meaning.channel)].weak_doubt if meaning.weak else None
    doubts = [doubt for doubt in (open_question, choice.doubt) if doubt]
    if meaning.unknown:
        doubts.append(f"nobody knows what {' and '.join(repr(word) for word in meaning.unknown)} means in its name")
    return Candidate(
        column=looked.index,
        channel=meaning.channel,
        score=min(0.99, meaning.score * choice.weight * (0.75 if open_question else 1.0)),
        unit=choice.unit,
        scale=choice.unit.factor / canonical.factor,
        offset=(choice.unit.offset - canonical.offset) / canonical.factor,
        evidence=(f'its name "{looked.recorded.header}"', choice.evidence),
        doubts=tuple(doubts),
    )


def with_meaning(looked: Looked, meaning: Meaning, choice: UnitChoice) -> Candidate:
    """A candidate whose unit was chosen elsewhere; its conversion is plain."""
    return _candidate(looked, meaning, choice)


def checked_values(looked: Looked, candidate: Candidate) -> Candidate:
    """The candidate after a look at its values: outside what a sound sensor gives, or never moving."""
    known = looked.samples[np.isfinite(looked.samples)]
    if not known.size:
        return candidate.but(0.5, doubt="it holds no values")
    lost = looked.recorded.unreadable / max(1, looked.recorded.rows)
    if lost > 0.01:
        line, text = looked.recorded.first_unreadable or (0, "")
        candidate = candidate.but(
            0.4 if lost > 0.5 else 0.9,
            doubt=f'{lost:.0%} of its cells are no numbers, the first is "{text.strip()[:40]}" in line {line}',
        )
    values = known * candidate.scale + candidate.offset
    low, high = CHANNELS[channel_of(candidate.channel)].plausible
    outside = float(np.mean((values < low) | (values > high)))
    if outside > 0.02:
        unit = CHANNELS[channel_of(candidate.channel)].unit
        return candidate.but(
            0.6,
            doubt=f"{outside:.0%} of its values lie outside {low:g} to {high:g} {unit}, which is implausible",
        )
    candidate = _end_of_range(candidate, known)
    if candidate.channel in _MOVING and known.size > 100 and np.ptp(known) == 0:
        return candidate.but(0.7, doubt=f"it reads {known[0]:g} all through, so the sensor may not be connected")
    return candidate


def _end_of_range(candidate: Candidate, known: Array) -> Candidate:
    """A doubt where values stand at the most that the bytes of SAE J1979 can say: what was above is cut off."""
    if candidate.channel not in ("manifold_pressure", "air_mass_flow"):
        return candidate
    most = next(entry.largest for entry in vocabulary().parameters if entry.channel == candidate.channel)
    values = known * candidate.scale + candidate.offset
    at_the_end = np.abs(values - most) < 1e-6 * most
    if values.max() > 1.001 * most or np.count_nonzero(at_the_end) < 3:
        return candidate
    unit = CHANNELS[candidate.channel].unit
    return candidate.but(0.9, doubt=f"it stands at {most:g} {unit}, the most that SAE J1979 can say: more was cut off")


def _mixture(looked: Looked, meaning: Meaning, stated: Unit | None) -> Candidate | str:
    """Lambda or air-fuel ratio: the values tell, whatever the header says."""
    if stated is not None and stated.dimension not in ("mixture", "air-fuel ratio", "number"):
        return f"it is in {stated.name}, which is no unit of {meaning.channel}"
    known = looked.samples[np.isfinite(looked.samples)]
    middle = float(np.median(known)) if known.size else float("nan")
    unit = UNITS["AFR"] if middle > 5 else UNITS["lambda"]
    says = stated if stated is not None and stated.dimension != "number" else None
    if says is None or says is unit:
        # Of a lambda and an air-fuel ratio in one log the lambda is taken: it needs no ratio of the fuel.
        weight = 1.08 if unit.name == "lambda" else 1.04
        choice = UnitChoice(unit, weight, f"values around {middle:.3g} are {unit.name}")
    else:
        choice = UnitChoice(
            unit, 0.8, f"values around {middle:.3g} are {unit.name}",
            f"the file says {says.name}, but values around {middle:.3g} are {unit.name}",
        )  # fmt: skip
    candidate = replace(_candidate(looked, meaning, choice), offset=0.0, scale=1.0)
    if unit.name == "AFR":
        candidate = replace(candidate, scale=1 / STOICHIOMETRIC)
    return checked_values(looked, candidate)


def _share_of_byte(looked: Looked, meaning: Meaning, stated: Unit) -> Candidate | str:
    """Ignition timing in per cent: the raw byte of SAE J1979 shown as a share of 255."""
    parameter = next(entry for entry in vocabulary().parameters if entry.channel == "ignition_timing")
    known = looked.samples[np.isfinite(looked.samples)]
    raw = known * 255 / 100
    if not known.size or float(np.mean(np.abs(raw - np.round(raw)) < 0.15)) < 0.9:
        return f"it is in {stated.name}, which is no unit of {meaning.channel}"
    choice = UnitChoice(
        stated,
        0.65,
        "its values are steps of 1/255, as the raw byte shown in per cent has",
        f"it is in %, taken as the byte of SAE J1979 shown in per cent (0 % is {parameter.physical(0):g} deg, "
        f"100 % is {parameter.physical(255):g} deg)",
    )
    scale = 255 / 100 * parameter.numerator / parameter.denominator
    return checked_values(looked, replace(_candidate(looked, meaning, choice), scale=scale, offset=parameter.offset))


def _positive_retard(looked: Looked, candidate: Candidate) -> Candidate:
    """Retard counts positive here; a column that only ever holds zero and less has the other sign."""
    known = looked.samples[np.isfinite(looked.samples)]
    below, above = bool(np.any(known < 0)), bool(np.any(known > 0))
    if below and not above:
        return replace(
            candidate.but(1.0, evidence="it is never positive, so negative means retarded"), scale=-candidate.scale
        )
    if below and above:
        return candidate.but(0.7, doubt="it holds both signs; positive was taken as retarded")
    return candidate


def house_units(columns: Sequence[Looked]) -> frozenset[str]:
    """Names of the units that the file states for any of its columns."""
    return frozenset(looked.header.unit.name for looked in columns if looked.header.unit is not None)


def is_canonical(header: str) -> bool:
    """Whether the header is a channel's own name."""
    return plain_text(header).strip() in CHANNELS


def unit_by_owner(text: str) -> tuple[Unit, float] | None:
    """Unit and stoichiometric ratio [1] that an owner wrote (`psi gauge`, `AFR 14.1`); None where it names none."""
    name, _, number = text.strip().partition(" ")
    if name.casefold() == "afr" and number:
        try:
            return UNITS["AFR"], float(number.replace(",", "."))
        except ValueError:
            return None
    unit = parse_unit(text)
    return None if unit is None else (unit, STOICHIOMETRIC)
