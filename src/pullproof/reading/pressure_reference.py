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

    `ambient_kpa` is the median of the log's own ambient pressure. `pedal` [%] is the pedal, or the throttle. `boost`
    is the reference of the measured boost, which a target beside it shares.
    """

    engine_speed: Array | None = None
    pedal: Array | None = None
    ambient_kpa: float | None = None
    boost: Reference = ""

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
        `manifold` (after the throttle), `charge` (before it), `boost` (one of the two), `target` (of a boost
        controller) or `closed` (an oil circuit).
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
    if float(np.quantile(known, 0.01)) < -3 or known.min() < -8:
        return Judgement("gauge", 0.98, f"it falls to {known.min():.3g} kPa, and absolute pressure cannot be negative")
    if where == "target":
        found = _as_measured(around) or _by_lowest(known, where, around)
    else:
        found = (
            _standing_engine(values, around)
            or _full_load(values, where, around)
            or _closed_throttle(values, where, around)
            or _by_lowest(known, where, around)
        )
    if found is not None and found.reference != said != "":
        if outright:
            return Judgement(said, 0.75, f"its name says {said}, though {found.evidence}")
        return Judgement(found.reference, 0.97 * found.certainty, f"{found.evidence}, though its name says {said}")
    if found is not None:
        return found
    if said:
        return Judgement(said, 0.9 if outright else 0.7, f"its name says {said}; its values could be either")
    return Judgement("absolute", 0.4, f"its values (from {known.min():.3g} kPa) could be either")


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


def _closed_throttle(values: Array, where: str, around: Surroundings) -> Judgement | None:
    """Behind a closed throttle a running engine draws a vacuum: absolute pressure far below ambient, not below zero."""
    if around.pedal is None or around.engine_speed is None or where not in ("manifold", "boost"):
        return None
    closed = values[(around.pedal < np.nanmin(around.pedal) + 10) & (around.engine_speed > 500) & ~np.isnan(values)]
    if closed.size < 20:
        return None
    middle = float(np.median(closed))
    if 12 < middle < 0.8 * around.air:
        return Judgement(
            "absolute", 0.95, f"it shows {middle:.3g} kPa with the throttle closed, a vacuum in absolute terms"
        )
    return None


def _as_measured(around: Surroundings) -> Judgement | None:
    """A target counts from where the measured pressure of the same controller counts."""
    if not around.boost:
        return None
    return Judgement(around.boost, 0.9, f"the measured boost beside it is {around.boost}")


def _by_lowest(known: Array, where: str, around: Surroundings) -> Judgement | None:
    """What the lowest values say, in kPa as the file has them."""
    low, high = float(np.quantile(known, 0.01)), float(known.max())
    falls = f"it falls to {low:.3g} kPa"
    if where == "closed":
        return Judgement("gauge", 0.7, falls) if low < 60 else None
    if low <= 8 or (low <= 15 and where != "manifold"):
        return Judgement("gauge", 0.92, f"{falls}, lower than air in an intake tract is in absolute terms")
    if where == "target":
        return Judgement("absolute", 0.85, f"{falls} and no lower") if low > 0.5 * around.air else None
    if low >= 0.75 * around.air:
        at_rest = abs(low - around.air) < (12 if where == "charge" else 18)
        return Judgement(
            "absolute", 0.93 if at_rest else 0.6, f"its lowest values are {low:.4g} kPa, near the air around"
        )
    if where == "manifold" and low >= 12:
        return Judgement("absolute", 0.9, f"{falls} and never below, a vacuum in absolute terms")
    if where == "boost" and low >= 12 and high > 0.9 * around.air:
        return Judgement("absolute", 0.75, f"{falls} and rises to {high:.3g} kPa")
    return None


def goes_below_ambient(values: Array, reference: Reference, around: Surroundings) -> bool:
    """A pressure [kPa] that falls far below the air around is taken after the throttle, whatever its name says."""
    known = values[~np.isnan(values)]
    if not known.size:
        return False
    zero = 0.0 if reference == "gauge" else around.air
    return float(np.quantile(known, 0.02)) < zero - 0.2 * around.air
