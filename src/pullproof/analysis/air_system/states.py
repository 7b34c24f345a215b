"""Pressures and temperatures along the air's way, each from the best there is: sensor, sheet, or assumption."""

import numpy as np

from pullproof.analysis.air_system.assumptions import (
    AMBIENT_KELVIN,
    AMBIENT_PASCAL,
    ASSUMED_PRESSURE,
    ASSUMED_TEMPERATURE,
    CHARGE_PATH_LOSS,
    DYNAMIC_SHARE,
    INLET_LOSS,
    INLET_RISE,
    LEAST_RATIO,
    PRESSURE_SENSOR,
    THROTTLE_LOSS,
    Band,
)
from pullproof.analysis.air_system.doubt import Known, Origin, known, propagate
from pullproof.analysis.air_system.fitted import Fitted, LossPoint, Tap
from pullproof.analysis.air_system.scene import ZERO_CELSIUS, Scene
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer

__all__ = [
    "ambient_pressure",
    "ambient_temperature",
    "band",
    "charge_path_loss",
    "charge_pressure",
    "charge_temperature",
    "inlet_loss",
    "inlet_pressure",
    "inlet_temperature",
    "manifold_pressure",
    "outlet_pressure",
]

INLET_PRESSURE, OUTLET_PRESSURE = "compressor_inlet_pressure", "compressor_outlet_pressure"
INLET_TEMPERATURE = "compressor_inlet_temperature"

CHARGE_RISE: Band = (8.0, 25.0, 50.0)
"""By how much the charge is warmer than ambient where no sensor tells it. [K] Common practice, no source."""

NEAR_AMBIENT = 8.0
"""An intake air sensor that stays this near to ambient while air is compressed may sit before the compressor. [K]"""
UNMOVED = 1.0
"""Where nobody knows ambient, one that does not rise by as much tells the same. [K] Common practice, no source."""
BEFORE_OR_BEHIND: Band = (-3.0, 12.0, 40.0)
"""By how much the charge is then warmer than that sensor. [K] Common practice, no source."""

MANIFOLD_HEAT = 5.0
"""By how much a sensor in the manifold, warmed by the engine, may read too high. [K] Common practice, no source."""


def band(scene: Scene, limits: Band, of: str, *doubts: str) -> Known:
    """An assumed value of something, the same at all engine speeds."""
    low, usual, high = limits
    origin = Origin(of, assumed=True)
    return known(np.full(scene.rpm.shape, usual), usual - low, high - usual, "assumed", *doubts, origin=origin)


def ambient_temperature(scene: Scene) -> Known:
    """Ambient air. [K]"""
    celsius = scene.record.air.temperature_c
    if celsius is None:
        doubt = "nobody says the air temperature: 0 to 35 degC assumed"
        return band(scene, ASSUMED_TEMPERATURE, "ambient temperature", doubt)
    kelvin = np.full(scene.rpm.shape, celsius + ZERO_CELSIUS)
    return known(kelvin, AMBIENT_KELVIN, AMBIENT_KELVIN, "logged", origin=Origin("ambient temperature"))


def ambient_pressure(scene: Scene) -> Known:
    """Ambient air. [Pa]"""
    kilopascal = scene.record.air.pressure_kpa
    if kilopascal is None:
        return band(
            scene, ASSUMED_PRESSURE, "ambient pressure", "nobody says the air pressure: 95 to 103.5 kPa assumed"
        )
    pascal = np.full(scene.rpm.shape, 1e3 * kilopascal)
    return known(pascal, AMBIENT_PASCAL, AMBIENT_PASCAL, "logged", origin=Origin("ambient pressure"))


def charge_pressure(scene: Scene) -> Known:
    """Before the throttle, absolute. [Pa]

    Raises
    ------
    CannotAnswer
        Neither charge pressure nor manifold pressure is logged.
    """
    if scene.has("charge_pressure"):
        return _sensor(scene, "charge_pressure")
    if not scene.has("manifold_pressure"):
        raise CannotAnswer("neither charge pressure nor manifold pressure in the log", advice="Log one of them.")
    manifold = _sensor(scene, "manifold_pressure")
    doubt = "manifold pressure and an open throttle stand in for charge pressure"
    loss = _of_the_pull(scene, THROTTLE_LOSS, "throttle loss", doubt)
    return propagate(np.add, [manifold, loss], "estimated")


