"""Run the cars: mean-value simulation of many pulls at once, in steps of 5 ms.

Gas is kept as mass in two volumes (compressor outlet to throttle, intake manifold), so that it is conserved to
rounding. The stiff parts (column of air in the pipes, throttle, exhaust pressure) are advanced by linearly implicit
Euler steps; everything slower is explicit. Charge pressure, duty, knock retard and road speed are outcomes.
"""

from dataclasses import dataclass, replace
from types import SimpleNamespace

import numpy as np

from validation.air import GAS_CONSTANT, density, vapour_share
from validation.batches import Array, length
from validation.combustion import burn
from validation.control import command, target_pressure
from validation.driving import Controls, gear_ratio, pedal_of, resistance
from validation.gas_exchange import breathe
from validation.runs import NOISE_STEP, Run
from validation.turbomachinery import R_EXHAUST, expand, nozzle

__all__ = ["RECORD_STEP", "SIGNALS", "STEP", "Recording", "simulate"]

STEP = 0.005
RECORD_STEP = 0.01
AFTER = 1.6
"""How long a run goes on after the pedal is lifted. [s]"""
LONGEST = 26.0
KELVIN = 273.15
RPM = 30.0 / np.pi

SIGNALS = (
    "engine_speed",
    "vehicle_speed",
    "pedal_position",
    "throttle_position",
    "manifold_pressure",
    "charge_pressure",
    "compressor_outlet_pressure",
    "charge_pressure_target",
    "wastegate_duty",
    "air_mass_flow",
    "intake_air_temperature",
    "charge_air_temperature",
    "compressor_outlet_temperature",
    "exhaust_gas_temperature",
    "lambda",
    "ignition_timing",
    "knock_retard",
    "turbo_speed",
    "engine_torque",
    "wheel_power",
    "acceleration",
    "gear",
)


@dataclass(frozen=True, slots=True)
class Recording:
    """What happened: `time` (n,) [s]; `signals` by name, each (n, runs), in the units that logs use.

    `full_from` and `full_to` [s], both (runs,), are the instants at which the pedal reached its stop and left it;
    `last` is the index of the last record that belongs to the run.
    """

    time: Array
    signals: dict[str, Array]
    full_from: Array
    full_to: Array
    last: "np.ndarray[tuple[int], np.dtype[np.int64]]"


