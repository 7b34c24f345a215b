"""Air side of the invented car, step by step: intake, compressor, charge pipes, cooler, throttle, manifold.

A mean-value model: pulsations of single cylinders are averaged out, volumes fill and empty. One number at a time in
plain floats, because each step needs the one before it. SI units.

Forms: speed lines as ellipses and the throttle's flow function as an ellipse are usual in control-oriented
engine models (common practice, no source); the numbers are invented.
"""

import math

from pullproof.demo.car import DemoCar
from pullproof.demo.speed_table import SpeedTable
from pullproof.demo.weather import Weather
from pullproof.physics.dry_air import GAS_CONSTANT

__all__ = ["AirSide", "throttle_pressure_ratio"]

HEAT_CAPACITY = 1005.0
"""Of air at constant pressure [J/(kg K)]."""
EXPONENT = 2.0 / 7.0
"""(gamma - 1) / gamma of air."""
CRITICAL_RATIO = 0.5283
CHOKED_FLOW = 0.6847
"""Largest value of the flow function of air. [1]"""


def throttle_pressure_ratio(engine_demand: float, throttle_supply: float) -> float:
    """Manifold over charge pressure at which the throttle passes what the engine draws.

    `engine_demand` is what the engine draws per manifold pressure, `throttle_supply` the choked flow of the throttle
    per charge pressure, both in kg/(s Pa).
    """
    if throttle_supply <= CRITICAL_RATIO * engine_demand:
        return throttle_supply / engine_demand
    width = 1.0 - CRITICAL_RATIO
    leading = (engine_demand / throttle_supply * width) ** 2 + 1.0
    inner = CRITICAL_RATIO**2 - leading * (2.0 * CRITICAL_RATIO - 1.0)
    return (CRITICAL_RATIO + math.sqrt(inner)) / leading


