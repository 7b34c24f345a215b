"""What can only be said once all columns have been given out.

The sense of a duty, the ratio behind an air-fuel ratio, and the air under a gauge pressure that the owner named.
"""

from collections.abc import Sequence
from dataclasses import replace

from pullproof.car import Car
from pullproof.reading import agreement
from pullproof.reading.candidates import Candidate, Looked
from pullproof.reading.cross_checks import canonical_samples
from pullproof.reading.owner import SAID_SO
from pullproof.reading.pressures import REFERENCED, surroundings
from pullproof.reading.wastegate_sense import duty_sense
from pullproof.units import UNITS

__all__ = ["settled"]


def settled(candidate: Candidate, looked: Sequence[Looked], taken: Sequence[Candidate], car: Car | None) -> Candidate:
    """What can only be said once all columns have been given out: the sense of a duty, the fuel behind a ratio."""
    if candidate.channel == "wastegate_duty":
        return _closed_is_100(candidate, looked, taken, car)
    if candidate.unit.name == "AFR" and SAID_SO not in candidate.evidence:
        return _by_logger_ratio(candidate, looked, car)
    if candidate.channel in REFERENCED and SAID_SO in candidate.evidence:
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
    found = {other.channel: canonical_samples(other, looked) for other in taken}
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
    air = surroundings(taken, looked).air
    oil = candidate.channel == "oil_pressure"
    gauge = candidate.unit.reference == "gauge"
    if gauge is oil:
        return candidate
    return replace(candidate, offset=-air if oil else air, gauge_kpa=None if oil else air)
