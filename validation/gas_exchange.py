"""The cold side: filter, compressor, pipes, cooler, throttle and cylinders filling, advanced by one step.

Flow in the pipes, gas in the charge volume and gas in the manifold form a stiff chain; one linearly implicit step
solves the three together and books the very flows it used, so that no gas is made or lost.
"""

from types import SimpleNamespace

import numpy as np

from validation.batches import Array
from validation.cars import Engine
from validation.turbomachinery import CP_AIR, compress, nozzle

__all__ = ["breathe"]


def breathe(cars: SimpleNamespace, state: SimpleNamespace, throttle: Array, step: float) -> dict[str, Array]:
    """Filter, compressor, pipes, cooler, throttle and cylinders: advance flow, volumes and the cooler's core."""
    path, engine, run, gas = cars.path, cars.engine, cars.run, cars.gas
    ambient = run.air.pressure
    inlet = ambient - path.filter_loss * state.flow * np.abs(state.flow) / cars.density
    squeeze = compress(cars.turbo, state.shaft, np.maximum(state.flow, 1e-4), inlet, cars.inlet_temperature, gas)
    outlet = inlet * squeeze.ratio
    charge_share = gas * state.charge_temperature / path.volume
    charge = state.charge * charge_share
    intake = state.charge_temperature + path.pickup * (363.0 - state.charge_temperature)
    manifold_share = gas * intake / path.manifold_volume
    manifold = state.manifold * manifold_share
    resist = (
        path.hot_loss * gas * squeeze.temperature / outlet
        + path.cooler_loss * gas * 0.5 * (squeeze.temperature + state.charge_temperature) / charge
        + path.cold_loss * gas * state.charge_temperature / charge
    )
    area = path.throttle_area * (0.01 + 0.99 * throttle**2.3)
    gate, gate_before, gate_behind = _throttle_flow(area, charge, manifold, gas * state.charge_temperature)
    filling = _filling(engine, state.engine_speed, state.exhaust_pressure / manifold)
    breath = filling * engine.displacement * state.engine_speed / (120.0 * gas * intake)
    excess = np.maximum(charge - ambient, 0.0)
    leak = (
        path.leak_area
        * charge
        / np.sqrt(gas * state.charge_temperature)
        * nozzle(ambient / np.maximum(charge, ambient))
    )
    dump = np.where((throttle < 0.25) & (engine.diesel == 0), 4e-7, 0.0) * excess
    lost = leak + dump
    flow, charge_gain, manifold_gain = _coupled(
        path.inertance,
        outlet - charge - resist * state.flow * np.abs(state.flow),
        inlet * squeeze.slope
        - 2 * resist * np.abs(state.flow)
        - path.filter_loss * 2 * np.abs(state.flow) * squeeze.ratio / cars.density,
        (charge_share, manifold_share),
        (gate, gate_before, gate_behind),
        (breath * manifold, breath),
        state.flow,
        lost,
        step,
    )
    drawn = breath * (manifold + manifold_share * manifold_gain)
    state.flow = flow
    state.charge = state.charge + charge_gain
    state.manifold = state.manifold + manifold_gain
    cooled = _cool(cars, state, squeeze.temperature, step)
    return {
        "inlet": inlet,
        "outlet": outlet,
        "charge": charge,
        "manifold": manifold,
        "intake": intake,
        "drawn": drawn,
        "lost": lost,
        "ratio": squeeze.ratio,
        "outlet_temperature": squeeze.temperature,
        "compressor_power": squeeze.power,
        "efficiency": squeeze.efficiency,
        "cooled": cooled,
    }


def _throttle_flow(area: Array, before: Array, behind: Array, energy: Array) -> tuple[Array, Array, Array]:
    """Flow through the throttle and its slopes over the pressure before and (negative) behind it."""
    ratio = np.clip(behind / before, 0.5, 0.9995)
    capacity = np.sqrt(2.0 * ratio * (1.0 - ratio))
    scale = area / np.sqrt(energy)
    flow = scale * before * capacity
    slope = np.maximum(2.0 * ratio - 1.0, 0.0) / capacity
    reverse = behind > before
    steep = scale * 40.0
    flow = np.where(reverse, steep * (before - behind), flow)
    return flow, np.where(reverse, steep, scale * (capacity + ratio * slope)), np.where(reverse, steep, scale * slope)


def _filling(engine: Engine, speed: Array, back_pressure: Array) -> Array:
    share = speed / engine.redline - engine.filling_speed
    wave = engine.ripple * np.sin(20.0 * share + engine.ripple_phase)
    shape = 1.0 - engine.filling_width * share**2 + wave
    pressed = 1.0 - engine.backpressure_share * (back_pressure - 1.0)
    return engine.filling * shape * np.clip(pressed, 0.6, 1.1)


def _coupled(
    inertance: Array,
    force: Array,
    force_slope: Array,
    shares: tuple[Array, Array],
    throttle: tuple[Array, Array, Array],
    breath: tuple[Array, Array],
    flow: Array,
    lost: Array,
    step: float,
) -> tuple[Array, Array, Array]:
    """Linearly implicit step of air column, charge volume and manifold: new flow [kg/s] and the gains [kg].

    The three are a chain (flow, charge mass, manifold mass), so the 3 by 3 system is solved by elimination.
    """
    through, before, behind = throttle
    drawn, draw_slope = breath
    charge_share, manifold_share = shares
    column = 1.0 - step * inertance * force_slope
    push = step * inertance * force / column
    pull = step * inertance * charge_share / column
    manifold_free = step * (through - drawn)
    manifold_stiff = 1.0 + step * manifold_share * (behind + draw_slope)
    link = step * before * charge_share
    back = step * behind * manifold_share
    gain = (step * (flow + push - through - lost) + back * manifold_free / manifold_stiff) / (
        1.0 + link + step * pull - back * link / manifold_stiff
    )
    return flow + push - pull * gain, gain, (manifold_free + link * gain) / manifold_stiff


def _cool(cars: SimpleNamespace, state: SimpleNamespace, hot: Array, step: float) -> Array:
    """Charge air leaves the cooler; the core stores the difference. Returns the heat given to the core [W]."""
    path, run = cars.path, cars.run
    flow = np.maximum(state.flow, 1e-3)
    units = path.core_inside * (0.1 / flow) ** 0.2
    leaving = state.core + (hot - state.core) * np.exp(-units)
    given = flow * CP_AIR * (hot - leaving)
    wind = path.core_outside * ((state.speed + 3.0) / 33.0) ** 0.7 * (cars.density / 1.2)
    state.core = state.core + step / path.core_capacity * (given - wind * (state.core - run.air.temperature))
    state.charge_temperature = state.charge_temperature + step / 0.03 * (leaving - state.charge_temperature)
    return given
