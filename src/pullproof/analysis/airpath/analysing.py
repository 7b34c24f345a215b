"""Pressure loss of one path over the car's own flow: element by element, in total, and how sure."""

from collections.abc import Sequence
from statistics import NormalDist

import numpy as np

from pullproof.analysis.airpath.elements import Bend, Cooler, Mitre
from pullproof.analysis.airpath.flow_curve import ZERO_CELSIUS, FlowCurve, hot_temperature_c
from pullproof.analysis.airpath.losses import Air, ElementLoss, crowded_bends, path_losses, spread
from pullproof.analysis.airpath.path import AirPath
from pullproof.analysis.airpath.result import Band, ElementResult, PathResult
from pullproof.analysis.cautions import CAUTIONS
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.physics.compressible_flow import LARGEST_MACH_NUMBER

__all__ = ["air_of", "analyse_path", "band", "half_widths", "path_result", "total"]


def analyse_path(path: AirPath, flow: FlowCurve, level: float = 0.95) -> PathResult:
    """Pressure loss of a path over a flow curve.

    Parameters
    ----------
    path : AirPath
        From `load_path`.
    flow : FlowCurve
        From `flow_from_logs` or `flow_from_sheets`.
    level : float
        What the intervals hold.

    Raises
    ------
    CannotAnswer
        The air is faster than Mach 0.3 at every engine speed: handbooks do not reach there.
    """
    return path_result(path, flow, path_losses(path, air_of(flow)), level)


def air_of(flow: FlowCurve) -> Air:
    """The curve in SI units. The pressure that is measured is taken as total pressure at the end of the path."""
    return Air(
        mass_flow=1e-3 * flow.air_mass_flow_gs,
        end_pressure=1e3 * flow.charge_pressure_kpa,
        temperature={
            "hot": hot_temperature_c(flow) + ZERO_CELSIUS,
            "cold": flow.charge_temperature_c + ZERO_CELSIUS,
        },
    )


def total(losses: Sequence[ElementLoss]) -> Array:
    """Loss of the whole path. [Pa]"""
    return sum((one.loss for one in losses), start=np.zeros(()))


def half_widths(level: float) -> float:
    """Half width of a central interval over the standard deviation, of a normal distribution."""
    return NormalDist().inv_cdf(0.5 + 0.5 * level)


def band(unit: str, estimate: Array, deviation: Array, level: float, *, lowest: float = -np.inf) -> Band:
    """A curve with a normal interval that does not reach below `lowest`."""
    reach = half_widths(level) * deviation
    return Band(unit, estimate, np.maximum(estimate - reach, lowest), estimate + reach, level)


def path_result(path: AirPath, flow: FlowCurve, losses: Sequence[ElementLoss], level: float) -> PathResult:
    """Results in the contract's units from losses that were computed before."""
    loss = total(losses)
    if not np.any(np.isfinite(loss)):
        raise CannotAnswer(
            f'the air in "{path.name}" is faster than Mach {LARGEST_MACH_NUMBER:g} at every engine speed',
            where=path.where,
            advice="Check the bores and the flow: handbook losses do not reach there.",
        )
    top = int(np.nanargmax(loss))
    elements = tuple(
        ElementResult(
            number=number,
            label=one.element.label,
            loss=band("kPa", 1e-3 * one.loss, 1e-3 * one.doubt, level, lowest=0.0),
            mach=one.mach,
            velocity_ms=one.velocity,
            share=float(one.loss[top] / loss[top]),
            volume_l=1e3 * one.element.volume,
            length_mm=1e3 * one.element.length,
        )
        for number, one in enumerate(losses, 1)
    )
    return PathResult(
        name=path.name,
        flow=flow,
        elements=elements,
        total=band("kPa", 1e-3 * loss, 1e-3 * spread(losses), level, lowest=0.0),
        largest_mach=float(np.nanmax([one.mach for one in losses])),
        volume_l=1e3 * path.volume,
        length_mm=1e3 * path.length,
        doubts=(*path.doubts, *_doubts(path, flow, losses)),
        cautions=CAUTIONS,
    )


def _doubts(path: AirPath, flow: FlowCurve, losses: Sequence[ElementLoss]) -> list[str]:
    doubts = []
    for number, one in enumerate(losses, 1):
        fast = ~(one.mach <= LARGEST_MACH_NUMBER) & np.isfinite(flow.air_mass_flow_gs)
        if np.any(fast):
            doubts.append(
                f"{one.element.label} (element {number}): from {flow.rpm[fast][0]:g} rpm the air is faster than Mach "
                f"{LARGEST_MACH_NUMBER:g}; no handbook holds there, so no loss is given"
            )
        if isinstance(one.element, Cooler):
            ratio = float(np.nanmax(flow.air_mass_flow_gs)) * 1e-3 / one.element.known_mass_flow
            if not 0.5 <= ratio <= 2.0:
                doubts.append(
                    f"the cooler's loss is known at {one.element.known_mass_flow * 1e3:g} g/s and is scaled to "
                    f"{ratio:.2g} times that flow"
                )
    crowded = [
        str(number)
        for number, (element, near) in enumerate(zip(path.elements, crowded_bends(path.elements), strict=True), 1)
        if near and isinstance(element, Bend | Mitre)
    ]
    if crowded:
        doubts.append(
            f"less than 10 bores of straight pipe follow bend {', '.join(crowded)}: neighbours disturb each other, and "
            f"the interval is wider for it"
        )
    return doubts
