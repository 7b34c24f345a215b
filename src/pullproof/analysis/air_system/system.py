"""The air of one pull, from the filter to the manifold."""

import dataclasses
from collections.abc import Callable, Mapping
from typing import TypeAlias, TypeVar

import numpy as np

from pullproof.analysis.air_system import flow as breath
from pullproof.analysis.air_system import heat, states
from pullproof.analysis.air_system.assumptions import USUAL_DUTY
from pullproof.analysis.air_system.doubt import Known, propagate
from pullproof.analysis.air_system.fitted import Fitted
from pullproof.analysis.air_system.result import REFERENCE, AirSystem, Curve, Missing
from pullproof.analysis.air_system.scene import ZERO_CELSIUS, Scene, look
from pullproof.analysis.cautions import CAUTIONS
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import samples_over_rpm
from pullproof.errors import CannotAnswer
from pullproof.physics import compressor

__all__ = ["AS_LOGGED", "SHOWN", "Found", "air_system", "find_all"]

Found: TypeAlias = Known | CannotAnswer
T = TypeVar("T")

AS_LOGGED = "as logged: no interval is known"

SHOWN: Mapping[str, tuple[str, str, float, float]] = {
    "air_mass_flow": ("air mass flow", "g/s", 1e3, 0.0),
    "volumetric_efficiency": ("volumetric efficiency", "1", 1.0, 0.0),
    "inlet_temperature": ("air temperature before the compressor", "degC", 1.0, -ZERO_CELSIUS),
    "inlet_loss": ("loss of filter and inlet", "kPa", 1e-3, 0.0),
    "outlet_pressure": ("pressure behind the compressor, absolute", "kPa", 1e-3, 0.0),
    "pressure_ratio": ("pressure ratio", "1", 1.0, 0.0),
    "corrected_flow": ("corrected air mass flow", "g/s", 1e3, 0.0),
    "outlet_temperature": ("air temperature behind the compressor", "degC", 1.0, -ZERO_CELSIUS),
    "isentropic_efficiency": ("isentropic efficiency of the compressor", "1", 1.0, 0.0),
    "cooler_effectiveness": ("effectiveness of the charge cooler", "1", 1.0, 0.0),
    "cooler_loss": ("loss of charge cooler and pipes", "kPa", 1e-3, 0.0),
    "throttle_loss": ("charge pressure less manifold pressure", "kPa", 1e-3, 0.0),
    "charge_temperature": ("charge temperature", "degC", 1.0, -ZERO_CELSIUS),
    "density_ratio": ("density of the charge over ambient", "1", 1.0, 0.0),
    "fuel_mass_flow": ("fuel mass flow", "g/s", 1e3, 0.0),
    "injector_duty": ("injector duty", "%", 1.0, 0.0),
    "knock_retard": ("knock retard, as logged", "deg", 1.0, 0.0),
    "ignition_timing": ("ignition timing, as logged", "deg", 1.0, 0.0),
    "turbo_speed": ("turbocharger speed, as logged", "rpm", 1.0, 0.0),
}
"""Name to label, unit, and factor and offset from SI to that unit."""


def air_system(record: PullRecord, car: Car, *, rpm: Array | None = None, fitted: Fitted | None = None) -> AirSystem:
    """The air of one pull: flow, pressures, temperatures, and how far each can be believed.

    Parameters
    ----------
    record : PullRecord
        The pull.
    car : Car
        Displacement and fuel are used.
    rpm : (m,), optional
        Engine speeds of the curves; without them every 50 rpm that the pull passes. [rpm]
    fitted : Fitted, optional
        Measured losses, pressure taps and a learned volumetric efficiency.

    Raises
    ------
    CannotAnswer
        The pull has too few samples of engine speed.
    """
    scene = look(record, car, rpm)
    found = find_all(scene, fitted or Fitted())
    return AirSystem(
        pull=record.pull,
        day=record.day,
        rpm=scene.rpm,
        reference=REFERENCE,
        cautions=CAUTIONS,
        **{name: _shown(name, found[name], scene) for name in SHOWN},
    )


