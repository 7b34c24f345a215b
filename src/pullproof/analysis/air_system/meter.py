"""Air meter against speed-density: a change of their ratio is a change of reading, not of air.

The calibration of an air meter belongs to the bore of its housing and to the pipe before it. A new inlet pipe changes
what it reads without changing what the engine gets; pressure and temperature in the manifold tell the two apart.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from pullproof.analysis.air_system.flow import filling_from_meter, metered_flow
from pullproof.analysis.air_system.scene import look
from pullproof.analysis.comparison.window import choose_window
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import rpm_grid
from pullproof.errors import CannotAnswer
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import TypicalScatter

__all__ = ["MeterCheck", "meter_check"]

DAY = TypicalScatter(median=1.5, doubt=0.4)
RUN = TypicalScatter(median=0.8, doubt=0.5)
"""Usual scatter of the ratio between days and between pulls, in per cent. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class MeterCheck:
    """Meter over speed-density in two sets of pulls. The ratio is the volumetric efficiency that the meter implies."""

    ratio_before: float
    """Mean over the window. [1]"""
    ratio_after: float
    change_pct: float
    """After over before, in per cent."""
    interval_pct: tuple[float, float]
    level: float
    window_rpm: tuple[float, float]
    pulls_before: int
    pulls_after: int
    days: int
    changed: bool
    """Whether the interval excludes zero."""
    statement: str
    doubts: tuple[str, ...]


def meter_check(
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    car: Car,
    *,
    window: tuple[float, float] | None = None,
    level: float = 0.95,
) -> MeterCheck:
    """Did the air meter's reading change against pressure, temperature and engine speed?

    Parameters
    ----------
    before, after : sequence of PullRecord
        Two builds, or two sets of days.
    car : Car
        Displacement and redline are used; a wrong displacement cancels.
    window : (float, float), optional
        Engine speeds that the mean is taken over; as in a comparison without it. [rpm]
    level : float
        Probability that the interval holds the true change. [1]

    Raises
    ------
    CannotAnswer
        A side has no pull with air meter, pressure and displacement, or the pulls share no window.
    WrongUse
        The window makes no sense.
    """
    chosen = choose_window(before, after, car, window)
    channel = _shared_pressure((*chosen.before, *chosen.after))
    logs, days, late = [], [], []
    refused: list[CannotAnswer] = []
    for side, records in ((0.0, chosen.before), (1.0, chosen.after)):
        for record in records:
            try:
                logs.append(np.log(_ratio(record, car, channel, chosen.window)))
            except CannotAnswer as error:
                refused.append(error)
                continue
            days.append(record.day)
            late.append(side)
    side_of = np.array(late)
    if not (side_of == 0.0).any() or not (side_of == 1.0).any():
        reason = refused[-1] if refused else CannotAnswer("no pull")
        raise CannotAnswer(f"the air meter cannot be checked: {reason.what}", where=reason.where, advice=reason.advice)
    values = 100.0 * np.array(logs)
    group = np.unique(days, return_inverse=True)[1].astype(np.intp)
    design = Design(np.column_stack([np.ones_like(side_of), side_of - 0.5]), group, np.zeros(2), np.full(2, np.inf))
    change = fit(values, design, DAY, RUN).contrast(np.array([0.0, 1.0]))
    middle, lower, upper = (float(_per_cent(part[0])) for part in (change.mean(), *change.interval(level)))
    changed = not lower <= 0.0 <= upper
    return MeterCheck(
        ratio_before=float(np.exp(np.mean(values[side_of == 0.0]) / 100.0)),
        ratio_after=float(np.exp(np.mean(values[side_of == 1.0]) / 100.0)),
        change_pct=middle,
        interval_pct=(lower, upper),
        level=level,
        window_rpm=chosen.window,
        pulls_before=int(np.count_nonzero(side_of == 0.0)),
        pulls_after=int(np.count_nonzero(side_of == 1.0)),
        days=len(set(days)),
        changed=changed,
        statement=_statement(middle, lower, upper, level, changed=changed),
        doubts=(*chosen.doubts, *_doubts(len(refused), refused)),
    )


def _per_cent(log_per_cent: float) -> float:
    return 100.0 * float(np.expm1(log_per_cent / 100.0))


def _shared_pressure(records: Sequence[PullRecord]) -> str:
    """One pressure for both sides: a change of sensor must not look like a change of the meter."""
    for channel in ("manifold_pressure", "charge_pressure"):
        if all(channel in record.traces for record in records):
            return channel
    raise CannotAnswer(
        "the air meter cannot be checked: neither manifold pressure nor charge pressure is logged in every pull",
        advice="Compare logs that have the same pressure.",
    )


def _ratio(record: PullRecord, car: Car, channel: str, window: tuple[float, float]) -> float:
    """Mean over the window of meter over speed-density. [1]"""
    wanted = {name: trace for name, trace in record.traces.items() if name == channel or not name.endswith("_pressure")}
    scene = look(replace(record, traces=wanted), car, rpm_grid(*window))
    ratio = filling_from_meter(scene, metered_flow(scene)).value
    if np.count_nonzero(np.isfinite(ratio)) < 0.8 * ratio.size:
        raise CannotAnswer("air flow, pressure and temperature do not cover the window", where=record.pull.log)
    return float(np.nanmean(ratio))


def _statement(middle: float, lower: float, upper: float, level: float, *, changed: bool) -> str:
    span = f"{100 * level:g} % interval {lower:+.1f} to {upper:+.1f} %"
    if not changed:
        return f"The air meter reads {middle:+.1f} % against speed-density ({span}): no change of its reading shows."
    more = "more" if middle > 0.0 else "less"
    return (
        f"The air meter reads {abs(middle):.1f} % {more} air than before at the same pressure, temperature and engine "
        f"speed ({span}): its reading changed, not the air that the engine gets; air flow does not compare across."
    )


def _doubts(count: int, refused: Sequence[CannotAnswer]) -> tuple[str, ...]:
    said = [
        "after work on camshafts, ports or exhaust a change of the ratio may be air after all",
        "air lost between meter and engine makes the ratio rise as well",
    ]
    if count:
        said.append(f"{count} pulls could not be used: {refused[-1].what}")
    return tuple(said)