class AirSide:
    """From the filter to the inlet valves, with the state that it carries from step to step."""

    def __init__(self, car: DemoCar, weather: Weather) -> None:
        self._compressor = car.compressor
        self._path = car.charge_path
        self._engine = car.engine
        self._ambient_pressure = weather.pressure
        self._ambient_temperature = weather.temperature
        self._ambient_density = weather.density
        self._vapour = 1.0 / weather.dry_share
        self._volumetric_efficiency = SpeedTable(car.engine.volumetric_efficiency)
        self.inlet_temperature = weather.temperature + 6.0
        self.inlet_pressure = weather.pressure
        self.outlet_pressure = weather.pressure
        self.outlet_temperature = self.inlet_temperature
        self.charge_pressure = weather.pressure
        self.charge_temperature = weather.temperature + 12.0
        self.core_temperature = weather.temperature + 12.0
        self.manifold_pressure = 0.35 * weather.pressure
        self.compressor_flow = 0.004
        self.engine_flow = 0.004
        self.compressor_power = 0.0

    def step(self, dt: float, *, shaft: float, engine_speed: float, throttle: float, road_speed: float) -> None:
        """Advance by `dt` s. Shaft in rad/s, engine speed in rpm, throttle 0 to 1, road speed in m/s."""
        slope = self._compress(dt, shaft)
        self._cool(dt, road_speed)
        drawn = self._draw(dt, engine_speed, throttle)
        self._fill(dt, drawn, slope, closed=throttle < 0.15)

    def _compress(self, dt: float, shaft: float) -> float:
        """Flow through the compressor, the power it takes, and the slope of the speed line [kg/(s Pa)]."""
        wheel, path, flow = self._compressor, self._path, self.compressor_flow
        self.inlet_pressure = self._ambient_pressure - self._engine.intake_loss * flow * flow / self._ambient_density
        bay = self._ambient_temperature + 3.0 + 5.0 / (1.0 + 60.0 * flow)
        self.inlet_temperature += (bay - self.inlet_temperature) * dt / 2.0
        hot = GAS_CONSTANT * self.outlet_temperature / self.outlet_pressure
        cold = GAS_CONSTANT * self.charge_temperature / self.charge_pressure
        resistance = path.hot_pipe.loss * hot + (path.cooler.loss + path.cold_pipe.loss) * cold
        self.outlet_pressure = self.charge_pressure + resistance * flow * flow
        ratio = self.outlet_pressure / self.inlet_pressure
        tip = shaft * wheel.tip_radius
        rise = 1.0 + wheel.head * tip * tip / (HEAT_CAPACITY * self.inlet_temperature)
        highest = math.pow(rise, 1.0 / EXPONENT)
        corrected = self.inlet_pressure / 1e5 / math.sqrt(self.inlet_temperature / 298.0)
        widest = wheel.widest_flow * tip * corrected
        fill = min(ratio / highest, 0.999)
        root = math.sqrt(1.0 - fill * fill)
        slope = -widest * fill / (root * highest * self.inlet_pressure)
        passed = widest * root
        # One Newton step on flow = speed line(pressure before the pipes at that flow).
        self.compressor_flow = max(flow + (passed - flow) / (1.0 - slope * 2.0 * resistance * flow), 1e-4)
        self._heat(max(ratio, 1.0), self.compressor_flow / corrected)
        return slope / (1.0 - slope * 2.0 * resistance * flow)

    def _heat(self, ratio: float, corrected_flow: float) -> None:
        wheel = self._compressor
        efficiency = wheel.best_efficiency
        efficiency -= wheel.flow_fall * (corrected_flow - wheel.best_flow) ** 2
        efficiency -= wheel.rise_fall * (ratio - 1.0 - wheel.best_rise) ** 2
        rise = self.inlet_temperature * (math.pow(ratio, EXPONENT) - 1.0) / max(efficiency, 0.45)
        self.outlet_temperature = self.inlet_temperature + rise
        self.compressor_power = self.compressor_flow * HEAT_CAPACITY * rise

    def _cool(self, dt: float, road_speed: float) -> None:
        cooler, flow = self._path.cooler, self.compressor_flow
        effectiveness = 1.0 - math.exp(-cooler.transfer_units * (0.1 / max(flow, 0.02)) ** 0.2)
        given = effectiveness * (self.outlet_temperature - self.core_temperature)
        face = self._ambient_temperature + 3.0
        taken = cooler.air_side * (0.08 + (road_speed / 10.0) ** 0.65) * (self.core_temperature - face)
        self.core_temperature += (flow * HEAT_CAPACITY * given - taken) * dt / cooler.heat_capacity
        self.charge_temperature = self.outlet_temperature - given

    def _draw(self, dt: float, engine_speed: float, throttle: float) -> tuple[float, float]:
        """What leaves the charge pipe [kg/s], and how that grows with its pressure [kg/(s Pa)]."""
        engine, gas = self._engine, GAS_CONSTANT * self.charge_temperature
        swept = engine.displacement * engine_speed / 120.0
        demand = self._volumetric_efficiency(engine_speed) * swept / (gas * self._vapour)
        open_area = engine.throttle_area * (1.0 - math.cos(throttle * math.pi / 2.0)) + 1.8e-8 * engine_speed
        supply = open_area * CHOKED_FLOW / math.sqrt(gas)
        ratio = throttle_pressure_ratio(demand, supply)
        lag = max(dt, engine.manifold_volume / gas / demand * (1.0 - ratio))
        step = (ratio * self.charge_pressure - self.manifold_pressure) * dt / lag
        self.manifold_pressure += step
        self.engine_flow = demand * self.manifold_pressure
        return self.engine_flow + engine.manifold_volume / gas * step / dt, demand * ratio

    def _leaked(self) -> float:
        """What a hole in the charge path lets out, choked or not. [kg/s]"""
        over = self.charge_pressure - self._ambient_pressure
        if over <= 0.0 or self._path.leak == 0.0:
            return 0.0
        beyond = max(self._ambient_pressure / self.charge_pressure - CRITICAL_RATIO, 0.0) / (1.0 - CRITICAL_RATIO)
        choked = (
            self._path.leak * CHOKED_FLOW * self.charge_pressure / math.sqrt(GAS_CONSTANT * self.charge_temperature)
        )
        return choked * math.sqrt(1.0 - beyond * beyond)

    def _fill(self, dt: float, drawn: tuple[float, float], slope: float, *, closed: bool) -> None:
        """Charge pressure after the step, implicit in the flows so that flat speed lines cannot make it ring."""
        out, out_slope = drawn
        if closed and self.charge_pressure > self._ambient_pressure + 15e3:  # the bypass valve lets it go
            out += 0.15
        out += self._leaked()
        rate = GAS_CONSTANT * self.charge_temperature / self._path.volume
        change = rate * (self.compressor_flow - out) * dt
        self.charge_pressure += change / (1.0 + rate * dt * (out_slope - slope))