def manifold_pressure(scene: Scene) -> Known:
    """After the throttle, absolute. [Pa]

    Raises
    ------
    CannotAnswer
        Neither manifold pressure nor charge pressure is logged.
    """
    if scene.has("manifold_pressure"):
        return _sensor(scene, "manifold_pressure")
    charge = charge_pressure(scene)
    doubt = "charge pressure and an open throttle stand in for manifold pressure"
    loss = _of_the_pull(scene, THROTTLE_LOSS, "throttle loss", doubt)
    return propagate(np.subtract, [charge, loss], "estimated")


def charge_temperature(scene: Scene) -> Known:
    """The air that the engine gets. [K]"""
    for channel in ("charge_air_temperature", "intake_air_temperature"):
        try:
            sensor = scene.temperature(channel)
        except CannotAnswer:
            continue
        return sensor if channel == "charge_air_temperature" else _intake_sensor(scene, sensor)
    doubt = "no log shows the charge temperature: 8 to 50 K above ambient assumed"
    return propagate(
        np.add, [ambient_temperature(scene), band(scene, CHARGE_RISE, "charge temperature", doubt)], "assumed"
    )


def inlet_temperature(scene: Scene) -> Known:
    """Before the compressor: measured, else ambient air, warmed on its way by the engine bay. [K]"""
    try:
        return scene.temperature(INLET_TEMPERATURE)
    except CannotAnswer:
        doubt = "air at the compressor is taken 4 K warmer than ambient (0 to 12 K)"
    rise = band(scene, INLET_RISE, "warmth of the inlet", doubt)
    return propagate(np.add, [ambient_temperature(scene), rise], "estimated")


def inlet_loss(scene: Scene, fitted: Fitted, flow: Known | None) -> Known:
    """Of filter and inlet pipe. [Pa]

    Raises
    ------
    CannotAnswer
        A tap was named that the log does not have.
    """
    tapped = _tapped(scene, fitted.inlet_tap, INLET_PRESSURE)
    if tapped is not None:
        return propagate(np.subtract, [ambient_pressure(scene), tapped], "sensor")
    return _loss(scene, fitted.inlet_loss, flow, INLET_LOSS, "loss of filter and inlet pipe")


def inlet_pressure(scene: Scene, loss: Known) -> Known:
    """Before the compressor, absolute. [Pa]"""
    return propagate(np.subtract, [ambient_pressure(scene), loss], "computed" if loss.source == "sensor" else "assumed")


def charge_path_loss(scene: Scene, fitted: Fitted, flow: Known | None) -> Known:
    """Of cooler and charge pipes, from the compressor to the charge pressure sensor. [Pa]

    Raises
    ------
    CannotAnswer
        A tap was named that the log does not have, or no charge pressure is logged beside it.
    """
    tapped = _tapped(scene, fitted.outlet_tap, OUTLET_PRESSURE)
    if tapped is not None:
        doubt = "two sensors that nobody zeroed against each other: swap them once to cancel their offset"
        return propagate(np.subtract, [tapped, charge_pressure(scene)], "sensor").noting(doubt)
    return _loss(scene, fitted.charge_path_loss, flow, CHARGE_PATH_LOSS, "loss of cooler and charge pipes")


def outlet_pressure(scene: Scene, fitted: Fitted, loss: Known) -> Known:
    """Behind the compressor, absolute. [Pa]

    Raises
    ------
    CannotAnswer
        No pressure is logged.
    """
    static = _tapped(scene, fitted.outlet_tap, OUTLET_PRESSURE)
    if static is None:
        static = propagate(np.add, [charge_pressure(scene), loss], "estimated")
    # What is wanted is total pressure; what speed adds is known only to lie between nothing and the usual share.
    return static.also(Origin("speed of the air"), static.value, (1.0 + DYNAMIC_SHARE) * static.value)


