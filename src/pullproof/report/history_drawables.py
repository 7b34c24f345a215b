"""What the pictures of a season show, as plain data: the season of one measure, and the effects beside each other."""

from collections.abc import Sequence
from dataclasses import dataclass

from pullproof.analysis.history import ChangeEffect, DayPoint, History, MeasureHistory, SeasonChange
from pullproof.analysis.history.wording import what
from pullproof.report.drawables import axis_label
from pullproof.report.rounding import Rounding
from pullproof.report.wording import capitalised, difference_unit, level_text, measure_name, unit_text

__all__ = [
    "EffectRow",
    "EffectsDrawing",
    "Mark",
    "SeasonDrawing",
    "Slot",
    "effects_drawing",
    "numbered_changes",
    "season_drawing",
]

Interval = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Slot:
    """One build on one day: every pull as driven, the mean at mean conditions, and the model's build."""

    label: str
    """Of the day; empty where the slot before has the same."""
    pulls: tuple[float, ...]
    mean: float
    interval: Interval
    model: float
    model_interval: Interval


@dataclass(frozen=True, slots=True)
class Mark:
    """What was fitted or removed just before slot `before`, by the numbers of the list of changes."""

    before: int
    text: str


@dataclass(frozen=True, slots=True)
class SeasonDrawing:
    """One measure over the season; slots in the order in which they were driven."""

    title: str
    description: str
    y_label: str
    y_range: Interval
    slots: tuple[Slot, ...]
    marks: tuple[Mark, ...]
    step_before: int | None
    """Slot before which a step without a change was found."""


@dataclass(frozen=True, slots=True)
class EffectRow:
    """One effect: at equal boost, with the boost that it brought, and as driven."""

    label: str
    effect: float
    interval: Interval
    whole: float | None
    whole_interval: Interval | None
    raw: float


@dataclass(frozen=True, slots=True)
class EffectsDrawing:
    """All effects on one measure against zero."""

    title: str
    description: str
    x_label: str
    x_range: Interval
    worth: float
    rows: tuple[EffectRow, ...]


def numbered_changes(changes: Sequence[SeasonChange]) -> dict[str, int]:
    """Change to its number in the list, from 1."""
    return {change.name: number for number, change in enumerate(changes, 1)}


def season_drawing(history: History, measure: MeasureHistory) -> SeasonDrawing:
    """Dots with intervals over the season, with a mark where something was changed."""
    numbers = numbered_changes(history.changes)
    name, unit = measure_name(measure.id), unit_text(measure.unit, measure.id)
    slots = _slots(measure)
    ends = [value for slot in slots for value in (*slot.pulls, *slot.interval, *slot.model_interval)]
    air = 0.06 * (max(ends) - min(ends)) or 1.0
    step = measure.step
    return SeasonDrawing(
        title=f"{capitalised(name)} over the season",
        description=f"{capitalised(name)} in {unit or 'units of one'} of every build on every test day, in the order "
        "driven. Small circles: pulls as driven. Squares: mean of the pulls at the season's mean conditions, with what "
        f"that day alone says of the build ({level_text(history.level)} interval). Line with band: the build by the "
        "whole season. Upright lines: changes, by their number in the list.",
        y_label=axis_label(name, unit),
        y_range=(min(ends) - air, max(ends) + 2.5 * air),
        slots=slots,
        marks=_marks(measure.days, numbers),
        step_before=_slot_of(measure.days, step.before) if step is not None and step.flagged else None,
    )


def _slots(measure: MeasureHistory) -> tuple[Slot, ...]:
    slots, last = [], ""
    for point in measure.days:
        pulls = [pull.as_driven for pull in measure.pulls if pull.day == point.day and pull.build == point.build]
        slots.append(
            Slot(
                label="" if point.day == last else point.day,
                pulls=tuple(pulls),
                mean=point.mean.value,
                interval=point.mean.interval,
                model=point.model.value,
                model_interval=point.model.interval,
            )
        )
        last = point.day
    return tuple(slots)


def _marks(days: Sequence[DayPoint], numbers: dict[str, int]) -> tuple[Mark, ...]:
    marks = []
    for place in range(1, len(days)):
        before, after = days[place - 1].build, days[place].build
        on = [str(numbers[name]) for name in sorted(after - before, key=numbers.__getitem__)]
        off = [f"{numbers[name]} off" for name in sorted(before - after, key=numbers.__getitem__)]
        if on or off:
            marks.append(Mark(place, ", ".join(["+".join(on)] * bool(on) + off)))
    return tuple(marks)


def _slot_of(days: Sequence[DayPoint], label: str) -> int | None:
    return next((place for place, point in enumerate(days) if point.day == label), None)


def effects_drawing(history: History, measure: MeasureHistory) -> EffectsDrawing | None:
    """Every effect on one measure; None where there is none to draw."""
    if not measure.effects:
        return None
    numbers = numbered_changes(history.changes)
    unit = difference_unit(measure.unit, measure.id)
    rows = tuple(_row(effect, numbers) for effect in measure.effects)
    ends = [abs(end) for row in rows for end in (*row.interval, *(row.whole_interval or ()), row.raw)]
    reach = 1.08 * max(*ends, measure.smallest_worth_having)
    name = measure_name(measure.id)
    listed = "; ".join(_said(effect, unit) for effect in measure.effects)
    return EffectsDrawing(
        title=f"Effects on {name}",
        description=f"Effect of each change with its {level_text(history.level)} interval, against zero: {listed}.",
        x_label=axis_label(f"effect on {name}", unit),
        x_range=(-reach, reach),
        worth=measure.smallest_worth_having,
        rows=rows,
    )


def _row(effect: ChangeEffect, numbers: dict[str, int]) -> EffectRow:
    places = "+".join(str(numbers[name]) for name in effect.changes)
    return EffectRow(
        label=f"{places}  {what(effect)}",
        effect=effect.effect.value,
        interval=effect.effect.interval,
        whole=None if effect.whole is None else effect.whole.value,
        whole_interval=None if effect.whole is None else effect.whole.interval,
        raw=effect.explained.raw,
    )


def _said(effect: ChangeEffect, unit: str) -> str:
    rounding = Rounding.of(effect.effect.interval, effect.effect.value, unit)
    return f"{what(effect)} {rounding.signed(effect.effect.value)} ({rounding.interval(effect.effect.interval)})"
