"""What to hold equal between pulls, how near, and what a unit of it costs: from the fairness checks and the effects."""

from collections.abc import Mapping

from pullproof.analysis.comparison.priors import Effect
from pullproof.analysis.comparison.quantities import QUANTITIES
from pullproof.analysis.plan.result import Equal

__all__ = ["what_to_hold_equal"]

NOT_HELD = ("boost_on_target", "ignition", "knock", "lambda")
"""Checked afterwards; nobody sets them before a pull."""

ADVICE = {
    "boost_matched": "the same boost target and gear",
    "pedal": "flat down, each time",
    "throttle": "see that it opens alike",
    "start_speed": "go to full pedal at the same engine speed",
    "ambient_temperature": "drive both states within the same hours; write it down for each log",
    "ambient_pressure": "write it down for each log, at the place",
    "humidity": "write it down for each log",
    "charge_temperature_start": "drive gently until it is back where the first pull began",
    "coolant_temperature_start": "let it settle before each pull",
    "oil_temperature_start": "let it settle before each pull",
}

BY_HAND = (
    Equal("gear", 0.0, "", None, None, "one gear for every pull"),
    Equal("stretch and direction", 0.0, "", None, None, "the same piece of road the same way, or both ways as often"),
    Equal("fuel level", 5.0, "l", None, None, "mass; fill up before each side"),
    Equal("people and load aboard", 0.0, "", None, None, "the same driver and passenger, the same load"),
    Equal("tyre pressure", 10.0, "kPa", None, None, "rolling radius and resistance; check it warm"),
    Equal("fuel and calibration", 0.0, "", None, None, "one tank, one calibration on both sides"),
    Equal("lights, fan, air conditioning", 0.0, "", None, None, "all off, or all as they were"),
)
"""What no channel shows. Figures: common practice, no source."""


def what_to_hold_equal(known: Mapping[str, Effect]) -> tuple[Equal, ...]:
    """What the comparison will look at, with what one unit of it does to the measure, then what no channel shows."""
    found = []
    for quantity in QUANTITIES:
        if quantity.id in NOT_HELD or (quantity.id == "boost_matched" and "boost" not in known):
            continue
        effect = known.get(quantity.covariate)
        found.append(
            Equal(
                what=quantity.label.rstrip(","),
                within=quantity.warn,
                unit="K" if quantity.unit == "degC" else quantity.unit,
                per_unit=effect.mean if effect else None,
                per_unit_doubt=effect.doubt if effect else None,
                advice=ADVICE.get(quantity.id, ""),
            )
        )
    return (*found, *BY_HAND)
