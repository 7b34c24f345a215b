"""The JSON of an operating line on a compressor map, and of the mean power of several pulls."""

import numpy as np

from pullproof.analysis.air_system import Curve, Missing, OperatingLine
from pullproof.analysis.mean_power import MeanPower
from pullproof.analysis.wheel_power import torque
from pullproof.arrays import Array
from pullproof.report.json_values import Document, number, numbers

__all__ = ["mean_part", "operating_part"]


def operating_part(line: OperatingLine) -> Document:
    """An operating line; what the map cannot tell is null, with the reason."""
    reference = line.map.reference
    return {
        "map": line.map.name,
        "reference_temperature_c": number(reference.temperature - 273.15),
        "reference_pressure_kpa": number(reference.pressure / 1e3),
        "rpm": numbers(line.rpm),
        "places": list(line.places),
        "corrected_flow_gs": _curve(line.corrected_flow),
        "pressure_ratio": _curve(line.pressure_ratio),
        "corrected_speed_rpm": _curve(line.corrected_speed),
        "efficiency": _curve(line.efficiency),
        "surge_margin": _curve(line.surge_margin),
        "choke_share": _curve(line.choke_share),
        "doubts": list(line.doubts),
    }


def mean_part(mean: MeanPower) -> Document:
    """Mean power of the pulls with its band, and the peaks of power and torque with their intervals."""
    ends = torque(mean.lower_kw, mean.rpm), torque(mean.upper_kw, mean.rpm)
    return {
        "pulls": int(mean.pulls),
        "level": number(mean.level),
        "rpm": numbers(mean.rpm),
        "wheel_power_kw": numbers(mean.power_kw),
        "lower_kw": numbers(mean.lower_kw),
        "upper_kw": numbers(mean.upper_kw),
        "peak_power_kw": _peak(mean.rpm, mean.power_kw, (mean.lower_kw, mean.upper_kw)),
        "peak_torque_nm": _peak(mean.rpm, mean.torque_nm, ends),
    }


def _peak(rpm: Array, values: Array, ends: tuple[Array, Array]) -> Document:
    at = int(np.argmax(values))
    return {
        "value": number(float(values[at])),
        "interval": numbers(float(end[at]) for end in ends),
        "rpm": number(float(rpm[at])),
    }


def _curve(curve: Curve | Missing) -> Document:
    if isinstance(curve, Missing):
        return {"value": None, "lower": None, "upper": None, "reason": curve.reason}
    return {
        "value": numbers(curve.value),
        "lower": numbers(curve.lower),
        "upper": numbers(curve.upper),
        "reason": None,
    }
