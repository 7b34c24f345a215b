"""Fairness checks that hold a number of one side against the same number of the other.

Each `Quantity` names what is read from a pull, how far apart the sides may be, and what to record where the log does
not show it. The limits are common practice, no source.
"""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.comparison.covariates import CHARGE_TEMPERATURES, value_at_start, vapour_pressure
from pullproof.analysis.comparison.evidence import Evidence
from pullproof.analysis.comparison.priors import load_priors
from pullproof.analysis.comparison.result import FairnessCheck
from pullproof.analysis.comparison.wording import Digits, capitalised
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer
from pullproof.measures import read_measure
from pullproof.timebase import cut, value_at

__all__ = ["QUANTITIES", "Quantity", "check_quantity"]

Window = tuple[float, float]
SIGN_OF_RETARD = -1.0


@dataclass(frozen=True, slots=True)
class Quantity:
    """Something that should be alike on both sides.

    `read` gives the value of one pull, None where it is not known. `warn` and `fail` are differences of the sides'
    means. `covariate` is what the model may have taken out; `effect` and `per` turn a difference into what it could
    explain, as `Evidence.explains` counts it.
    """

    id: str
    label: str
    unit: str
    read: Callable[[PullRecord, Window], float | None]
    warn: float
    fail: float
    advice: str
    covariate: str = ""
    effect: str = ""
    per: float = 1.0
    all_of_it: bool = False
    """A failed check makes the sides incomparable."""


def check_quantity(quantity: Quantity, evidence: Evidence) -> FairnessCheck:
    """Hold the means of the two sides against each other."""
    if quantity.covariate == "boost" and (reason := _boost_is_the_answer(evidence)):
        return FairnessCheck(quantity.id, "pass", reason)
    pulls = evidence.pulls
    before, after = (_values(quantity, evidence, after=late) for late in (False, True))
    if not before or not after:
        return _unknown(quantity, evidence, known=bool(before or after))
    low, high = float(np.mean(before)), float(np.mean(after))
    moved = high - low
    status = _status(abs(moved), quantity)
    taken_out = quantity.covariate in pulls.covariates.columns and any(
        quantity.covariate in known for known in evidence.per_unit.values()
    )
    incomparable = quantity.all_of_it and status == "fail"
    explained = evidence.explains_all() if incomparable else _explained(quantity, evidence, moved)
    return FairnessCheck(
        id=quantity.id,
        status=status,
        detail=_detail(quantity, low, high, status, taken_out=taken_out),
        could_explain=explained,
        accounted_for=taken_out,
        incomparable=incomparable,
    )


def _boost_is_the_answer(evidence: Evidence) -> str:
    """Why boost need not be alike; empty where it must."""
    if evidence.pulls.covariates.at_the_stop:
        return "The wastegate sat at its stop, so boost is a result of the change and not held against it."
    if evidence.main.startswith("boost"):
        return "Boost is what is compared, so it is not held equal."
    return ""


def _values(quantity: Quantity, evidence: Evidence, *, after: bool) -> list[float]:
    """What the model used, where it used it of every pull; else what each pull shows."""
    pulls = evidence.pulls
    if quantity.covariate in pulls.covariates.known:
        return [float(value) for value in pulls.covariates.known[quantity.covariate][pulls.after == after]]
    read = (quantity.read(record, pulls.window) for record in pulls.side(after=after))
    return [value for value in read if value is not None]


def _explained(quantity: Quantity, evidence: Evidence, moved: float) -> dict[str, float]:
    """By the column that the model counts, where there is one; else by the difference that was read."""
    pulls = evidence.pulls
    column = pulls.covariates.columns.get(quantity.covariate)
    if column is None:
        return evidence.explains(quantity.effect or quantity.covariate, moved * quantity.per)
    acts_as = pulls.covariates.acts_as.get(quantity.covariate, quantity.covariate)
    return evidence.explains(acts_as, float(column[pulls.after].mean() - column[~pulls.after].mean()))


def _status(apart: float, quantity: Quantity) -> Literal["pass", "warn", "fail"]:
    if apart >= quantity.fail:
        return "fail"
    return "warn" if apart >= quantity.warn else "pass"


def _detail(quantity: Quantity, low: float, high: float, status: str, *, taken_out: bool) -> str:
    digits, unit = Digits(quantity.warn), quantity.unit
    said = (
        f"{capitalised(quantity.label)} was {digits.with_unit(low, unit)} before and "
        f"{digits.with_unit(high, unit)} after"
    )
    if status == "pass":
        return f"{said}."
    apart = digits.with_unit(abs(high - low), "K" if unit == "degC" else unit)
    consequence = (
        "this is taken out of the difference, doubt included"
        if taken_out
        else "this is not taken out of the difference"
    )
    return f"{said}, {apart} apart; {consequence}."


