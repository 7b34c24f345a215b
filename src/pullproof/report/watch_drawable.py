"""What the figure of an event shows, as plain data: what was read around it, and its limit."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.watch import Event
from pullproof.arrays import Array
from pullproof.report.rounding import significant
from pullproof.report.wording import capitalised, unit_text

__all__ = ["EventDrawing", "event_drawing"]

LEAST_SPAN = {"1": 0.05, "V": 1.0, "deg": 4.0, "rpm": 300.0, "kPa": 20.0, "degC": 10.0, "%": 8.0}
"""Least height of the axes by unit, so that a hair's breadth past a limit looks like one."""


@dataclass(frozen=True, slots=True)
class EventDrawing:
    """Samples over time [s], counted from the first one past the limit; `past` says which are past it, each (n,)."""

    title: str
    description: str
    x_label: str
    y_label: str
    x_range: tuple[float, float]
    y_range: tuple[float, float]
    time: Array
    values: Array
    past: NDArray[np.bool_]
    limit: float


def event_drawing(event: Event) -> EventDrawing | None:
    """One event; None where nothing around it was kept."""
    if len(event.around) < 2:
        return None
    time, values = (np.array(column, dtype=float) for column in zip(*event.around, strict=True))
    limit = event.limit
    past = values > limit.value if limit.side == "above" else values < limit.value
    unit = unit_text(limit.unit, "lambda" if limit.unit == "1" else "")
    low, high = min(values.min(), limit.value), max(values.max(), limit.value)
    air = max(0.08 * (high - low), 0.5 * (LEAST_SPAN[limit.unit] - (high - low)))
    name = capitalised(event.label)
    side = "above" if limit.side == "above" else "below"
    return EventDrawing(
        title=f"{name} of {event.place.log} around {significant(event.start_s, 4)} s",
        description=f"{name} against time, one mark for each sample; {int(past.sum())} of {past.size} lie {side} the "
        f"limit of {significant(limit.value, 4, unit)}.",
        x_label=f"seconds from {event.start_s:.1f} s of {event.place.log}",
        y_label=f"{event.label}{f', {unit}' if unit else ''} (dashed: limit {significant(limit.value, 4)})",
        x_range=(float(time[0] - event.start_s), float(time[-1] - event.start_s)),
        y_range=(low - air, high + air),
        time=time - event.start_s,
        values=values,
        past=past,
        limit=limit.value,
    )
