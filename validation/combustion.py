"""Cylinders: mixture, knock-limited ignition, torque and exhaust heat, with energy accounted for to the last watt.

The heat of the fuel that finds oxygen goes into indicated work, coolant and exhaust. Ignition short of the best angle
moves work into the exhaust. Petrol knocks where the ignition map passes a border that depends on intake temperature,
load, octane and humidity; the control then takes ignition back and returns it slowly. Diesel burns what is injected.
"""

from types import SimpleNamespace

import numpy as np

from validation.batches import Array

__all__ = ["burn"]

PETROL_HEAT = 42.9e6
DIESEL_HEAT = 42.6e6
PETROL_RATIO = 14.6
DIESEL_RATIO = 14.5
IGNITION_LOSS = 5.2e-4
"""Share of work lost per degree squared short of the best angle."""


def burn(
    cars: SimpleNamespace, state: SimpleNamespace, air: dict[str, Array], pedal: Array, knock: Array, step: float
) -> dict[str, Array]:
    """Torque [N m], fuel [kg/s], gas temperature [K] and the heat balance [W]; advances mixture and ignition."""
    engine, hidden = cars.engine, cars.run.hidden
    oxygen = air["drawn"] * cars.oxygen
    diesel = engine.diesel > 0
    injected = _injected(cars, state, oxygen, pedal)
    wanted = _mixture(cars, state, pedal) * (1.0 + hidden.mixture)
    mixture = np.where(diesel, oxygen / (DIESEL_RATIO * np.maximum(injected, 1e-6)), wanted)
    mixture = np.minimum(mixture, 8.0)
    state.mixture = state.mixture + step / 0.08 * (mixture - state.mixture)
    fired = pedal > 1.0
    rich = np.where(fired, oxygen / (PETROL_RATIO * wanted), 0.0)
    fuel = np.where(diesel, injected, rich)
    lean_side = np.minimum(wanted, 1.0)
    burnt = np.where(diesel, injected * DIESEL_HEAT, rich * PETROL_HEAT * lean_side * (1.0 - 0.25 * (1.0 - lean_side)))
    heat = burnt * (1.0 + hidden.heating)
    short = _ignite(cars, state, air, knock, step)
    share = engine.work_share * (1.0 + hidden.work) * np.where(diesel, 1.0, 1.0 - IGNITION_LOSS * short**2)
    work = share * heat
    coolant = engine.coolant_share * heat
    cp = 1180.0 + np.where(diesel, 0.0, 500.0 * (1.0 - lean_side))
    exhaust = heat - work - coolant
    temperature = air["intake"] + exhaust / (np.maximum(air["drawn"] + fuel, 1e-4) * cp)
    return {
        "torque": _torque(cars, state, air, work),
        "fuel": fuel,
        "gas_temperature": np.minimum(temperature, 1700.0),
        "cp": cp,
        "heat": heat,
        "work": work,
        "coolant": coolant,
        "exhaust_heat": exhaust,
    }


def _mixture(cars: SimpleNamespace, state: SimpleNamespace, pedal: Array) -> Array:
    """Lambda that the control unit asks for: richer at full pedal and high speed."""
    engine = cars.engine
    along = np.clip((state.engine_speed / engine.redline - 0.4) / 0.4, 0.0, 1.0)
    return np.where(pedal < 80.0, 1.0, 0.97 + (engine.lambda_full - 0.97) * along)


def _injected(cars: SimpleNamespace, state: SimpleNamespace, oxygen: Array, pedal: Array) -> Array:
    """Diesel: fuel by pedal and speed, held back where the air would smoke. [kg/s]"""
    engine = cars.engine
    speed = state.engine_speed / engine.redline
    per_stroke = engine.fuel_ratio * engine.air_design / 0.85
    full = per_stroke * speed * (1.0 - engine.fuel_fall * np.clip((speed - 0.7) / 0.3, 0.0, 1.0))
    asked = np.where(pedal < 80.0, 0.2 * pedal / 20.0, 1.0) * full
    return np.where(pedal > 1.0, np.minimum(asked, oxygen / (DIESEL_RATIO * 1.12)), 0.0)


def _ignite(cars: SimpleNamespace, state: SimpleNamespace, air: dict[str, Array], knock: Array, step: float) -> Array:
    """Degrees short of the best ignition; advances knock control."""
    engine, hidden = cars.engine, cars.run.hidden
    speed = state.engine_speed / engine.redline
    filled = air["drawn"] / (engine.air_design / 0.85 * np.maximum(speed, 0.15))
    best = 10.0 + 16.0 * speed + 14.0 * np.clip(1.0 - filled, -0.3, 0.75)
    reference = best - engine.border_distance * np.clip(filled, 0.0, 1.2)
    border = (
        reference
        - engine.border_per_kelvin * (air["intake"] - 318.0)
        - engine.border_per_load * np.clip(filled - 1.0, -0.5, 0.3)
        + 0.8 * hidden.octane
        + 150.0 * (cars.vapour - 0.007)
        + 4.0 * speed
        - 3.4
        + knock
    )
    felt = state.intake_sensor + hidden.temperature_sensor
    wanted = reference - engine.map_margin - engine.hot_air_retard * np.maximum(felt - 318.0, 0.0)
    excess = np.maximum(wanted - state.retard - border, 0.0) * (filled > 0.5)
    change = engine.knock_rise * excess - engine.knock_decay * state.retard
    state.retard = np.clip(state.retard + step * np.where(engine.diesel > 0, 0.0, change), 0.0, 10.0)
    state.ignition = wanted - state.retard
    return np.clip(best - state.ignition, 0.0, 30.0)


def _torque(cars: SimpleNamespace, state: SimpleNamespace, air: dict[str, Array], work: Array) -> Array:
    """Indicated work less friction and gas exchange. [N m]"""
    engine = cars.engine
    speed = state.engine_speed * np.pi / 30.0
    share = state.engine_speed / engine.redline
    friction = (engine.friction + engine.friction_slope * share**2) * (1.0 + cars.run.hidden.friction)
    exchange = state.exhaust_pressure - air["manifold"]
    return work / speed - (friction + exchange) * engine.displacement / (4.0 * np.pi)
