"""The invented car: every number that the simulation needs, in SI units, as small frozen sheets.

A change to the car is a `dataclasses.replace` on one of them: a wider pipe, another cooler, a rag in the intake,
a raised target. No figure belongs to a real car; they are chosen so that the whole behaves like a two-litre
turbocharged petrol car whose turbocharger works near its limit (common practice, no source).
"""

import math
from dataclasses import dataclass, field

__all__ = [
    "Actuator",
    "ChargePath",
    "Chassis",
    "Compressor",
    "Control",
    "Cooler",
    "Curve",
    "DemoCar",
    "Engine",
    "Exhaust",
    "Pipe",
    "Turbine",
]

Curve = tuple[tuple[float, float], ...]
"""Points (engine speed [rpm], value), rising in engine speed; straight lines between, level outside."""


@dataclass(frozen=True, slots=True)
class Pipe:
    """A pipe of one bore. Lengths in m; `fittings` is the sum of its loss coefficients [1]."""

    bore: float
    length: float
    fittings: float
    friction: float = 0.018
    """Darcy friction factor [1] of smooth pipe at the Reynolds numbers of a pull."""

    @property
    def loss(self) -> float:
        """Loss factor c [1/m4] in `pressure loss = c m^2 / density` (m in kg/s)."""
        return (self.friction * self.length / self.bore + self.fittings) / (2.0 * self.area**2)

    @property
    def area(self) -> float:
        """Flow area. [m2]"""
        return math.pi / 4.0 * self.bore**2

    @property
    def volume(self) -> float:
        """Volume of gas inside. [m3]"""
        return self.area * self.length


@dataclass(frozen=True, slots=True)
class Cooler:
    """Air-to-air charge cooler."""

    loss: float = 1.0e5
    """Loss factor [1/m4], as of a pipe."""
    volume: float = 5.5e-3
    transfer_units: float = 2.6
    """Charge-side number of transfer units [1] at 0.1 kg/s."""
    heat_capacity: float = 6000.0
    """Of the core's metal. [J/K]"""
    air_side: float = 130.0
    """Heat passed to the cooling air at 10 m/s. [W/K]"""


@dataclass(frozen=True, slots=True)
class ChargePath:
    """From the compressor outlet to the throttle."""

    hot_pipe: Pipe = field(default_factory=lambda: Pipe(bore=0.046, length=0.75, fittings=1.8))
    cooler: Cooler = field(default_factory=Cooler)
    cold_pipe: Pipe = field(default_factory=lambda: Pipe(bore=0.057, length=0.85, fittings=0.9))
    leak: float = 0.0
    """Effective area of what lets charge air out: a valve that does not seat, a clamp that does not hold. [m2]"""

    @property
    def volume(self) -> float:
        """Volume that has to be filled before boost stands. [m3]"""
        return self.hot_pipe.volume + self.cooler.volume + self.cold_pipe.volume


@dataclass(frozen=True, slots=True)
class Compressor:
    """Compressor wheel: speed lines as quarter ellipses, efficiency as one island."""

    tip_radius: float = 0.0265
    inertia: float = 1.1e-5
    """Of the whole shaft. [kg m2]"""
    head: float = 0.66
    """Isentropic head over squared tip speed at no flow. [1]"""
    widest_flow: float = 7.6e-4
    """Corrected flow at no pressure rise, per tip speed. [kg/m]"""
    best_efficiency: float = 0.71
    best_flow: float = 0.132
    """Corrected flow of the middle of the island. [kg/s]"""
    best_rise: float = 1.10
    """Pressure ratio minus one of the middle of the island. [1]"""
    flow_fall: float = 9.0
    """Efficiency lost per square of the distance in flow. [s2/kg2]"""
    rise_fall: float = 0.035
    """Efficiency lost per square of the distance in pressure ratio. [1]"""


@dataclass(frozen=True, slots=True)
class Turbine:
    """Turbine and its wastegate valve."""

    area: float = 5.4e-4
    """Effective flow area. [m2]"""
    tip_radius: float = 0.0255
    best_efficiency: float = 0.68
    best_speed_ratio: float = 0.80
    mechanical_efficiency: float = 0.97
    valve_bore: float = 0.026
    valve_discharge: float = 0.7


