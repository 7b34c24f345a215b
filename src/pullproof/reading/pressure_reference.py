"""Gauge or absolute: whether a pressure counts from the air around or from vacuum.

Nothing that a log says is confused more often, and 100 kPa of error look like a strong engine. Physics decides where
it can: absolute pressure is never negative, air before the throttle is never far below the air around, air behind a
closed throttle is, and an engine that stands shows the barometer or zero. Words decide where physics does not, and
then the column is doubtful.
"""

from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.units import Reference

__all__ = ["Judgement", "Surroundings", "goes_below_ambient", "judge_reference"]

STANDARD_KPA = 101.325


@dataclass(frozen=True, slots=True)
class Surroundings:
    """What other columns of the log say at the same instants, (k,) each or None.

    `ambient_kpa` is the median of the log's own ambient pressure. `pedal` [%] is the pedal, or the throttle.
    """

    engine_speed: Array | None = None
    pedal: Array | None = None
    ambient_kpa: float | None = None

    @property
    def air(self) -> float:
        """Ambient pressure, the standard one where the log has none. [kPa]"""
        return STANDARD_KPA if self.ambient_kpa is None else self.ambient_kpa


@dataclass(frozen=True, slots=True)
class Judgement:
    """A reference, how sure it is (0 to 1), and what speaks for it."""

    reference: Reference
    certainty: float
    evidence: str


def judge_reference(
    values: Array, where: str, said: Reference, around: Surroundings, *, outright: bool = False
) -> Judgement:
    """Decide between gauge and absolute.

    Parameters
    ----------
    values : (k,)
        Pressures at some instants, as numbers of the file. [kPa]
    where : str
        `manifold` (after the throttle), `charge` (before it) or `closed` (oil and fuel circuits).
    said : Reference
        What header words suggest; empty where they suggest nothing.
    outright : bool
        The header says so in as many words, rather than by a word like boost.
    around : Surroundings
        The other channels at the same instants.
    """
    known = values[~np.isnan(values)]
    if not known.size:
        return Judgement(said or "absolute", 0.3, "the column is empty")
    low = float(np.quantile(known, 0.01))
    if low < -3 or known.min() < -8:
        return Judgement("gauge", 0.98, f"it falls to {known.min():.3g} kPa, and absolute pressure cannot be negative")
    found = _standing_engine(values, around) or _full_load(values, where, around)
    if found is None:
        found = _closed_circuit(low) if where == "closed" else _by_lowest(low, where, around)
    if found is not None and found.reference != said != "":
        if outright:
            return Judgement(said, 0.75, f"its name says {said}, though {found.evidence}")
        return Judgement(found.reference, 0.7 * found.certainty, f"{found.evidence}, though its name says {said}")
    if found is not None:
        return found
    if said:
        return Judgement(said, 0.9 if outright else 0.7, f"its name says {said}; its values could be either")
    return Judgement("absolute", 0.4, f"its values (from {low:.3g} kPa) could be either")


def _standing_engine(values: Array, around: Surroundings) -> Judgement | None:
    """With the engine standing, an absolute sensor shows the barometer and a gauge sensor zero."""
    if around.engine_speed is None:
        return None
    standing = values[(around.engine_speed < 50) & ~np.isnan(values)]
    if standing.size < 3:
        return None
    middle = float(np.median(standing))
    if abs(middle) < 8:
        return Judgement("gauge", 0.95, f"it shows {middle:.3g} kPa with the engine standing")
    if abs(middle - around.air) < (8 if around.ambient_kpa is not None else 25):
        return Judgement("absolute", 0.95, f"it shows {middle:.4g} kPa with the engine standing")
    return None


def _full_load(values: Array, where: str, around: Surroundings) -> Judgement | None:
    """At full pedal the intake tract holds about the air around, or more; absolute pressure cannot be far below."""
    if around.pedal is None or where == "closed":
        return None
    full = values[(around.pedal > 90) & ~np.isnan(values)]
    if full.size < 5:
        return None
    middle = float(np.median(full))
    if middle < 0.6 * around.air:
        return Judgement("gauge", 0.9, f"it shows {middle:.3g} kPa at full pedal, too little for absolute pressure")
    return None


def _closed_circuit(low: float) -> Judgement | None:
    return Judgement("gauge", 0.7, f"it falls to {low:.3g} kPa") if low < 60 else None


def _by_lowest(low: float, where: str, around: Surroundings) -> Judgement | None:
    if where == "charge" and low <= 15:
        return Judgement(
            "gauge", 0.93, f"it falls to {low:.3g} kPa, which air before a throttle never does in absolute terms"
        )
    if where == "charge" and low >= 0.75 * around.air:
        at_rest = abs(low - around.air) < 12
        return Judgement(
            "absolute", 0.93 if at_rest else 0.6, f"its lowest values are {low:.4g} kPa, near the air around"
        )
    if where == "manifold" and low <= 8:
        return Judgement("gauge", 0.9, f"it falls to {low:.3g} kPa, deeper than any engine draws in absolute terms")
    if where == "manifold" and 12 <= low <= 0.9 * around.air:
        return Judgement("absolute", 0.9, f"it falls to {low:.3g} kPa with the throttle closed and never below")
    if where == "manifold" and low <= 1.15 * around.air:
        return Judgement("absolute", 0.85, f"its lowest values are {low:.4g} kPa, near the air around")
    return None


def goes_below_ambient(values: Array, reference: Reference, around: Surroundings) -> bool:
    """A pressure [kPa] that falls far below the air around is taken after the throttle, whatever its name says."""
    known = values[~np.isnan(values)]
    if not known.size:
        return False
    zero = 0.0 if reference == "gauge" else around.air
    return float(np.quantile(known, 0.02)) < zero - 0.2 * around.air
