"""The car's own flow over engine speed, and how to come by it without logs: from the sheets, with assumptions.

A pressure loss without the flow that makes it is a number out of a catalogue.
"""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.airpath.path import FlowSheet
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.conditions import Air
from pullproof.errors import CannotAnswer
from pullproof.physics import compressor, engine_air

__all__ = [
    "ASSUMED_AIR",
    "ASSUMED_CHARGE_C",
    "ASSUMED_COMPRESSOR_EFFICIENCY",
    "ASSUMED_VOLUMETRIC_EFFICIENCY",
    "STEP",
    "ZERO_CELSIUS",
    "FlowCurve",
    "assumed_filling",
    "flow_from_sheets",
    "hot_temperature_c",
    "speed_density",
    "window",
    "with_air",
]

STEP = 250.0
"""Distance of the engine speeds that the curves are read at. [rpm]"""

WINDOW_SHARE = 0.6
"""The contract's window begins at this share of the redline."""

LOWEST_SHARE = 0.45
"""Curves from the sheets begin at this share of the redline."""

ASSUMED_COMPRESSOR_EFFICIENCY = 0.70
ASSUMED_CHARGE_KPA = 200.0
ASSUMED_VOLUMETRIC_EFFICIENCY = 0.92
ASSUMED_CHARGE_C = 45.0
ASSUMED_AIR = Air(15.0, 100.0, 50.0)

ZERO_CELSIUS = 273.15
RPM = 2.0 * np.pi / 60.0


@dataclass(frozen=True, slots=True)
class FlowCurve:
    """Flow at full load over engine speed, in the contract's units; arrays have the shape (n,).

    `wastegate_duty_pct` is NaN where it is not logged. `assumptions` are sentences. `pulls` holds the same for every
    pull alone, and `day` and `log` say where a pull comes from; both are empty in a mean curve or one from sheets.
    """

    rpm: Array
    air_mass_flow_gs: Array
    charge_pressure_kpa: Array
    charge_temperature_c: Array
    compressor_outlet_temperature_c: Array
    wastegate_duty_pct: Array
    inlet_temperature_c: float
    ambient_pressure_kpa: float
    window_rpm: tuple[float, float]
    """Engine speeds that means are taken over: the contract's window, in which boost stands."""
    rpm_per_second: float | None
    """How fast the engine speed rises at the low end of the curve; None where no log shows it."""
    origin: str
    assumptions: tuple[str, ...] = ()
    log: str = ""
    day: str = ""
    pulls: tuple["FlowCurve", ...] = ()

    @property
    def inside(self) -> NDArray[np.bool_]:
        """Which of the engine speeds lie in the window, shape (n,)."""
        low, high = self.window_rpm
        found: NDArray[np.bool_] = (self.rpm >= low - 1.0) & (self.rpm <= high + 1.0)
        return found


def with_air(curve: FlowCurve, air: Air | None) -> FlowCurve:
    """Weather into the curve; what nobody knows is assumed and said."""
    known = air or Air()
    celsius, kilopascal = known.temperature_c, known.pressure_kpa
    missing = [what for what, value in (("temperature", celsius), ("pressure", kilopascal)) if value is None]
    said = (f"usual {' and '.join(missing)} of the ambient air (15 degC, 100 kPa) assumed",) if missing else ()
    return replace(
        curve,
        inlet_temperature_c=curve.inlet_temperature_c if celsius is None else celsius,
        ambient_pressure_kpa=curve.ambient_pressure_kpa if kilopascal is None else kilopascal,
        assumptions=(*curve.assumptions, *said),
    )