@dataclass(frozen=True, slots=True)
class Actuator:
    """Spring-loaded can on the wastegate; forces as pressures on the diaphragm. [Pa]"""

    preload: float = 12.0e3
    stiffness: float = 11.0e6
    """Pressure per valve lift. [Pa/m]"""
    flap: float = 0.092
    """Flap area over diaphragm area, levers included: how much the exhaust helps to open. [1]"""
    bleed: float = 0.97
    """Share of the boost that a duty of 100 % keeps away from the can. [1]"""
    lag: float = 0.07
    widest_lift: float = 6e-3


@dataclass(frozen=True, slots=True)
class Exhaust:
    """Behind the turbine."""

    loss: float = 1.5e5
    """Loss factor [1/m4] of catalyst and silencers."""


@dataclass(frozen=True, slots=True)
class Engine:
    """Four-stroke petrol engine."""

    displacement: float = 1.984e-3
    redline: float = 6800.0
    idle: float = 820.0
    volumetric_efficiency: Curve = (
        (800, 0.72), (1800, 0.85), (3000, 0.93), (4500, 0.955), (5500, 0.94), (6200, 0.905), (7000, 0.85),
    )  # fmt: skip
    indicated_efficiency: float = 0.385
    friction: Curve = ((800, 16.0), (2500, 19.0), (4500, 27.0), (7000, 44.0))
    """Torque lost to friction and pumping of the crank case. [N m]"""
    exhaust_temperature: Curve = ((800, 1130.0), (3000, 1185.0), (4500, 1155.0), (6500, 1080.0))
    """At the turbine, full load, lambda 0.85, ignition as calibrated. [K]"""
    stoichiometric: float = 14.6
    heating_value: float = 42.7e6
    throttle_area: float = 2.5e-3
    """Effective, wide open. [m2]"""
    manifold_volume: float = 3.2e-3
    intake_loss: float = 4.6e4
    """Loss factor [1/m4] of filter and intake pipe."""
    knock_reserve: float = 0.0
    """How much hotter the charge may get than with the usual fuel before it knocks. [K]"""


@dataclass(frozen=True, slots=True)
class Control:
    """What the control unit is calibrated to. Curves over engine speed."""

    charge_pressure_target: Curve = (
        (1500, 150e3), (2200, 200e3), (2800, 240e3), (5200, 240e3), (6000, 237e3), (6600, 231e3), (7000, 226e3),
    )  # fmt: skip
    """Absolute, wide open. [Pa]"""
    duty_feed_forward: Curve = ((2000, 80.0), (3500, 84.0), (4500, 88.0), (5500, 91.0), (6200, 93.0), (7000, 92.0))
    """[%]"""
    proportional: float = 0.30e-3
    """[%/Pa]"""
    integral: float = 1.3e-3
    """[%/(Pa s)]"""
    ignition: Curve = ((800, 8.0), (2000, 8.0), (3000, 9.0), (4000, 11.5), (5000, 14.0), (6000, 17.5), (7000, 21.0))
    """Full load, before corrections. [deg]"""
    lambda_target: Curve = ((800, 0.90), (2500, 0.88), (4000, 0.86), (5500, 0.83), (7000, 0.80))
    """Full load. [1]"""


@dataclass(frozen=True, slots=True)
class Chassis:
    """What the engine has to move."""

    mass: float = 1430.0
    tyre: str = "225/45R17"
    rolling_circumference: float = 1.935
    """[m] 3.05 times the tyre's nominal diameter (rule of thumb for radial tyres, from memory)."""
    gear_ratios: tuple[float, ...] = (3.55, 2.10, 1.46, 1.09, 0.86, 0.72)
    final_drive: float = 3.90
    rotating_mass_factor: tuple[float, ...] = (1.42, 1.19, 1.10, 1.07, 1.05, 1.04)
    drag_area: float = 0.68
    rolling_resistance: float = 0.012
    driveline_efficiency: float = 0.91

    def rpm_per_speed(self, gear: int) -> float:
        """Engine speed over road speed in a gear counted from 1. [rpm s/m]"""
        return 60.0 * self.gear_ratios[gear - 1] * self.final_drive / self.rolling_circumference


@dataclass(frozen=True, slots=True)
class DemoCar:
    """One invented car in one state of build."""

    name: str = "harbour coupe"
    engine: Engine = field(default_factory=Engine)
    control: Control = field(default_factory=Control)
    compressor: Compressor = field(default_factory=Compressor)
    charge_path: ChargePath = field(default_factory=ChargePath)
    turbine: Turbine = field(default_factory=Turbine)
    actuator: Actuator = field(default_factory=Actuator)
    exhaust: Exhaust = field(default_factory=Exhaust)
    chassis: Chassis = field(default_factory=Chassis)
