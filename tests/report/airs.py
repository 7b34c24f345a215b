"""An air system before and after, made up by hand."""

import numpy as np

from pullproof.analysis.air_system import AirComparison, AirDifference, DutyDrift, LeakSize, LeakSuspicion, NotCompared
from pullproof.analysis.comparison.result import CurveDifference, MeasureDifference

RPM = np.arange(4000.0, 6501.0, 50.0)


def quantity(identifier, label, unit, before, difference, half, assumed=(), *, curve=True):
    """A quantity with a raw difference of its own, and a curve that bends with it."""
    shape = 1.0 + 0.2 * np.sin(RPM / 700.0)
    middle = difference * shape
    drawn = CurveDifference(
        identifier, unit, RPM, before * shape, before * shape + middle, middle, middle - 1.4 * half, middle + 1.4 * half
    )
    return AirDifference(
        identifier, label, unit, before, before + difference + 0.1 * half, difference + 0.1 * half, -0.1 * half,
        difference, (difference - half, difference + half), 0.95, (4000.0, 6500.0), bool(assumed), assumed, 3, 2, 2, 1,
        0.3 * half, 0.4 * half, (f"{label}: taken for granted",), drawn if curve else None,
    )  # fmt: skip


def duty(verdict, difference, half):
    return MeasureDifference(
        "wastegate_duty.mean", "%", 80.0, 80.0 + difference, difference, 0.0, difference,
        (difference - half, difference + half), 0.95, 0.5, verdict, 3, 2, 2, 1, censored=False,
    )  # fmt: skip


NOT_SHOWN = LeakSuspicion(
    "not shown", "Mean wastegate duty changed by -1.0 percentage points: no rise shows.", duty("lower", -1.0, 0.6),
    None, None, None, None, ("a sticking wastegate",), ("Look for oil mist.",), ("no air meter",), ("Stop on knock.",),
)  # fmt: skip
SUSPECTED = LeakSuspicion(
    "suspected", "Mean wastegate duty rose by +3.0 percentage points: air may be lost.", duty("higher", 3.0, 1.0), None,
    None, None, LeakSize(2.1, (0.4, 4.0), 4.0, (2.0, 6.0), "A leak would have to take about 2.1 % of the flow."),
    ("a sticking wastegate",), ("Look for oil mist, cold and with the engine off.",), (), ("Stop on knock.",),
)  # fmt: skip
UNTOLD_DUTY = LeakSuspicion(
    "cannot tell", "Without wastegate duty nothing can be said of a leak: no wastegate duty in the log.", None, None,
    None, None, None, (), (), (), (),
)  # fmt: skip
FEW_DAYS = NotCompared("duty_drift", "duty from day to day", "fewer than three test days of one build")
DRIFT = DutyDrift(
    "not shown", "Over 3 test days mean wastegate duty changed by +0.2 percentage points: no rise shows.", 0.2,
    (-1.0, 1.4), 0.95, ("may 1", "may 8", "may 15"), 6, (), (), (), (),
)  # fmt: skip
KNOCK = MeasureDifference(
    "knock_retard.mean", "deg", 0.0, 0.3, 0.3, 0.0, 0.3, (-0.2, 0.8), 0.95, 0.25, "unclear", 3, 2, 2, 1, censored=False
)


def breathed(leak=NOT_SHOWN):
    """One measured quantity, one estimate that can be drawn and one that is too vague, and two that are missing."""
    return AirComparison(
        quantities=(
            quantity("pressure_ratio", "pressure ratio", "1", 2.5, -0.06, 0.05, ("loss of filter and inlet pipe",)),
            quantity("corrected_flow", "corrected air mass flow", "g/s", 212.0, 0.3, 25.0, ("warmth of the inlet",)),
            quantity("cooler_loss", "loss of charge cooler and pipes", "kPa", 11.6, -6.6, 0.3),
        ),
        not_compared=(
            NotCompared("isentropic_efficiency", "isentropic efficiency", "no outlet temperature", "Log it."),
            NotCompared("cooler_effectiveness", "effectiveness of the cooler", "no outlet temperature", "Log it."),
            NotCompared("injector_duty", "injector duty", "no injector duty in the log"),
        ),
        measured=(KNOCK,),
        knock="Knock control gave way not at all before, by 1.1 deg at worst after.",
        leak=leak,
        drift={"before": DRIFT, "after": FEW_DAYS},
    )


def nothing():
    """Logs that show nothing of the air."""
    return AirComparison(
        (),
        (NotCompared("pressure_ratio", "pressure ratio", "neither charge pressure nor manifold pressure in the log"),),
        (),
        "",
        UNTOLD_DUTY,
        {"before": FEW_DAYS, "after": FEW_DAYS},
    )