def flow_from_sheets(car: Car, flow: FlowSheet, air: Air | None = None) -> FlowCurve:
    """Flow curve without logs, by speed-density.

    Parameters
    ----------
    car : Car
        Displacement and redline are needed unless the path file lists the flow.
    flow : FlowSheet
        What the path file says.
    air : Air, optional
        Weather.

    Raises
    ------
    CannotAnswer
        Neither the car sheet nor the path file says enough.
    """
    rpm = np.array(flow.rpm) if flow.rpm else _speeds(car)
    assumptions: list[str] = []
    charge = np.array(flow.charge_pressure_kpa)
    if not flow.charge_pressure_kpa:
        kilopascal = 98.0 if car.engine.aspiration == "none" else ASSUMED_CHARGE_KPA
        charge = np.full(rpm.shape, kilopascal)
        assumptions.append(f"a charge pressure of {kilopascal:g} kPa absolute is assumed: name it under [flow]")
    celsius = ASSUMED_CHARGE_C if flow.charge_temperature_c is None else flow.charge_temperature_c
    if flow.charge_temperature_c is None:
        assumptions.append(f"charge air of {celsius:g} degC is assumed: name it under [flow]")
    mass_flow = np.array(flow.air_mass_flow_gs)
    if not flow.air_mass_flow_gs:
        percent = flow.volumetric_efficiency_pct
        filling = ASSUMED_VOLUMETRIC_EFFICIENCY if percent is None else percent / 100.0
        mass_flow = speed_density(car, rpm, charge, np.full(rpm.shape, celsius), filling, car.name)
        assumptions += [assumed_filling(filling)] if percent is None else []
    hot = flow.compressor_outlet_temperature_c
    curve = FlowCurve(
        rpm=rpm,
        air_mass_flow_gs=mass_flow,
        charge_pressure_kpa=charge,
        charge_temperature_c=np.full(rpm.shape, celsius),
        compressor_outlet_temperature_c=np.full(rpm.shape, np.nan if hot is None else hot),
        wastegate_duty_pct=np.full(rpm.shape, np.nan),
        inlet_temperature_c=ASSUMED_AIR.temperature_c or 0.0,
        ambient_pressure_kpa=ASSUMED_AIR.pressure_kpa or 0.0,
        window_rpm=window(car, rpm, charge),
        rpm_per_second=None,
        origin="path file" if flow.air_mass_flow_gs else "car sheet, by speed-density",
        assumptions=tuple(assumptions),
    )
    return with_air(curve, air)


def window(car: Car, rpm: Array, charge_kpa: Array) -> tuple[float, float]:
    """From 60 % of the redline to the end of the curve; without a redline, from 90 % of the highest charge pressure."""
    if car.engine.redline_rpm is not None:
        low = WINDOW_SHARE * car.engine.redline_rpm
    else:
        low = float(rpm[np.argmax(charge_kpa >= 0.9 * np.nanmax(charge_kpa))])
    return min(low, float(rpm[-1])), float(rpm[-1])


def _speeds(car: Car) -> Array:
    redline = car.engine.redline_rpm
    if redline is None:
        raise CannotAnswer(
            "the flow curve needs the redline, and the car sheet does not say it",
            where=car.name,
            advice="Add redline_rpm under [engine], list rpm under [flow] of the path file, or give logs.",
        )
    low = np.ceil(LOWEST_SHARE * redline / STEP) * STEP
    return np.arange(low, redline + 1.0, STEP)


def speed_density(
    car: Car, rpm: Array, charge_kpa: Array, celsius: Array, volumetric_efficiency: float, where: str
) -> Array:
    """Air mass flow from the state of the charge. [g/s]

    Raises
    ------
    CannotAnswer
        The car sheet has no displacement.
    """
    if car.engine.displacement_l is None:
        raise CannotAnswer(
            "no air mass flow is known, and the car sheet has no displacement to compute it from",
            where=where,
            advice="Add displacement_l under [engine] of the car sheet, or log the air mass flow.",
        )
    flow = engine_air.air_mass_flow_by_speed_density(
        1e3 * charge_kpa,
        celsius + ZERO_CELSIUS,
        rpm * RPM,
        1e-3 * car.engine.displacement_l,
        volumetric_efficiency,
    )
    return 1e3 * flow


def assumed_filling(volumetric_efficiency: float) -> str:
    """The sentence that goes with `speed_density`."""
    return f"air flow is computed by speed-density with an assumed volumetric efficiency of {volumetric_efficiency:g}"


def hot_temperature_c(curve: FlowCurve) -> Array:
    """Temperature behind the compressor: logged, or from the pressure ratio at the assumed efficiency. [degC]"""
    inlet = curve.inlet_temperature_c + ZERO_CELSIUS
    ratio = np.maximum(curve.charge_pressure_kpa / curve.ambient_pressure_kpa, 1.0)
    estimate = compressor.outlet_temperature(inlet, ratio, ASSUMED_COMPRESSOR_EFFICIENCY) - ZERO_CELSIUS
    logged = curve.compressor_outlet_temperature_c
    return np.where(np.isfinite(logged), logged, estimate)
