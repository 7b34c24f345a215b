"""What the figures of an air path show, as plain data: losses stacked by element, and prediction beside measurement."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from pullproof.analysis.airpath import ElementResult, PathResult
from pullproof.analysis.prediction import Agreement
from pullproof.report.drawables import DIFFERENCE_LABEL, axis_label
from pullproof.report.rounding import Rounding, significant
from pullproof.report.wording import capitalised, difference_unit, level_text, listed, measure_name

__all__ = [
    "AgreementDrawing",
    "Segment",
    "Stack",
    "StackDrawing",
    "agreement_drawing",
    "agreement_roundings",
    "stack_drawing",
]

Kind = Literal["bend", "pipe", "joint", "change", "other"]

WORDS: tuple[tuple[str, Kind], ...] = (
    ("bend", "bend"),
    ("mitre", "bend"),
    ("hose", "joint"),
    ("pipe", "pipe"),
    ("reducer", "change"),
    ("step", "change"),
    ("pressed flat", "change"),
)
"""A word of an element's label and the kind of loss that it stands for."""

MOST_SEGMENTS = 9
"""Elements that are drawn one by one; smaller ones are put together."""


@dataclass(frozen=True, slots=True)
class Segment:
    """Loss of one element, from `low` to `high`. [kPa]"""

    label: str
    kind: Kind
    low: float
    high: float


@dataclass(frozen=True, slots=True)
class Stack:
    """One path: its segments from the engine's side upwards, the interval of their sum, and words below."""

    role: Literal["before", "after"]
    label: str
    segments: tuple[Segment, ...]
    total: float
    interval: tuple[float, float]
    total_label: str


@dataclass(frozen=True, slots=True)
class StackDrawing:
    """One path or two side by side on one axis of pressure."""

    title: str
    description: str
    y_label: str
    y_range: tuple[float, float]
    stacks: tuple[Stack, ...]


@dataclass(frozen=True, slots=True)
class AgreementDrawing:
    """Predicted and measured change of one measure above each other, against zero."""

    title: str
    description: str
    x_label: str
    x_range: tuple[float, float]
    predicted: float
    predicted_interval: tuple[float, float]
    measured: float
    measured_interval: tuple[float, float]


def stack_drawing(paths: Sequence[PathResult]) -> StackDrawing:
    """Loss by element of one path, or of the one before and the one after, at the engine speed of the largest loss."""
    at = int(np.nanargmax(paths[0].total.estimate))
    flow = paths[0].flow
    roles: tuple[Literal["before", "after"], ...] = ("before", "after")
    names = ("before", "after") if len(paths) > 1 else ("",)
    stacks = tuple(_stack(path, role, name, at) for path, role, name in zip(paths, roles, names, strict=False))
    place = f"{Rounding(-1, 'rpm').plain(float(flow.rpm[at]))}, {significant(flow.air_mass_flow_gs[at], 3, 'g/s')}"
    words = [
        f"{stack.label + ' ' if stack.label else ''}{stack.total_label}, of which "
        + listed([segment.label for segment in reversed(stack.segments)])
        for stack in stacks
    ]
    return StackDrawing(
        title="Pressure loss by element" + (", before and after" if len(paths) > 1 else ""),
        description=f"Stacked bars of pressure loss in kPa at {place}, elements in the order in which air passes them "
        f"from the top down: {'; '.join(words)}. The line on a bar is the {level_text(paths[0].total.level)} interval "
        "of the whole.",
        y_label=axis_label(f"pressure loss at {place}", "kPa"),
        y_range=(0.0, 1.06 * max(stack.interval[1] for stack in stacks)),
        stacks=stacks,
    )


def _stack(path: PathResult, role: Literal["before", "after"], label: str, at: int) -> Stack:
    interval = (float(path.total.lower[at]), float(path.total.upper[at]))
    total = float(path.total.estimate[at])
    rounding = Rounding.of(interval, total, "kPa")
    segments: list[Segment] = []
    height = 0.0
    for name, kind, loss in reversed(_drawn(path.elements, at)):
        segments.append(Segment(f"{name} {significant(loss, 2)}", kind, height, height + loss))
        height += loss
    ends = f"{rounding.bare(interval[0])} to {rounding.bare(interval[1])}"
    return Stack(role, label, tuple(segments), total, interval, f"{rounding.bare(total)} ({ends}) kPa")


def _drawn(elements: Sequence[ElementResult], at: int) -> list[tuple[str, Kind, float]]:
    """Name, kind and loss of what gets a segment; the smallest are put together, as the last."""
    losses = {element.number: float(np.nan_to_num(element.loss.estimate[at])) for element in elements}
    keep = set(losses)
    if len(elements) > MOST_SEGMENTS:
        keep = set(sorted(losses, key=lambda number: -losses[number])[: MOST_SEGMENTS - 1])
    drawn = [
        (f"{element.number} {_short(element.label)}", _kind(element.label), losses[element.number])
        for element in elements
        if element.number in keep
    ]
    rest = [number for number in losses if number not in keep]
    if rest:
        drawn.append((f"{len(rest)} others", "other", sum(losses[number] for number in rest)))
    return drawn


def _short(label: str) -> str:
    """What fits beside a bar."""
    first = label.partition(",")[0].partition(" in ")[0]
    first = first.replace("straight ", "").replace("square ", "").replace("charge ", "")
    angle, found, rest = first.partition(" deg ")
    return f"{angle}° {rest}" if found else first.removesuffix(" joint")


def _kind(label: str) -> Kind:
    first = label.partition(",")[0]
    return next((kind for word, kind in WORDS if word in first), "other")


def agreement_roundings(agreement: Agreement) -> tuple[Rounding, Rounding, Rounding]:
    """Digits of prediction, measurement and their difference, each by its own interval."""
    unit = difference_unit(agreement.unit, agreement.id)
    return (
        Rounding.of(agreement.predicted_interval, agreement.predicted, unit),
        Rounding.of(agreement.measured_interval, agreement.measured, unit),
        Rounding.of(agreement.gap_interval, agreement.gap, unit),
    )


def agreement_drawing(agreement: Agreement) -> AgreementDrawing:
    """Predicted and measured change of one measure."""
    ends = (*agreement.predicted_interval, *agreement.measured_interval)
    reach = 1.15 * max(abs(end) for end in ends)
    predicted, measured, _ = agreement_roundings(agreement)
    name, level = measure_name(agreement.id), level_text(agreement.level)
    return AgreementDrawing(
        title=f"{capitalised(name)}, predicted and measured",
        description=f"Predicted {predicted.signed(agreement.predicted)}, {level} interval "
        f"{predicted.interval(agreement.predicted_interval)} (open circle); measured "
        f"{measured.signed(agreement.measured)}, {measured.interval(agreement.measured_interval)} (filled square); "
        "drawn against zero.",
        x_label=axis_label(DIFFERENCE_LABEL, predicted.unit),
        x_range=(-reach, reach) if reach > 0 else (-1.0, 1.0),
        predicted=agreement.predicted,
        predicted_interval=agreement.predicted_interval,
        measured=agreement.measured,
        measured_interval=agreement.measured_interval,
    )
