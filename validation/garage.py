"""Draw random cars whose parts fit one another, as a development team would have chosen them.

The boost target, the losses and the turbine's back pressure are drawn at one design point (85 % of the redline,
20 degC, 100 kPa); wheel sizes, turbine and gate areas and the actuator follow from the balance there. So the duty
that a car needs, and how near to its limit it runs, is an outcome and differs from car to car.
"""

from dataclasses import dataclass, replace

import numpy as np

from validation.air import GAS_CONSTANT
from validation.batches import Array, join
from validation.cars import AirPath, BoostControl, Car, Engine, Turbocharger, Vehicle
from validation.turbomachinery import CP_AIR, CP_EXHAUST, EXPANSION, R_EXHAUST, nozzle, swallow

__all__ = ["CAR_STREAM", "FEED_FORWARD_POINTS", "TYRES", "draw_car", "draw_cars"]

CAR_STREAM = 11
"""Keeps the random numbers of cars apart from those of days, runs and loggers under the same seed."""

FEED_FORWARD_POINTS = 25
TYRES = ("195/55R15", "205/50R16", "225/45R17", "225/40R18", "235/35R19", "245/40R18")


@dataclass(frozen=True, slots=True)
class _Point:
    """The design point: what the sizes are derived from. SI."""

    speed: float
    """[rpm]"""
    air: float
    fuel_share: float
    inlet: float
    manifold: float
    outlet: float
    exhaust_temperature: float


def draw_cars(seeds: "list[int]") -> Car:
    """One car a seed; the same seed always gives the same car, whoever else is in the batch."""
    return join([draw_car(seed) for seed in seeds])


def draw_car(seed: int) -> Car:
    """One random car, a batch of one row. The feed-forward is flat until `calibration` has measured it."""
    rng = np.random.default_rng([seed, CAR_STREAM])
    diesel = float(rng.random() < 0.2)
    engine = _engine(rng, diesel)
    target = 1e5 + (rng.uniform(100e3, 150e3) if diesel else rng.uniform(65e3, 150e3))
    path, point, engine = _path(rng, engine, target)
    turbo, duty_point = _turbo(rng, point, path)
    return Car(engine, turbo, path, _control(rng, target, duty_point), _vehicle(rng, engine))


def _row(**values: float) -> dict[str, Array]:
    return {name: np.atleast_1d(np.asarray(value, dtype=float)) for name, value in values.items()}


def _engine(rng: np.random.Generator, diesel: float) -> Engine:
    litres = (
        rng.choice([1.5, 1.6, 1.9, 2.0, 2.2, 3.0]) if diesel else rng.choice([1.4, 1.5, 1.6, 1.8, 2.0, 2.3, 2.5, 3.0])
    )
    redline = rng.uniform(4400, 5000) if diesel else rng.uniform(6100, 7200)
    cylinders = 6 if litres > 2.6 else int(rng.choice([3, 4])) if litres < 1.65 else 4
    return Engine(
        **_row(
            displacement=litres * 1e-3,
            cylinders=cylinders,
            redline=round(redline / 100) * 100,
            diesel=diesel,
            filling=rng.uniform(0.88, 1.0),
            filling_speed=rng.uniform(0.55, 0.75),
            filling_width=rng.uniform(0.35, 0.8),
            ripple=rng.uniform(0.005, 0.02),
            ripple_phase=rng.uniform(0, 6.28),
            backpressure_share=rng.uniform(0.06, 0.14),
            work_share=rng.uniform(0.41, 0.44) if diesel else rng.uniform(0.37, 0.40),
            coolant_share=rng.uniform(0.18, 0.24),
            friction=rng.uniform(55e3, 80e3),
            friction_slope=rng.uniform(70e3, 120e3),
            wall_capacity=rng.uniform(2000, 5000),
            wall_units=rng.uniform(0.08, 0.2),
            wall_loss=rng.uniform(5, 12),
            lambda_full=rng.uniform(1.2, 1.35) if diesel else rng.uniform(0.79, 0.90),
            fuel_ratio=0.0,
            fuel_fall=rng.uniform(0.05, 0.25),
            air_design=0.0,
            border_distance=rng.uniform(4, 11),
            map_margin=rng.normal(0.0, 1.2),
            border_per_kelvin=rng.uniform(0.10, 0.25),
            border_per_load=rng.uniform(8, 18),
            hot_air_retard=rng.uniform(0.0, 0.25),
            knock_rise=rng.uniform(2, 5),
            knock_decay=rng.uniform(0.15, 0.6),
        )
    )


