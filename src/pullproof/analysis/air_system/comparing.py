"""The air's way before and after, put together: quantities, leak, and duty from day to day."""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from pullproof.analysis.air_system.before_after import AirDifference, NotCompared, air_differences
from pullproof.analysis.air_system.drift import DutyDrift, duty_drift
from pullproof.analysis.air_system.fitted import Fitted
from pullproof.analysis.air_system.leak import LeakSuspicion, suspect_leak
from pullproof.analysis.air_system.learning import fitted_from
from pullproof.analysis.comparison.design import gather
from pullproof.analysis.comparison.result import Comparison, MeasureDifference
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer

__all__ = ["AirComparison", "compare_air"]

AS_MEASURED = {"air_mass_flow": "air_mass_flow.mean", "knock_retard": "knock_retard.mean"}
"""Quantities that the comparison has as a measure already: one number, shown in both places."""


@dataclass(frozen=True, slots=True)
class AirComparison:
    """What two sets of pulls say of the air between filter and engine."""

    quantities: tuple[AirDifference, ...]
    not_compared: tuple[NotCompared, ...]
    measured: tuple[MeasureDifference, ...]
    """Measures of the comparison that belong here: air flow of a meter, knock retard as logged."""
    knock: str
    """What the log says of the margin to knock; empty where knock retard is not logged."""
    leak: LeakSuspicion
    drift: Mapping[str, DutyDrift | NotCompared]
    """`before` and `after`: does duty creep up over the test days of one build?"""


def compare_air(
    comparison: Comparison,
    before: Sequence[PullRecord],
    after: Sequence[PullRecord],
    car: Car,
    *,
    moments: Mapping[str, datetime.datetime] | None = None,
    fitted: Fitted | None = None,
) -> AirComparison:
    """The air system of the pulls that a comparison was made of.

    Parameters
    ----------
    comparison : Comparison
        Its window and level are used, and the measures that belong here.
    before, after : sequence of PullRecord
        The pulls that it used.
    car : Car
    moments : mapping of file to datetime, optional
        When each log was started.
    fitted : Fitted, optional
        Measured losses, pressure taps and a learned volumetric efficiency. Without it pulls with an air meter teach
        the volumetric efficiency for those without one.
    """
    when = dict(moments or {})
    pulls = gather(before, after, car, comparison.window_rpm, when)
    parts = air_differences(pulls, car, comparison.level, fitted or fitted_from((*before, *after), car))
    measured = {one.id: one for one in comparison.measures}
    kept = tuple(measured[name] for name in AS_MEASURED.values() if name in measured)
    own = [part for part in parts if AS_MEASURED.get(part.id) not in measured]
    return AirComparison(
        quantities=tuple(part for part in own if isinstance(part, AirDifference)),
        not_compared=(
            *(part for part in own if isinstance(part, NotCompared)),
            *_without_knock(comparison, measured),
        ),
        measured=kept,
        knock=_knock(measured),
        leak=suspect_leak(comparison, before, after, car),
        drift={
            side: _drift(side, records, car, comparison, when)
            for side, records in (("before", before), ("after", after))
        },
    )


def _without_knock(comparison: Comparison, measured: Mapping[str, MeasureDifference]) -> tuple[NotCompared, ...]:
    if AS_MEASURED["knock_retard"] in measured:
        return ()
    reason = next((left.reason for left in comparison.left_out if left.measure == "knock_retard.mean"), "not logged")
    return (NotCompared("knock_retard", "knock retard, as logged", reason, "Log the worst cylinder's."),)


def _knock(measured: Mapping[str, MeasureDifference]) -> str:
    """Residual knock margin, as far as a log tells it."""
    worst = measured.get("knock_retard.worst")
    if worst is None:
        return ""
    if worst.before <= 0.0 and worst.after <= 0.0:
        return "Knock control never gave way on either side: how much margin is left no log tells."
    sides = ", ".join(
        f"by {value:.1f} deg at worst {side}" if value > 0.0 else f"not at all {side}"
        for side, value in (("before", worst.before), ("after", worst.after))
    )
    return f"Knock control gave way {sides}, on average of the pulls: where it gives way no margin is left."


def _drift(
    side: str, records: Sequence[PullRecord], car: Car, comparison: Comparison, when: Mapping[str, datetime.datetime]
) -> DutyDrift | NotCompared:
    """Duty over the test days of one side, in the order in which they came."""
    label = f"duty from day to day, {side}"
    starts: dict[str, list[datetime.datetime]] = {}
    for record in records:
        starts.setdefault(record.day, []).extend(filter(None, [when.get(record.log.file)]))
    if len(starts) < 3:
        return NotCompared("duty_drift", label, "fewer than three test days of one build")
    if not all(starts.values()):
        return NotCompared(
            "duty_drift", label, "nobody says in which order the days came", "Add `when` to the conditions file."
        )
    days = sorted(starts, key=lambda day: min(starts[day]))
    try:
        return duty_drift(records, days, car, window=comparison.window_rpm, level=comparison.level, moments=when)
    except CannotAnswer as error:
        return NotCompared("duty_drift", label, error.what, error.advice)