def _unknown(quantity: Quantity, evidence: Evidence, *, known: bool) -> FairnessCheck:
    """Not known on a side: what it may have done, where the model had to widen the interval for it."""
    where = "on one side" if known else "of these pulls"
    detail = (
        f"{capitalised(quantity.label)} is not known {where}, so nobody can say that it was alike; {quantity.advice}."
    )
    explained: dict[str, float] = {}
    if (
        quantity.covariate in evidence.pulls.covariates.missing
        and quantity.covariate in evidence.pulls.covariates.acts_as.values()
    ):
        detail = f"{detail[:-1]}. The charge temperature at the start stands in for it."
    elif quantity.covariate in evidence.pulls.covariates.widening:
        covariate = load_priors().covariates[quantity.covariate]
        days = evidence.pulls.day
        same_day = set(days[evidence.pulls.after]) == set(days[~evidence.pulls.after])
        spread = covariate.pull if same_day else covariate.day
        explained = evidence.explains(quantity.covariate, spread, unknown=True)
        if explained:
            detail = f"{detail[:-1]}. The interval is wider for it."
    return FairnessCheck(quantity.id, "warn", detail, explained)


def _mean(channel: str, scale: float = 1.0) -> Callable[[PullRecord, Window], float | None]:
    """Mean of a channel's own samples while the engine passes the window."""

    def read(record: PullRecord, window: Window) -> float | None:
        trace, engine = record.traces.get(channel), record.traces.get("engine_speed")
        if trace is None or engine is None:
            return None
        part = cut(trace, record.pull.start_s, record.pull.end_s)
        speed = value_at(engine, part.time)
        values = part.values[(speed >= window[0]) & (speed <= window[1]) & np.isfinite(part.values)]
        return float(values.mean()) * scale if values.size else None

    return read


def _start(*channels: str) -> Callable[[PullRecord, Window], float | None]:
    def read(record: PullRecord, window: Window) -> float | None:
        del window
        return next((value for name in channels if (value := value_at_start(record, name)) is not None), None)

    return read


def _shortfall(record: PullRecord, window: Window) -> float | None:
    target = _mean("charge_pressure_target")(record, window)
    reached = _mean("charge_pressure")(record, window)
    if reached is None:
        reached = _mean("manifold_pressure")(record, window)
    return None if target is None or reached is None else target - reached


def _boost(record: PullRecord, window: Window) -> float | None:
    try:
        return read_measure("boost.mean", record, window).value
    except CannotAnswer:
        return None


LOG_IT = "log it next time"
WRITE_IT_DOWN = "write it into the conditions file"

QUANTITIES = (
    Quantity("boost_matched", "mean boost", "kPa", _boost, 1.0, 4.0, LOG_IT, covariate="boost"),
    Quantity(
        "boost_on_target", "charge pressure short of its target", "kPa", _shortfall, 2.0, 5.0,
        "log charge pressure and its target next time",
    ),
    Quantity("pedal", "pedal", "%", _mean("pedal_position"), 1.0, 3.0, LOG_IT, all_of_it=True),
    Quantity("throttle", "throttle", "%", _mean("throttle_position"), 1.5, 5.0, LOG_IT, all_of_it=True),
    Quantity(
        "start_speed", "engine speed at full pedal", "rpm", lambda record, _: record.pull.rpm_start, 150.0, 500.0,
        LOG_IT, covariate="start_speed",
    ),
    Quantity(
        "ambient_temperature", "air temperature", "degC", lambda record, _: record.air.temperature_c, 3.0, 10.0,
        WRITE_IT_DOWN, covariate="air_temperature",
    ),
    Quantity(
        "ambient_pressure", "air pressure", "kPa", lambda record, _: record.air.pressure_kpa, 0.5, 2.0,
        WRITE_IT_DOWN, covariate="air_pressure",
    ),
    Quantity(
        "humidity", "humidity, as vapour pressure,", "kPa", lambda record, _: vapour_pressure(record), 0.4, 1.2,
        "write the relative humidity into the conditions file", covariate="humidity",
    ),
    Quantity(
        "charge_temperature_start", "charge temperature at the start", "degC", _start(*CHARGE_TEMPERATURES), 3.0, 10.0,
        LOG_IT, covariate="charge_temperature_start",
    ),
    Quantity(
        "coolant_temperature_start", "coolant temperature at the start", "degC", _start("coolant_temperature"), 4.0,
        12.0, LOG_IT,
    ),
    Quantity(
        "oil_temperature_start", "oil temperature at the start", "degC", _start("oil_temperature"), 6.0, 15.0, LOG_IT
    ),
    Quantity("ignition", "ignition timing", "deg", _mean("ignition_timing"), 0.5, 1.5, LOG_IT, effect="ignition"),
    Quantity(
        "knock", "knock retard", "deg", _mean("knock_retard"), 0.4, 1.5, LOG_IT, effect="ignition", per=SIGN_OF_RETARD
    ),
    Quantity("lambda", "lambda", "", _mean("lambda"), 0.01, 0.03, LOG_IT, effect="lambda", per=100.0),
)  # fmt: skip
