"""Where several pulls of one build run on a compressor map, taken together."""

import dataclasses
from collections.abc import Sequence

import numpy as np

from pullproof.analysis.air_system import (
    AirSystem,
    CompressorMap,
    Curve,
    Fitted,
    Missing,
    OperatingLine,
    air_system,
    operating_line,
)
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer

__all__ = ["mean_operating_line"]

STEP_RPM = 100.0

MEANS = ("corrected_flow", "pressure_ratio", "inlet_temperature", "turbo_speed")
"""What an operating line is made of."""


def mean_operating_line(
    records: Sequence[PullRecord], car: Car, mapped: CompressorMap, fitted: Fitted | None = None
) -> OperatingLine:
    """Mean operating line of pulls, over the engine speeds that all of them pass.

    Parameters
    ----------
    records : sequence of PullRecord
        Used pulls of one build; one or more.
    car : Car
        The car sheet.
    mapped : CompressorMap
        From `load_compressor_map`.
    fitted : Fitted, optional
        What is known besides the logs, such as a volumetric efficiency learned from other pulls of the car.

    Raises
    ------
    CannotAnswer
        The pulls share no engine speeds, or none of them shows flow and pressure ratio.
    """
    low, high = max(one.pull.rpm_start for one in records), min(one.pull.rpm_end for one in records)
    rpm = np.arange(np.ceil(low / STEP_RPM) * STEP_RPM, high + 1.0, STEP_RPM)
    if rpm.size < 2:
        raise CannotAnswer(
            "the pulls have no engine speeds in common for an operating line", advice="Give pulls over one range."
        )
    systems = [air_system(record, car, rpm=rpm, fitted=fitted) for record in records]
    return operating_line(_together(systems), mapped)


def _together(systems: Sequence[AirSystem]) -> AirSystem:
    """The first pull with the mean of what an operating line is made of, where every pull knows it."""
    flow, ratio, inlet, shaft = (_mean([getattr(system, name) for system in systems]) for name in MEANS)
    return dataclasses.replace(
        systems[0], corrected_flow=flow, pressure_ratio=ratio, inlet_temperature=inlet, turbo_speed=shaft
    )


def _mean(curves: Sequence[Curve | Missing]) -> Curve | Missing:
    """Mean of value and of both ends: the doubts of sensors are alike in all pulls and do not average out."""
    missing = next((curve for curve in curves if isinstance(curve, Missing)), None)
    if missing is not None:
        return missing
    known = [curve for curve in curves if isinstance(curve, Curve)]
    value, lower, upper = (
        np.mean([getattr(curve, name) for curve in known], axis=0) for name in ("value", "lower", "upper")
    )
    doubts = tuple(dict.fromkeys(doubt for curve in known for doubt in curve.doubts))
    return dataclasses.replace(known[0], value=value, lower=lower, upper=upper, doubts=doubts)