def _path(rng: np.random.Generator, engine: Engine, target: float) -> tuple[AirPath, _Point, Engine]:
    speed = 0.85 * engine.redline[0]
    throttle_drop = rng.uniform(0.8e3, 2.5e3)
    manifold = target - throttle_drop
    filling = engine.filling[0] * 0.96
    air = filling * manifold * engine.displacement[0] * speed / (120 * GAS_CONSTANT * 318.0)
    inlet_drop, hot, cooler, cold = rng.uniform((1.5e3, 1e3, 3e3, 1e3), (4e3, 4e3, 9e3, 4e3))
    exhaust_drop = rng.uniform(10e3, 28e3)
    diesel = engine.diesel[0] > 0
    fuel_share = 1 / (14.5 * engine.lambda_full[0]) if diesel else 1 / (14.6 * engine.lambda_full[0])
    dense = target / (GAS_CONSTANT * 320.0)
    outlet = target + hot + cooler + cold
    path = AirPath(
        **_row(
            filter_loss=inlet_drop * 1.19 / air**2,
            hot_loss=hot * outlet / (GAS_CONSTANT * 390.0) / air**2,
            cooler_loss=cooler * dense * 0.92 / air**2,
            cold_loss=cold * dense / air**2,
            exhaust_loss=exhaust_drop / (air * (1 + fuel_share)) ** 2,
            volume=rng.uniform(4e-3, 11e-3),
            manifold_volume=engine.displacement[0] * rng.uniform(1.2, 2.2),
            inertance=rng.uniform(0.8e-3, 2e-3),
            core_capacity=rng.uniform(2.0e3, 7.0e3),
            core_inside=rng.uniform(1.8, 3.2),
            core_outside=rng.uniform(250, 600) * air / 0.2,
            pickup=rng.uniform(0.02, 0.08),
            throttle_area=air * np.sqrt(GAS_CONSTANT * 320.0) / target / np.sqrt(2 * throttle_drop / target),
            leak_area=0.0,
        )
    )
    point = _Point(
        speed,
        air,
        fuel_share,
        1e5 - inlet_drop,
        manifold,
        outlet,
        rng.uniform(880, 980) if diesel else rng.uniform(1120, 1230),
    )
    return path, point, replace(engine, **_row(air_design=air, fuel_ratio=fuel_share if diesel else 0.0))


def _turbo(rng: np.random.Generator, point: _Point, path: AirPath) -> tuple[Turbocharger, tuple[float, float, float]]:
    """Wheel, turbine and gate, and (lift share, exhaust back pressure [Pa], actuator stiffness [Pa]) at the point."""
    head, along = rng.uniform(0.68, 0.76), rng.uniform(0.45, 0.72)
    rise = CP_AIR * 298.0 * ((point.outlet / point.inlet) ** (1 / 3.5) - 1)
    tip = np.sqrt(rise / (head * (1 - along**3)))
    coefficient = rng.uniform(0.13, 0.17)
    radius = np.sqrt(point.air / (point.inlet / (GAS_CONSTANT * 298.0) * np.pi * tip * coefficient))
    surge = coefficient * rng.uniform(0.25, 0.45)
    mach = tip / np.sqrt(1.4 * GAS_CONSTANT * 298.0)
    choke = (surge + (coefficient - surge) / along) / (1.3 - 0.25 * mach)
    efficiency = rng.uniform(0.70, 0.77)
    power = point.air * rise / (0.9 * efficiency)
    gas = point.air * (1 + point.fuel_share)
    behind = 1e5 + path.exhaust_loss[0] * gas**2
    turbine = rng.uniform(0.68, 0.74)
    before, share = _back_pressure(rng.uniform(1.0, 1.4) * point.outlet, behind, power, gas, turbine, point)
    flow = gas * np.sqrt(R_EXHAUST * point.exhaust_temperature) / before
    lift = rng.uniform(0.22, 0.42)
    gate = max((1 - share) * flow / nozzle(np.array(behind / before)), 0.25 * share * flow) / _opening(lift)
    wheels = Turbocharger(
        **_row(
            radius=radius,
            inertia=2.0e-5 * (radius / 0.025) ** 5 * rng.uniform(0.8, 1.3),
            head=head,
            flow_surge=surge,
            flow_choke=choke,
            efficiency=efficiency,
            flow_best=coefficient * rng.uniform(0.62, 0.88),
            mach_best=mach * rng.uniform(0.85, 1.0),
            efficiency_flow=rng.uniform(0.5, 1.1),
            efficiency_mach=rng.uniform(0.1, 0.4),
            turbine_area=share * flow / swallow(np.array(behind / before)),
            turbine_radius=radius * rng.uniform(0.92, 1.05),
            turbine_efficiency=turbine,
            bearing=0.03 * power / (tip / radius) ** 2,
            gate_area=gate,
        )
    )
    return wheels, (lift, before - behind, rng.uniform(35e3, 70e3))


