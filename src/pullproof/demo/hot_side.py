"""Exhaust side of the invented car, step by step: turbine, wastegate with its actuator, back pressure, shaft.

SI units, one number at a time. The power balance is the usual one of turbine and compressor on one shaft; the pulsating
flow of a real exhaust is averaged out.
"""

import math

from pullproof.demo.car import DemoCar
from pullproof.demo.weather import Weather

__all__ = ["HotSide", "pressure_before"]

GAS = 287.0
HEAT_CAPACITY = 1150.0
"""Of exhaust gas at constant pressure [J/(kg K)]."""
EXPONENT = 0.33 / 1.33
CRITICAL_RATIO = 0.540
CHOKED_FLOW = 0.673
"""Largest value of the flow function at an isentropic exponent of 1.33. [1]"""


def pressure_before(flow: float, area: float, temperature: float, behind: float) -> float:
    """Pressure [Pa] that drives a flow [kg/s] of exhaust gas through an area [m2] against a pressure behind it."""
    choked = flow * math.sqrt(GAS * temperature) / (area * CHOKED_FLOW)
    if choked * CRITICAL_RATIO >= behind:
        return choked
    width = 1.0 - CRITICAL_RATIO
    leading = width * width - CRITICAL_RATIO * CRITICAL_RATIO
    middle = CRITICAL_RATIO * behind
    return (math.sqrt(middle * middle + leading * (behind * behind + (width * choked) ** 2)) - middle) / leading


class HotSide:
    """From the exhaust valves to the tail pipe, and the shaft."""

    def __init__(self, car: DemoCar, weather: Weather) -> None:
        self._turbine = car.turbine
        self._actuator = car.actuator
        self._exhaust = car.exhaust
        self._inertia = car.compressor.inertia
        self._ambient_pressure = weather.pressure
        self._friction = 0.0
        self.shaft = 1500.0
        self.lift = 0.0
        self.temperature = 700.0
        self.pressure = weather.pressure + 2e3
        self.back_pressure = weather.pressure + 1e3

    def stick(self, friction: float) -> None:
        """Set the actuator's friction of the day or the pull, as a pressure on its diaphragm. [Pa]"""
        self._friction = friction

    def step(
        self, dt: float, *, flow: float, temperature: float, duty: float, boost: float, compressor_power: float
    ) -> None:
        """Advance by `dt` s. Exhaust flow in kg/s, its temperature in K, duty in %, boost in Pa above ambient."""
        turbine = self._turbine
        self.temperature += (temperature - self.temperature) * dt / 0.6
        self._move_valve(dt, duty, boost)
        gas = GAS * 0.9 * self.temperature
        self.back_pressure = self._ambient_pressure + self._exhaust.loss * flow * flow * gas / self.back_pressure
        gate = turbine.valve_discharge * math.pi * turbine.valve_bore * self.lift
        area = turbine.area + gate
        self.pressure = pressure_before(flow, area, self.temperature, self.back_pressure)
        drop = 2.0 * HEAT_CAPACITY * self.temperature * (1.0 - (self.back_pressure / self.pressure) ** EXPONENT)
        blade = self.shaft * turbine.tip_radius / math.sqrt(max(drop, 1.0)) / turbine.best_speed_ratio
        efficiency = turbine.best_efficiency * max(blade * (2.0 - blade), 0.1)
        power = flow * turbine.area / area * 0.5 * drop * efficiency * turbine.mechanical_efficiency
        energy = 0.5 * self._inertia * self.shaft**2 + (power - compressor_power) * dt
        self.shaft = math.sqrt(max(2.0 * energy / self._inertia, 800.0**2))

    def _move_valve(self, dt: float, duty: float, boost: float) -> None:
        actuator = self._actuator
        can = max(boost, 0.0) * (1.0 - actuator.bleed * duty / 100.0)
        push = can + actuator.flap * (self.pressure - self.back_pressure) - actuator.preload - self._friction
        lift = min(max(push / actuator.stiffness, 0.0), actuator.widest_lift)
        self.lift += (lift - self.lift) * dt / max(actuator.lag, dt)
