"""How much air: from the air meter, or by speed-density; and the volumetric efficiency that belongs to it."""

from typing import NamedTuple

import numpy as np

from pullproof.analysis.air_system.assumptions import AIR_METER, FILLING, FILLING_RANGE, LAMBDA, REVERSION_RPM
from pullproof.analysis.air_system.doubt import Known, Origin, known, propagate
from pullproof.analysis.air_system.fitted import Fitted
from pullproof.analysis.air_system.scene import Scene
from pullproof.analysis.air_system.states import band, charge_temperature, manifold_pressure
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer
from pullproof.physics import engine_air

__all__ = ["Breathing", "breathing", "defended_filling", "filling_from_meter", "fuel_flow", "metered_flow"]


class Breathing(NamedTuple):
    """Air mass flow [kg/s], and volumetric efficiency [1] or why there is none."""

    flow: Known
    filling: Known | CannotAnswer


def breathing(scene: Scene, fitted: Fitted) -> Breathing:
    """Air flow of a pull from the best there is.

    Raises
    ------
    CannotAnswer
        There is no air meter, and speed-density lacks a pressure or the displacement.
    """
    if not scene.has("air_mass_flow"):
        filling = _assumed_filling(scene, fitted)
        return Breathing(_speed_density(scene, filling), filling)
    flow = metered_flow(scene)
    try:
        return Breathing(flow, defended_filling(filling_from_meter(scene, flow), scene))
    except CannotAnswer as error:
        if error.where:
            doubt = f"air meter and speed-density do not fit together: {error.what}"
            flow = flow.noting(doubt)
        return Breathing(flow, error)


def metered_flow(scene: Scene) -> Known:
    """What the air meter says. [kg/s]

    Raises
    ------
    CannotAnswer
        It is not logged, or hardly ever sampled.
    """
    flow = 1e-3 * scene.read("air_mass_flow")
    flow = np.where(flow > 0.0, flow, np.nan)
    doubts = scene.clip_doubts("air_mass_flow")
    if scene.rpm[0] < REVERSION_RPM:
        doubts += (f"below {REVERSION_RPM:g} rpm air that swings back may be counted twice by the meter",)
    return known(flow, AIR_METER * flow, AIR_METER * flow, "sensor", *doubts, origin=Origin("air_mass_flow"))


def filling_from_meter(scene: Scene, flow: Known) -> Known:
    """Volumetric efficiency, referred to the manifold. [1]

    Raises
    ------
    CannotAnswer
        The car sheet has no displacement, or no pressure is logged.
    """
    displacement = _displacement(scene)

    def filling(air: Array, pressure: Array, temperature: Array) -> Array:
        return engine_air.volumetric_efficiency(air, pressure, temperature, scene.speed, displacement)

    return propagate(filling, [flow, manifold_pressure(scene), charge_temperature(scene)])


def defended_filling(filling: Known, scene: Scene) -> Known:
    """The same, if an engine at full load can have it.

    Raises
    ------
    CannotAnswer
        The middle of it lies where no engine does: a slip in a unit. Its `where` names the pull.
    """
    low, high = FILLING_RANGE
    if not np.any(np.isfinite(filling.value)):
        raise CannotAnswer("air flow, pressure and temperature are nowhere known together")
    middle = float(np.nanmedian(filling.value))
    if low <= middle <= high:
        return filling
    raise CannotAnswer(
        f"volumetric efficiency of {middle:.2f} at full load, outside {low:g} to {high:g}, means a slip in a unit",
        where=f"{scene.record.pull.log}, pull at {scene.record.pull.start_s:.1f} s",
        advice="Check displacement_l in the car sheet, gauge against absolute pressure, and the unit of the air flow.",
    )


def fuel_flow(scene: Scene, flow: Known) -> Known:
    """Fuel that goes with the air at the lambda that is logged. [kg/s]

    Raises
    ------
    CannotAnswer
        Lambda is not logged, or the car sheet does not name the fuel.
    """
    fuel = scene.car.engine.fuel
    if fuel is None:
        raise CannotAnswer(
            "the car sheet does not name the fuel", advice='Add a line like fuel = "petrol" under [engine].'
        )
    ratio = scene.read("lambda")
    mixture = known(np.where(ratio > 2.0 * LAMBDA, ratio, np.nan), LAMBDA, LAMBDA, "sensor", origin=Origin("lambda"))
    stoichiometric = engine_air.STOICHIOMETRIC_AIR_FUEL_RATIO[fuel]

    def burnt(air: Array, mixture: Array) -> Array:
        return engine_air.fuel_mass_flow(air, mixture, stoichiometric)

    return propagate(burnt, [flow, mixture])


def _assumed_filling(scene: Scene, fitted: Fitted) -> Known:
    if fitted.filling is not None:
        return fitted.filling.at(scene.rpm)
    low, usual, high = FILLING
    doubt = f"volumetric efficiency of {usual:g} ({low:g} to {high:g}) assumed: nothing in the logs tells it"
    return band(scene, FILLING, "volumetric efficiency", doubt)


def _speed_density(scene: Scene, filling: Known) -> Known:
    displacement = _displacement(scene)

    def flow(pressure: Array, temperature: Array, filling: Array) -> Array:
        return engine_air.air_mass_flow_by_speed_density(pressure, temperature, scene.speed, displacement, filling)

    return propagate(flow, [manifold_pressure(scene), charge_temperature(scene), filling], "speed-density")


def _displacement(scene: Scene) -> float:
    litres = scene.car.engine.displacement_l
    if litres is None:
        raise CannotAnswer(
            "the car sheet has no displacement", advice="Add displacement_l under [engine] of the car sheet."
        )
    return 1e-3 * litres