def simulate(run: Run, trace: "list[dict[str, Array]] | None" = None) -> Recording:
    """Simulate every run of a batch. `trace` collects internal flows and powers of every step, for the tests."""
    cars = _as_driven(run)
    state = _initial(cars)
    controls = Controls(length(run.driver))
    stride = round(RECORD_STEP / STEP)
    kept = np.empty((round(LONGEST / RECORD_STEP) + 1, len(SIGNALS), len(run.driver.gear)), dtype=np.float32)
    step = 0
    while not controls.finished(step * STEP, AFTER) and step * STEP < LONGEST:
        outcome = _advance(cars, state, controls, step * STEP)
        if trace is not None:
            trace.append(outcome)
        if step % stride == 0:
            for index, name in enumerate(SIGNALS):
                kept[step // stride, index] = outcome[name]
        step += 1
    time = np.arange((step - 1) // stride + 1) * RECORD_STEP
    ends = np.where(np.isfinite(controls.lifted_at), controls.lifted_at, step * STEP)
    return Recording(
        time,
        {name: kept[: len(time), index] for index, name in enumerate(SIGNALS)},
        run.driver.press_time + run.driver.press_duration,
        ends,
        np.minimum(((ends + AFTER) / RECORD_STEP).astype(np.int64), len(time) - 1),
    )


def _as_driven(run: Run) -> SimpleNamespace:
    """The run with its hidden effects written into the car: what the integration works on."""
    hidden, car = run.hidden, run.car
    path = replace(
        car.path,
        filter_loss=car.path.filter_loss * (1 + hidden.filter_loss),
        exhaust_loss=car.path.exhaust_loss * (1 + hidden.exhaust_loss),
        core_outside=car.path.core_outside * (1 + hidden.core_air),
    )
    vehicle = replace(
        car.vehicle,
        mass=car.vehicle.mass + hidden.mass,
        rolling=car.vehicle.rolling * (1 + hidden.rolling),
        tyre_radius=car.vehicle.tyre_radius * (1 + hidden.tyre_radius),
    )
    vapour = vapour_share(run.air)
    return SimpleNamespace(
        run=run,
        engine=replace(car.engine, filling=car.engine.filling * (1 + hidden.filling)),
        turbo=replace(car.turbo, efficiency=car.turbo.efficiency * (1 + hidden.efficiency)),
        path=path,
        control=replace(car.control, preload=car.control.preload + hidden.preload),
        vehicle=vehicle,
        vapour=vapour,
        gas=GAS_CONSTANT * (1 + 0.608 * vapour),
        density=density(run.air),
        oxygen=1 - vapour,
        inlet_temperature=run.air.temperature + hidden.underhood,
        noise=np.ascontiguousarray(np.moveaxis(run.noise, 0, 2)),
    )


def _initial(cars: SimpleNamespace) -> SimpleNamespace:
    run = cars.run
    ambient, pressure = run.air.temperature, run.air.pressure
    core = ambient + run.start.core_excess + run.hidden.core_excess
    ratio = gear_ratio(run.car.vehicle, run.driver.gear)
    speed = run.driver.start_speed / RPM / ratio * cars.vehicle.tyre_radius
    zero = np.zeros_like(core)
    return SimpleNamespace(
        shaft=0.3 * np.exp(run.hidden.shaft) * np.sqrt(1.4 * cars.gas * ambient) / cars.turbo.radius,
        flow=0.1 * cars.engine.air_design,
        charge=pressure * cars.path.volume / (cars.gas * core),
        manifold=0.55 * pressure * cars.path.manifold_volume / (cars.gas * core),
        exhaust_pressure=1.05 * pressure,
        gas_out=0.1 * cars.engine.air_design,
        core=core,
        charge_temperature=core,
        wall=run.start.wall + run.hidden.wall,
        lift=zero,
        integral=run.hidden.trim.copy(),
        duty=zero + 1.0,
        retard=zero,
        ignition=zero,
        mixture=zero + 1.0,
        throttle=zero,
        shaft_power=zero,
        speed=speed,
        ratio=ratio,
        gear=run.driver.gear,
        slip=zero + 1.0,
        engine_speed=run.driver.start_speed.copy(),
        distance=zero,
        intake_sensor=core + run.start.housing_excess,
        outlet_sensor=core + 20.0,
        exhaust_sensor=zero + 850.0,
    )


def _advance(cars: SimpleNamespace, state: SimpleNamespace, controls: Controls, now: float) -> dict[str, Array]:
    """One step of everything; returns the signals (and internals) as they were during it."""
    run, control = cars.run, cars.control
    knot, part = divmod(now / NOISE_STEP, 1.0)
    gust, stick, knock = cars.noise[:, int(knot)] * (1 - part) + cars.noise[:, int(knot) + 1] * part
    pedal = pedal_of(run.driver, controls, state.engine_speed, now)
    throttle = _throttle(cars, state, controls, pedal)
    air = breathe(cars, state, throttle, STEP)
    fire = burn(cars, state, air, pedal, knock * run.hidden.knock_noise, STEP)
    hot = _exhaust(cars, state, air, fire)
    wanted = target_pressure(control, run, state)
    sensed = np.where(control.at_compressor > 0, air["outlet"], air["charge"]) + run.hidden.pressure_sensor
    duty = command(cars, state, wanted, sensed, pedal >= 80.0, STEP)
    _actuate(cars, state, air, hot, duty, stick)
    power, acceleration = _roll(cars, state, controls, fire["torque"], gust, now)
    return _signals(cars, state, pedal, throttle, wanted, air, fire, hot, duty, power, acceleration)


def _throttle(cars: SimpleNamespace, state: SimpleNamespace, controls: Controls, pedal: Array) -> Array:
    """Opening of the throttle [1]; diesel engines have none. Closed during a gear change."""
    wanted = np.where(controls.shifting, 0.15, np.clip((pedal - 5.0) / 70.0, 0.0, 1.0))
    state.throttle = state.throttle + STEP / 0.06 * (wanted - state.throttle)
    return np.where(cars.engine.diesel > 0, 1.0, state.throttle)


def _exhaust(
    cars: SimpleNamespace, state: SimpleNamespace, air: dict[str, Array], fire: dict[str, Array]
) -> dict[str, Array]:
    """Manifold wall, turbine, gate and shaft: advance exhaust pressure and shaft speed."""
    engine, turbo = cars.engine, cars.turbo
    gas = air["drawn"] + fire["fuel"]
    leaving = state.wall + (fire["gas_temperature"] - state.wall) * np.exp(-engine.wall_units)
    heating = gas * fire["cp"] * (fire["gas_temperature"] - leaving)
    state.wall = state.wall + STEP / engine.wall_capacity * (
        heating - engine.wall_loss * (state.wall - cars.run.air.temperature)
    )
    behind = cars.run.air.pressure + cars.path.exhaust_loss * state.gas_out * np.abs(state.gas_out)
    before = np.maximum(state.exhaust_pressure, behind * 1.001)
    wheel = expand(turbo, state.shaft, before, behind, leaving)
    open_area = turbo.gate_area * (1.5 * state.lift - 0.5 * state.lift**2)
    gate = open_area * before / np.sqrt(R_EXHAUST * leaving) * nozzle(behind / before)
    stiffness = R_EXHAUST * leaving / (1.0e-3 * engine.displacement * 1e3)
    gain = STEP * stiffness * (gas - wheel.flow - gate) / (1.0 + STEP * stiffness * (wheel.slope + gate / before))
    state.exhaust_pressure = before + gain
    state.gas_out = state.gas_out + STEP / 0.02 * (wheel.flow + gate - state.gas_out)
    drag = turbo.bearing * state.shaft**2
    net = wheel.power - drag - air["compressor_power"]
    energy = 0.5 * turbo.inertia * state.shaft**2 + STEP * net
    floor = 0.12 * 343.0 / turbo.radius
    state.shaft = np.sqrt(np.maximum(2.0 * energy / turbo.inertia, floor**2))
    return {
        "turbine_inlet": leaving,
        "behind": behind,
        "before": before,
        "turbine_flow": wheel.flow,
        "gate_flow": gate,
        "turbine_power": wheel.power,
        "drag": drag,
        "wall_heat": heating,
    }


def _actuate(
    cars: SimpleNamespace,
    state: SimpleNamespace,
    air: dict[str, Array],
    hot: dict[str, Array],
    duty: Array,
    stick: Array,
) -> None:
    """Duty, supply pressure and the exhaust's push on the flap move the gate against its spring."""
    control, hidden = cars.control, cars.run.hidden
    gauge = np.where(control.boost_driven > 0, np.maximum(air["charge"] - cars.run.air.pressure, 0.0), control.supply)
    acting = np.clip(duty * (1.0 + 0.03 * hidden.battery) + hidden.duty, 0.0, 1.0)
    pressure = gauge * (1.0 - control.gain * acting) + control.exhaust_aid * (hot["before"] - hot["behind"])
    wanted = (pressure - control.preload) / control.stiffness + stick * hidden.gate_noise
    state.lift = np.clip(state.lift + STEP / 0.05 * (np.clip(wanted, 0.0, 1.0) - state.lift), 0.0, 1.0)


def _roll(
    cars: SimpleNamespace, state: SimpleNamespace, controls: Controls, torque: Array, gust: Array, now: float
) -> tuple[Array, Array]:
    """Drive the car along; wheel power [W] as the contract has it, and acceleration [m/s2]."""
    run, vehicle = cars.run, cars.vehicle
    torque = np.where(controls.shifting, 0.0, torque)
    effort = torque * state.ratio * vehicle.driveline / vehicle.tyre_radius
    turning = (vehicle.wheel_inertia + state.ratio**2 * vehicle.engine_inertia) / vehicle.tyre_radius**2
    against = resistance(vehicle, run.road, cars.density, state.speed, state.distance, gust)
    acceleration = (effort - against) / (vehicle.mass + turning)
    held = now < run.driver.press_time
    acceleration = np.where(held, 0.0, acceleration)
    state.speed = np.maximum(state.speed + STEP * acceleration, 1.0)
    state.distance = state.distance + STEP * state.speed
    state.slip = 1.0 + vehicle.slip * np.where(held, 0.0, effort) / (vehicle.mass * 9.81)
    state.ratio = controls.change_gear(run.driver, vehicle, state, now)
    state.gear = controls.gear_of(run.driver)
    locked = state.speed / vehicle.tyre_radius * state.ratio * RPM * np.where(held, 1.0, state.slip)
    eased = state.engine_speed + STEP / 0.06 * (locked - state.engine_speed)
    state.engine_speed = np.where(controls.shifting, eased, locked)
    return effort * state.speed, acceleration


def _signals(
    cars: SimpleNamespace,
    state: SimpleNamespace,
    pedal: Array,
    throttle: Array,
    wanted: Array,
    air: dict[str, Array],
    fire: dict[str, Array],
    hot: dict[str, Array],
    duty: Array,
    power: Array,
    acceleration: Array,
) -> dict[str, Array]:
    """Sensors lag; the rest is as it is. Units as logs have them."""
    state.intake_sensor = state.intake_sensor + STEP / 1.2 * (air["intake"] - state.intake_sensor)
    state.outlet_sensor = state.outlet_sensor + STEP / 1.5 * (air["outlet_temperature"] - state.outlet_sensor)
    state.exhaust_sensor = state.exhaust_sensor + STEP / 1.0 * (hot["turbine_inlet"] - state.exhaust_sensor)
    drawn = air | fire | hot
    rolling = state.speed * state.slip / cars.vehicle.tyre_radius * cars.run.car.vehicle.tyre_radius
    return drawn | {
        "flow": state.flow,
        "charge_mass": state.charge,
        "manifold_mass": state.manifold,
        "shaft": state.shaft,
        "lift": state.lift,
        "true_speed": state.speed,
        "engine_speed": state.engine_speed,
        "vehicle_speed": rolling * 3.6,
        "pedal_position": pedal,
        "throttle_position": 100.0 * throttle,
        "manifold_pressure": air["manifold"] * 1e-3,
        "charge_pressure": air["charge"] * 1e-3,
        "compressor_outlet_pressure": air["outlet"] * 1e-3,
        "charge_pressure_target": wanted * 1e-3,
        "wastegate_duty": 100.0 * duty,
        "air_mass_flow": state.flow * 1e3,
        "intake_air_temperature": state.intake_sensor - KELVIN,
        "charge_air_temperature": state.charge_temperature - KELVIN,
        "compressor_outlet_temperature": state.outlet_sensor - KELVIN,
        "exhaust_gas_temperature": state.exhaust_sensor - KELVIN,
        "lambda": state.mixture,
        "ignition_timing": state.ignition,
        "knock_retard": state.retard,
        "turbo_speed": state.shaft * RPM,
        "engine_torque": fire["torque"],
        "wheel_power": power * 1e-3,
        "acceleration": acceleration,
        "gear": state.gear,
    }