def find_all(scene: Scene, fitted: Fitted) -> dict[str, Found]:
    """Every quantity of `SHOWN` in SI units, or why it is missing."""
    breathing = _attempt(lambda: breath.breathing(scene, fitted))
    flow: Found = breathing if isinstance(breathing, CannotAnswer) else breathing.flow
    filling: Found = breathing if isinstance(breathing, CannotAnswer) else breathing.filling
    metered = None if isinstance(flow, CannotAnswer) else flow
    loss = _attempt(lambda: states.inlet_loss(scene, fitted, metered))
    path_loss = _attempt(lambda: states.charge_path_loss(scene, fitted, metered))
    inlet = _attempt(lambda: states.inlet_pressure(scene, _needed(loss)))
    outlet = _attempt(lambda: states.outlet_pressure(scene, fitted, _needed(path_loss)))
    ratio = _attempt(lambda: propagate(np.divide, [_needed(outlet), _needed(inlet)], _needed(outlet).source))
    warm = states.inlet_temperature(scene)
    hot = _attempt(lambda: heat.outlet_temperature(scene, warm, _needed(ratio)))
    charge = _attempt(lambda: states.charge_temperature(scene))
    return {
        "air_mass_flow": flow,
        "volumetric_efficiency": filling,
        "inlet_temperature": warm,
        "inlet_loss": loss,
        "outlet_pressure": outlet,
        "pressure_ratio": ratio,
        "corrected_flow": _attempt(lambda: _corrected(_needed(flow), warm, _needed(inlet))),
        "outlet_temperature": hot,
        "isentropic_efficiency": _attempt(lambda: heat.isentropic_efficiency(scene, warm, _needed(ratio))),
        "cooler_effectiveness": _attempt(lambda: heat.cooler_effectiveness(scene, _needed(hot), _needed(ratio))),
        "cooler_loss": _attempt(lambda: _measured(path_loss)),
        "throttle_loss": _attempt(lambda: _throttle_loss(scene)),
        "charge_temperature": charge,
        "density_ratio": _attempt(lambda: _density_ratio(scene, _needed(charge))),
        "fuel_mass_flow": _attempt(lambda: breath.fuel_flow(scene, _needed(flow))),
        "injector_duty": _attempt(lambda: _injector_duty(scene)),
        "knock_retard": _attempt(lambda: _knock(scene)),
        "ignition_timing": _attempt(lambda: _logged(scene, "ignition_timing")),
        "turbo_speed": _attempt(lambda: _logged(scene, "turbo_speed")),
    }


def _attempt(answer: Callable[[], T]) -> T | CannotAnswer:
    try:
        return answer()
    except CannotAnswer as error:
        return error


def _needed(part: Found) -> Known:
    """A quantity that another one rests on; what kept it back keeps the other back too."""
    if isinstance(part, CannotAnswer):
        raise part
    return part


def _shown(name: str, part: Found, scene: Scene) -> Curve | Missing:
    label, unit, factor, offset = SHOWN[name]
    if isinstance(part, CannotAnswer):
        return Missing(name, label, part.what, part.advice)
    if not np.any(np.isfinite(part.value)):
        return Missing(name, label, "; ".join(part.doubts) or "what it is computed from is nowhere known together")
    return part.curve(name, label, unit, scene.rpm, factor=factor, offset=offset)


def _corrected(flow: Known, temperature: Known, pressure: Known) -> Known:
    def corrected(flow: Array, temperature: Array, pressure: Array) -> Array:
        return compressor.corrected_mass_flow(flow, temperature, pressure, REFERENCE).value

    return propagate(corrected, [flow, temperature, pressure], flow.source)


def _measured(loss: Found) -> Known:
    """A loss that rests on a measurement; an assumed one explains nothing."""
    part = _needed(loss)
    if part.source == "assumed":
        raise CannotAnswer(
            "no pressure behind the compressor is known, so the loss of the cooler cannot be told",
            advice="Log one behind the compressor, and name its column compressor_outlet_pressure in the car sheet.",
        )
    return part


def _throttle_loss(scene: Scene) -> Known:
    for channel in ("charge_pressure", "manifold_pressure"):
        if not scene.has(channel):
            raise CannotAnswer(f"no {channel.replace('_', ' ')} in the log", advice="Log both to see the loss.")
    doubt = "two sensors that nobody zeroed against each other: their offset is as large as the loss of a throttle"
    return propagate(np.subtract, [states.charge_pressure(scene), states.manifold_pressure(scene)]).noting(doubt)


def _density_ratio(scene: Scene, charge: Known) -> Known:
    def ratio(charge_pressure: Array, pressure: Array, temperature: Array, charge: Array) -> Array:
        return compressor.density_ratio(charge_pressure / pressure, temperature, charge)

    inputs = [states.charge_pressure(scene), states.ambient_pressure(scene), states.ambient_temperature(scene), charge]
    return propagate(ratio, inputs)


def _logged(scene: Scene, channel: str, *doubts: str) -> Known:
    """As the log has it: between samples, not smoothed, and without an interval, for nobody knows its sensor."""
    return Known(scene.as_sampled(channel), {}, "logged", (AS_LOGGED, *doubts))


def _injector_duty(scene: Scene) -> Known:
    part = _logged(scene, "injector_duty")
    most = float(np.nanmax(part.value))
    doubts = [*part.doubts, "an injector into the cylinder has only part of the cycle: its duty reads otherwise"]
    if most > USUAL_DUTY:
        doubts.append(
            f"duty reaches {most:.0f} %: above {USUAL_DUTY:g} % a port injector usually no longer answers in proportion"
        )
    return dataclasses.replace(part, doubts=tuple(doubts))


def _knock(scene: Scene) -> Known:
    part = _logged(scene, "knock_retard")
    at, samples, _ = samples_over_rpm(scene.record, "knock_retard", scene.turning)
    worst = int(np.argmax(samples))
    if samples[worst] > 0.0:
        said = f"worst sample {samples[worst]:.2f} deg at {at[worst]:.0f} rpm: knock control has given way, no margin"
    else:
        said = "knock control never gave way: the margin is not below zero, and how far above no log tells"
    return dataclasses.replace(part, doubts=(*part.doubts, said))
