"""The cars: what each consists of. One row a car (or, once handed to a pull, one row a pull). SI units."""

from dataclasses import dataclass

from validation.batches import Array

__all__ = ["AirPath", "BoostControl", "Car", "Engine", "Turbocharger", "Vehicle"]


@dataclass(frozen=True, slots=True)
class Engine:
    """Cylinders, combustion, ignition and mixture."""

    displacement: Array
    """[m3]"""
    cylinders: Array
    redline: Array
    """[rpm]"""
    diesel: Array
    """1 for diesel, 0 for petrol."""
    filling: Array
    """Highest volumetric efficiency, manifold state. [1]"""
    filling_speed: Array
    """Engine speed of the highest filling over the redline. [1]"""
    filling_width: Array
    ripple: Array
    ripple_phase: Array
    backpressure_share: Array
    """Filling lost per unit of exhaust over manifold pressure, less one. [1]"""
    work_share: Array
    """Share of the heat that becomes indicated work at best ignition. [1]"""
    coolant_share: Array
    friction: Array
    """Friction mean effective pressure at standstill. [Pa]"""
    friction_slope: Array
    """Its growth to the redline. [Pa]"""
    wall_capacity: Array
    """Heat capacity of the exhaust manifold. [J/K]"""
    wall_units: Array
    """Transfer units between exhaust gas and manifold wall. [1]"""
    wall_loss: Array
    """[W/K]"""
    lambda_full: Array
    fuel_ratio: Array
    """Diesel: full-load fuel over air at the design point. [1]"""
    fuel_fall: Array
    """Diesel: share of the fuel taken back from 70 % of the redline to the redline. [1]"""
    air_design: Array
    """Air flow at the design point. [kg/s]"""
    border_distance: Array
    """Degrees between best ignition and the knock border at reference conditions. [deg]"""
    map_margin: Array
    """Degrees that the ignition map stays below the reference border. [deg]"""
    border_per_kelvin: Array
    border_per_load: Array
    hot_air_retard: Array
    """Ignition map: retard per kelvin of intake air above 318 K. [deg/K]"""
    knock_rise: Array
    knock_decay: Array


@dataclass(frozen=True, slots=True)
class Turbocharger:
    """Compressor map in head and flow coefficients, turbine, gate and shaft."""

    radius: Array
    """Compressor wheel. [m]"""
    inertia: Array
    """[kg m2]"""
    head: Array
    """Isentropic head coefficient at and below the surge line. [1]"""
    flow_surge: Array
    flow_choke: Array
    """Flow coefficient of zero head at a tip Mach number of 1.2. [1]"""
    efficiency: Array
    """Top of the efficiency island. [1]"""
    flow_best: Array
    mach_best: Array
    efficiency_flow: Array
    efficiency_mach: Array
    turbine_area: Array
    """[m2]"""
    turbine_radius: Array
    """[m]"""
    turbine_efficiency: Array
    bearing: Array
    """Friction torque per shaft speed. [N m s]"""
    gate_area: Array
    """Wastegate, fully lifted. [m2]"""


@dataclass(frozen=True, slots=True)
class AirPath:
    """Filter, pipes, cooler, throttle and exhaust. A loss is pressure drop times density over flow squared. [m-4]"""

    filter_loss: Array
    hot_loss: Array
    cooler_loss: Array
    cold_loss: Array
    exhaust_loss: Array
    """Pressure drop over flow squared. [Pa s2/kg2]"""
    volume: Array
    """Compressor outlet to throttle. [m3]"""
    manifold_volume: Array
    inertance: Array
    """Pipe area over length. [m]"""
    core_capacity: Array
    """Heat capacity of the cooler core. [J/K]"""
    core_inside: Array
    """Transfer units, charge air to core, at 0.1 kg/s. [1]"""
    core_outside: Array
    """Core to ambient air at 30 m/s. [W/K]"""
    pickup: Array
    """Share of the way from charge to coolant temperature that the air goes in the manifold. [1]"""
    throttle_area: Array
    leak_area: Array
    """[m2]"""


@dataclass(frozen=True, slots=True)
class BoostControl:
    """Target, actuator and controller. Pressures in Pa."""

    target: Array
    """Charge pressure asked for, absolute. [Pa]"""
    follows_ambient: Array
    """1 where the target is a gauge pressure, 0 where it is absolute."""
    ratio_limit: Array
    """Largest target over ambient pressure. [1]"""
    taper: Array
    """Share of the gauge target taken back from 75 % of the redline to the redline. [1]"""
    hot_cut: Array
    """Target taken back per kelvin of intake air above 318 K. [Pa/K]"""
    at_compressor: Array
    """1 where the charge pressure sensor sits at the compressor outlet, 0 before the throttle."""
    proportional: Array
    """[1/Pa]"""
    integral: Array
    """[1/(Pa s)]"""
    band: Array
    """Below target by more than this the gate is held shut. [Pa]"""
    feed_forward: Array
    """Duty over engine speed, shape (cars, 25), from 1000 rpm to the redline. [1]"""
    preload: Array
    gain: Array
    """Share of the actuator pressure that full duty takes away. [1]"""
    exhaust_aid: Array
    """Exhaust pressure on the flap, as actuator pressure. [1]"""
    stiffness: Array
    """Actuator pressure for full lift. [Pa]"""
    boost_driven: Array
    """1 for an actuator driven by charge pressure, 0 for one by a constant supply."""
    supply: Array
    """Constant supply. [Pa]"""


@dataclass(frozen=True, slots=True)
class Vehicle:
    """Mass, resistance and gearing."""

    mass: Array
    drag_area: Array
    rolling: Array
    tyre_radius: Array
    tyre: Array
    """Row of the table of tyre sizes."""
    gear_ratios: Array
    """Shape (cars, 6)."""
    final_drive: Array
    driveline: Array
    """Efficiency. [1]"""
    wheel_inertia: Array
    """All four wheels. [kg m2]"""
    engine_inertia: Array
    slip: Array
    """Wheel slip per unit of tractive force over weight. [1]"""


@dataclass(frozen=True, slots=True)
class Car:
    """Everything about a car that a test day does not alter."""

    engine: Engine
    turbo: Turbocharger
    path: AirPath
    control: BoostControl
    vehicle: Vehicle
