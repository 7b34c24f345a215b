"""In what unit a column is: as the file says, else the one that its values allow.

A column that says nothing of its unit is doubtful unless only one unit makes sense of its values.
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import CHANNELS
from pullproof.reading.vocabulary import vocabulary
from pullproof.units import UNITS, Unit, convert

__all__ = ["UnitChoice", "channel_of", "choose_unit", "fits", "hidden_scale"]

ENOUGH = 0.97


@dataclass(frozen=True, slots=True)
class UnitChoice:
    """A unit and how sure it is.

    `weight` multiplies the confidence that the words give. `doubt` says what is uncertain, if anything is.
    """

    unit: Unit
    weight: float
    evidence: str
    doubt: str | None = None


def channel_of(name: str) -> str:
    """The channel without the number of a cylinder: `knock_retard_3` is a `knock_retard`."""
    return name if name in CHANNELS else name.rstrip("0123456789").removesuffix("_")


def fits(values: Array, unit: Unit, channel: str) -> float:
    """Share of the values [unit] that lie where values of the channel usually do. [1]"""
    usual = vocabulary().channels[channel_of(channel)].usual
    known = values[~np.isnan(values)]
    if usual is None or not known.size:
        return 0.0
    base = (
        convert(known, unit, UNITS[CHANNELS[channel_of(channel)].unit])
        if unit.dimension != "air-fuel ratio"
        else known / 14.7
    )
    return float(np.mean((base >= usual[0]) & (base <= usual[1])))


def choose_unit(channel: str, stated: Unit | None, values: Array, house_units: frozenset[str]) -> UnitChoice | str:
    """The unit of a column that is taken for a channel.

    Parameters
    ----------
    stated : Unit or None
        What the file says.
    values : (k,)
        Some of its values. [unstated]
    house_units : set of str
        Names of units that other columns of the file state; loggers keep to one system.

    Returns
    -------
    UnitChoice, or str
        A sentence that says why the column cannot be this channel.
    """
    words = vocabulary().channels[channel_of(channel)]
    allowed = {UNITS[name].dimension for name in words.units}
    if stated is not None and stated.dimension in allowed:
        return UnitChoice(stated, 1.08, f"the file says {stated.name}")
    if stated is not None and not _says_nothing(stated, allowed):
        return f"it is in {stated.name}, which is no unit of {channel}"
    options = [UNITS[name] for name in words.units]
    return _by_values(channel, options, values, house_units)


def hidden_scale(channel: str, stated: Unit | None, values: Array) -> UnitChoice | None:
    """Engine speed in thousands, or a share from 0 to 1, which no header tells and the values do; None where not."""
    known = values[~np.isnan(values)]
    most = float(known.max()) if known.size else 0.0
    if channel == "engine_speed" and 0.4 < most < 20:
        unit = UNITS["rpm x1000"]
    elif stated is None and CHANNELS[channel_of(channel)].unit == "%" and 0.5 < most <= 1.0 and known.min() >= 0:
        unit = Unit("fraction", "share", 100.0)
    else:
        return None
    sentence = f"values up to {most:.3g} were taken as {unit.name}"
    return UnitChoice(unit, 0.8, sentence, sentence)


def _says_nothing(stated: Unit, allowed: set[str]) -> bool:
    """A plain number, or the bare degree sign over a temperature."""
    return stated.dimension == "number" or (stated.name == "deg" and "temperature" in allowed)


def _by_values(channel: str, options: list[Unit], values: Array, house_units: frozenset[str]) -> UnitChoice:
    shares = {unit.name: fits(values, unit, channel) for unit in options}
    fitting = [unit for unit in options if shares[unit.name] >= ENOUGH]
    known = values[~np.isnan(values)]
    span = f"{known.min():.4g} to {known.max():.4g}" if known.size else "none"
    if not fitting:
        best = max(options, key=lambda unit: shares[unit.name])
        return UnitChoice(
            best, 0.6, f"no unit is given and the values ({span}) fit none", f"it has no unit and values of {span}"
        )
    if len(options) == 1:
        return UnitChoice(options[0], 1.0, f"no unit is given; values of {span} fit {options[0].name}")
    at_home = [unit for unit in fitting if unit.name in house_units]
    chosen = (at_home or fitting)[0]
    others = ", ".join(unit.name for unit in fitting if unit is not chosen)
    if not others:
        return UnitChoice(chosen, 0.95, f"no unit is given; values of {span} only fit {chosen.name}")
    house = " like the other columns" if at_home else ""
    return UnitChoice(
        chosen,
        0.85,
        f"no unit is given; taken as {chosen.name}{house}",
        f"it has no unit; taken as {chosen.name}{house}, and values of {span} would fit {others} too",
    )
