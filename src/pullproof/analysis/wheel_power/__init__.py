"""Power and torque at the wheels over engine speed, with an interval that carries the doubt of every input.

In reading order: `result` is what comes out; `curve` turns one pull into it; `correction` applies a standard within
its limits, `diesel` that of a diesel; `pair` puts an out and a back run together, so that a constant grade cancels.
"""

from pullproof.analysis.wheel_power.correction import PowerCorrection, Standard
from pullproof.analysis.wheel_power.curve import power_curve
from pullproof.analysis.wheel_power.pair import pair_power
from pullproof.analysis.wheel_power.result import (
    CrankEstimate,
    Efficiency,
    Evidence,
    InputShare,
    PowerCurve,
    half_width,
    torque,
)

__all__ = [
    "CrankEstimate",
    "Efficiency",
    "Evidence",
    "InputShare",
    "PowerCorrection",
    "PowerCurve",
    "Standard",
    "half_width",
    "pair_power",
    "power_curve",
    "torque",
]
