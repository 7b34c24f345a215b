"""The owner's word on a column, from the car sheet: it goes before everything that is found out."""

import difflib
from collections.abc import Mapping, Sequence
from dataclasses import replace

from pullproof.car import Car, ColumnRule
from pullproof.channels import CHANNELS
from pullproof.errors import WrongUse
from pullproof.reading.candidates import Candidate, Looked, unit_by_owner
from pullproof.reading.columns import Recorded
from pullproof.reading.naming import Meaning
from pullproof.reading.pressure_reference import Surroundings
from pullproof.reading.pressures import candidate_of
from pullproof.reading.unit_choice import channel_of
from pullproof.units import UNITS, Unit, convert, repair_text

__all__ = ["SAID_SO", "absent_columns", "owner_rules", "ruled_candidate"]

SAID_SO = "the car sheet says so"

HEADERS_SHOWN = 40
"""Headers that a note lists; a log of hundreds would drown it."""

BESIDE_THE_COMPRESSOR = ("compressor_inlet_pressure", "compressor_outlet_pressure")
"""Added sensors: no header tells how they count, and a guess of the wrong kind is off by the whole barometer."""


def owner_rules(columns: Sequence[Recorded], car: Car | None) -> dict[int, ColumnRule]:
    """The owner's word by index of the column; headers may be written as seen or with a broken degree sign repaired."""
    if car is None:
        return {}
    written: Mapping[str, ColumnRule] = {repair_text(header).strip(): rule for header, rule in car.columns.items()}
    found = {index: written.get(repair_text(column.header).strip()) for index, column in enumerate(columns)}
    return {index: rule for index, rule in found.items() if rule is not None and rule.channel != "time"}


def absent_columns(headers: Sequence[str], car: Car | None) -> tuple[str, ...]:
    """A note where the car sheet names columns that a log has not: another logger's, or a slip of the pen."""
    if car is None:
        return ()
    there = {repair_text(header).strip() for header in headers}
    absent = [header for header in car.columns if repair_text(header).strip() not in there]
    if not absent:
        return ()
    shown = ", ".join(f'"{header}"' for header in headers[:HEADERS_SHOWN])
    more = f" and {len(headers) - HEADERS_SHOWN} more" if len(headers) > HEADERS_SHOWN else ""
    named = ", ".join(f'"{header}"' for header in absent)
    return (f"[columns] of the car sheet names {named}, which this log does not have. Its headers are {shown}{more}.",)


def checked_rule(rule: ColumnRule, where: str) -> tuple[Unit, float] | None:
    """The unit that a rule names, with its ratio to the usual one; None where it leaves the unit open.

    Raises
    ------
    WrongUse
        The channel does not exist, or the unit is none of it; `where` is what the sentence calls the rule.
    """
    channel = rule.channel or ""
    if channel_of(channel) not in CHANNELS:
        near = difflib.get_close_matches(channel, CHANNELS, n=1)
        advice = f'Did you mean "{near[0]}"?' if near else f"Channels are: {', '.join(CHANNELS)}."
        raise WrongUse(f'channel "{channel}" does not exist', where=where, advice=advice)
    if channel in BESIDE_THE_COMPRESSOR and not _says_reference(rule.unit):
        raise WrongUse(
            f"{channel} needs its unit, and whether that counts from the air around or from vacuum",
            where=where,
            advice=f'Write it like "{channel}, kPa absolute" or "{channel}, psi gauge".',
        )
    if rule.unit is None:
        return None
    named = unit_by_owner(rule.unit)
    canonical = UNITS[CHANNELS[channel_of(channel)].unit]
    if named is None or not _suits(named[0], canonical, channel):
        raise WrongUse(
            f'unit "{rule.unit}" is no unit of {channel}',
            where=where,
            advice=f'Write it like "{channel}, {CHANNELS[channel_of(channel)].unit}".',
        )
    return named


def ruled_candidate(column: Looked, rule: ColumnRule, car: Car | None) -> Candidate:
    """The owner's word as a candidate that nothing beats; what the owner left open is found out as usual."""
    channel = rule.channel or ""
    where = f'car sheet of {car.name}, columns."{column.recorded.header}"' if car else column.recorded.header
    named = checked_rule(rule, where)
    if named is None:
        found = candidate_of(column, Meaning(channel, 0.99), Surroundings(), frozenset())
        if isinstance(found, str):
            raise WrongUse(
                f"{column.recorded.header} cannot be {channel}: {found}",
                where=where,
                advice='Add the unit, like "kPa gauge".',
            )
        return replace(found, score=0.99, evidence=("the car sheet names the channel", *found.evidence))
    unit, ratio = named
    canonical = UNITS[CHANNELS[channel_of(channel)].unit]
    return Candidate(
        column=column.index,
        channel=channel,
        score=1.0,
        unit=unit,
        scale=1 / ratio if unit.name == "AFR" else unit.factor / canonical.factor,
        offset=0.0 if unit.name in ("AFR", "lambda") else convert(0.0, replace(unit, reference=""), canonical),
        evidence=(SAID_SO,),
    )


def _says_reference(unit: str | None) -> bool:
    named = unit_by_owner(unit) if unit is not None else None
    return named is not None and named[0].reference != ""


def _suits(unit: Unit, canonical: Unit, channel: str) -> bool:
    if channel in ("lambda", "lambda_target"):
        return unit.dimension in ("mixture", "air-fuel ratio", "number")
    return unit.dimension == canonical.dimension
