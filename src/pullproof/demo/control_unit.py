"""Control unit of the invented car: boost control, ignition, mixture, knock. Its duty is an outcome, not an input."""

import math

from pullproof.demo.car import DemoCar
from pullproof.demo.chance import Chance
from pullproof.demo.speed_table import SpeedTable
from pullproof.demo.weather import Weather

__all__ = ["ControlUnit"]

SPOOL_ERROR = 14e3
"""Short of the target by more than this, the wastegate is held closed. [Pa]"""


class ControlUnit:
    """The maps and the memory of the control unit. Pressures in Pa, temperatures in K."""

    def __init__(self, car: DemoCar, weather: Weather, chance: Chance) -> None:
        control = car.control
        self._control = control
        self._ambient_pressure = weather.pressure
        self._knock_reserve = car.engine.knock_reserve
        self._chance = chance
        self._target = SpeedTable(control.charge_pressure_target)
        self._feed_forward = SpeedTable(control.duty_feed_forward)
        self._ignition = SpeedTable(control.ignition)
        self._lambda = SpeedTable(control.lambda_target)
        self._sum = 0.0
        self._noise = 0.0
        self.target = weather.pressure
        self.duty = 0.0
        self.ignition = 10.0
        self.knock_retard = 0.0
        self.retard = 0.0
        self.lambda_target = 1.0
        self.mixture = 1.0

    def step(
        self, dt: float, *, engine_speed: float, pedal: float, charge_pressure: float, charge_temperature: float
    ) -> None:
        """Advance by `dt` s; pedal 0 to 1."""
        load = min(max((pedal - 0.2) / 0.6, 0.0), 1.0)
        full = self._target(engine_speed)
        self.target = self._ambient_pressure + load * (full - self._ambient_pressure)
        self._set_duty(dt, engine_speed, charge_pressure, load)
        self._set_ignition(dt, engine_speed, charge_temperature, load)
        self._set_mixture(dt, engine_speed, pedal, load)

    def _set_duty(self, dt: float, engine_speed: float, charge_pressure: float, load: float) -> None:
        self._noise += (900.0 * self._chance.normal() - self._noise) * min(dt / 0.06, 1.0)
        error = self.target - charge_pressure - self._noise
        if load < 0.3:
            self._sum, wanted = 0.0, 0.0
        elif error > SPOOL_ERROR:
            self._sum, wanted = 0.0, 100.0
        else:
            total = self._feed_forward(engine_speed) + self._control.proportional * error + self._sum
            if 0.0 < total < 100.0:  # no winding up while the duty cannot follow
                self._sum += self._control.integral * error * dt
            wanted = min(max(total, 0.0), 100.0)
        self.duty += (wanted - self.duty) * min(dt / 0.03, 1.0)

    def _set_ignition(self, dt: float, engine_speed: float, charge_temperature: float, load: float) -> None:
        hot = charge_temperature - 273.15 - 45.0
        self.knock_retard = max(self.knock_retard - 0.9 * dt, 0.0)
        rate = 0.14 * load * math.exp((hot - self._knock_reserve) / 20.0)
        if load > 0.9 and self._chance.uniform() < rate * dt:
            self.knock_retard = min(self.knock_retard + 0.75 * (1 + int(2.99 * self._chance.uniform())), 6.0)
        self.retard = self.knock_retard + 0.08 * max(hot, 0.0) * load
        self.ignition = self._ignition(engine_speed) + 20.0 * (1.0 - load) - self.retard

    def _set_mixture(self, dt: float, engine_speed: float, pedal: float, load: float) -> None:
        """Mixture follows its target; with the pedal released the fuel is cut and the sensor sees air."""
        self.lambda_target = 1.0 + load * (self._lambda(engine_speed) - 1.0)
        fuel_cut = pedal < 0.01 and engine_speed > 1300.0
        wanted = 2.0 if fuel_cut else self.lambda_target + 0.012 * self._chance.normal()
        self.mixture += (wanted - self.mixture) * min(dt / 0.15, 1.0)