def _back_pressure(
    before: float, behind: float, power: float, gas: float, efficiency: float, point: _Point
) -> tuple[float, float]:
    """Turbine inlet pressure [Pa] and the share of gas through the wheel, at most 93 % of it."""
    while True:
        drop = CP_EXHAUST * point.exhaust_temperature * (1 - (behind / before) ** EXPANSION)
        share = power / (0.97 * gas * drop * efficiency * 0.97)
        if share < 0.93:
            return before, share
        before *= 1.02


def _opening(lift: float) -> float:
    return 1.5 * lift - 0.5 * lift**2


def _control(rng: np.random.Generator, target: float, duty_point: tuple[float, float, float]) -> BoostControl:
    lift, across, stiffness = duty_point
    boost_driven = float(rng.random() < 0.75)
    supply = rng.uniform(60e3, 75e3)
    gain, aid = rng.uniform(0.9, 1.0), rng.uniform(0.2, 0.45)
    drive = (target - 1e5) if boost_driven else supply
    duty = rng.uniform(0.52, 0.88)
    plant = stiffness / (gain * drive)
    # Some control units follow their table and correct little: boost is held loosely, and weather shows in it.
    grip = rng.uniform(0.05, 0.3) if rng.random() < 0.15 else 1.0
    return BoostControl(
        **_row(
            target=target,
            follows_ambient=float(rng.random() < 0.3),
            ratio_limit=target / 1e5 * rng.uniform(1.05, 1.2),
            taper=max(rng.uniform(-0.05, 0.18), 0.0),
            hot_cut=max(rng.uniform(-300, 400), 0.0),
            at_compressor=float(rng.random() < 0.15),
            proportional=np.sqrt(grip) * plant * rng.uniform(0.6, 1.2) / 60e3,
            integral=grip * plant * rng.uniform(1.5, 4.0) / 60e3,
            band=rng.uniform(8e3, 22e3),
            preload=(1 - gain * duty) * drive + aid * across - stiffness * lift,
            gain=gain,
            exhaust_aid=aid,
            stiffness=stiffness,
            boost_driven=boost_driven,
            supply=supply,
        ),
        feed_forward=np.full((1, FEED_FORWARD_POINTS), duty),
    )


def _vehicle(rng: np.random.Generator, engine: Engine) -> Vehicle:
    litres, diesel = engine.displacement[0] * 1e3, engine.diesel[0] > 0
    tyre = int(rng.integers(len(TYRES)))
    radius = tyre_radius(TYRES[tyre]) * rng.uniform(0.965, 0.985)
    ratios = np.array([3.5, 2.06, 1.45, 1.10, 0.88, 0.73]) * rng.uniform(0.95, 1.05, 6)
    top = rng.uniform(92, 115) if diesel else rng.uniform(108, 138)
    final = engine.redline[0] * np.pi / 30 * radius * 3.6 / (top * ratios[2])
    return Vehicle(
        **_row(
            mass=1050 + 190 * litres + rng.uniform(-100, 250),
            drag_area=rng.uniform(0.58, 0.78),
            rolling=rng.uniform(0.010, 0.015),
            tyre_radius=radius,
            tyre=tyre,
            final_drive=round(final, 3),
            driveline=rng.uniform(0.86, 0.93),
            wheel_inertia=rng.uniform(3.5, 5.5),
            engine_inertia=0.06 + 0.06 * litres * rng.uniform(0.8, 1.4),
            slip=rng.uniform(0.02, 0.08),
        ),
        gear_ratios=np.round(ratios, 3)[None, :],
    )


def tyre_radius(size: str) -> float:
    """Free radius of a tyre by its size, as moulded on it. [m]"""
    width, rest = size.split("/")
    aspect, rim = rest.split("R")
    return (2 * float(width) * float(aspect) / 100 + float(rim) * 25.4) / 2000