def _tapped(scene: Scene, tap: Tap | None, channel: str) -> Known | None:
    """A pressure beside the compressor from its own sensor, by the column named or the channel; None without one."""
    if tap is not None:
        return known(scene.tap(tap), PRESSURE_SENSOR, PRESSURE_SENSOR, "sensor", origin=Origin(channel))
    return _sensor(scene, channel) if scene.has(channel) else None


def _sensor(scene: Scene, channel: str) -> Known:
    """A pressure sensor, absolute. [Pa] What the file counts from ambient gets the best ambient pressure under it."""
    pascals, reference = 1e3 * scene.read(channel), scene.record.log.gauge_reference_kpa.get(channel)
    if reference is None:
        usable = np.where(pascals > 0.0, pascals, np.nan)
        doubts = scene.clip_doubts(channel)
        return known(usable, PRESSURE_SENSOR, PRESSURE_SENSOR, "sensor", *doubts, origin=Origin(channel))
    doubt = f"{channel.replace('_', ' ')} is logged over ambient: what the logger took for ambient nobody knows"
    over = pascals - 1e3 * reference
    gauge = known(over, PRESSURE_SENSOR, PRESSURE_SENSOR, "sensor", doubt, origin=Origin(channel))
    return propagate(np.add, [gauge, ambient_pressure(scene)], "sensor")


def _intake_sensor(scene: Scene, sensor: Known) -> Known:
    """Intake air temperature as charge temperature: only where the sensor sits behind the compressor."""
    ambient, pressure = ambient_temperature(scene), ambient_pressure(scene)
    compressed = charge_pressure(scene).value > LEAST_RATIO * pressure.value
    cool = sensor.value[compressed] < ambient.value[compressed] + NEAR_AMBIENT
    if ambient.source == "assumed" and np.count_nonzero(compressed) > 1:
        cool = np.array([np.ptp(sensor.value[compressed]) < UNMOVED or np.diff(sensor.value[compressed]).sum() < 0.0])
    if np.any(compressed) and np.all(cool):
        doubt = "intake air stays cool while it is compressed: its sensor may sit before the compressor"
        return propagate(np.add, [sensor, band(scene, BEFORE_OR_BEHIND, "place of the sensor", doubt)], "estimated")
    doubt = "intake air temperature stands in for charge temperature: warmed by the manifold, and slow"
    return sensor.also(Origin("heat of the manifold"), sensor.value - MANIFOLD_HEAT, sensor.value).noting(doubt)


def _loss(scene: Scene, point: LossPoint | None, flow: Known | None, usual: Band, what: str) -> Known:
    if point is None:
        low, _, high = (1e-3 * limit for limit in usual)
        doubt = f"{what}: {low:g} to {high:g} kPa at the largest flow of the pull assumed, nothing measured"
        return _of_the_pull(scene, usual, what, doubt)
    if flow is None:
        raise CannotAnswer(f"the {what} was measured at one flow, and the flow of this pull is not known")
    return point.at(flow.value, Origin(what, assumed=True))


def _of_the_pull(scene: Scene, limits: Band, of: str, doubt: str) -> Known:
    """A loss that is known at the largest flow of the pull, over the other flows of the pull. [Pa]"""
    share, (low, usual, high) = _flow_share(scene), limits
    return Known(share * usual, {Origin(of, assumed=True): (share * low, share * high)}, "assumed", (doubt,))


def _flow_share(scene: Scene) -> Array:
    """Loss relative to that at the largest flow: (flow over largest flow) to the power 1.8. [1]

    Only the shape of the flow counts, so pressure times engine speed serves where no meter does; a few kelvin of
    charge temperature more or less over a pull are lost in the band.
    """
    for channel in ("air_mass_flow", "manifold_pressure", "charge_pressure"):
        try:
            flow = scene.read(channel) * (1.0 if channel == "air_mass_flow" else scene.rpm)
        except CannotAnswer:
            continue
        largest = np.nanmax(np.where(flow > 0.0, flow, np.nan)) if np.any(flow > 0.0) else np.nan
        return np.where(flow > 0.0, flow / largest, np.nan) ** 1.8
    raise CannotAnswer(
        "neither air mass flow nor manifold pressure nor charge pressure in the log", advice="Log one of the pressures."
    )
