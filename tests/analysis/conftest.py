"""A car on a road, simulated from its own equations: nothing here is shared with the analysis that is tested."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air
from pullproof.pulls import Pull
from pullproof.reading.log import Log

FREE_FALL = 9.80665


@dataclass(frozen=True)
class Road:
    """What the car meets. `grade` rises with the run, `headwind` in m/s."""

    grade: float = 0.0
    headwind: float = 0.0
    air_density: float = 1.2


@dataclass(frozen=True)
class TrueCar:
    """What the car really is. The sheet of `sheet()` says the same, unless a test changes one of them."""

    mass: float = 1510.0
    rotating_mass_factor: float = 1.09
    drag_area: float = 0.70
    rolling_resistance: float = 0.012
    rolling_rise: float = 0.0
    """More of it at 100 km/h faster, relative, about 80 km/h; in a coast-down only."""
    ratio: float = 1.47 * 3.94
    circumference: float = 3.05 * 0.6471
    slip_at_full_load: float = 0.0
    growth_at_40_m_s: float = 0.0
    boost_time: float = 0.6
    driveline: float = 0.90

    def turns(self, speed: float, force: float) -> float:
        """Engine speed in rpm."""
        circumference = self.circumference * (1.0 + self.growth_at_40_m_s * (speed / 40.0) ** 2)
        slip = self.slip_at_full_load * force / 6000.0
        return speed / (circumference * (1.0 - slip)) * self.ratio * 60.0

    def force(self, speed: float, boost: float) -> float:
        """At the wheels; torque of an engine whose charger fades at the top."""
        rpm = self.turns(speed, 0.0)
        torque = 170.0 * (1.0 - ((rpm - 4200.0) / 6500.0) ** 2)
        torque += 190.0 * boost * math.exp(-((max(0.0, rpm - 4800.0) / 2600.0) ** 2))
        return torque * self.ratio * self.driveline * 2.0 * math.pi / self.circumference


@dataclass(frozen=True)
class Run:
    """A pull as it really was."""

    car: TrueCar
    road: Road
    seconds: float
    solution: object = field(repr=False)

    def truth(self, time: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Engine speed in rpm and wheel power in kW."""
        states = self.solution(time)
        speed = states[0]
        force = np.array([self.car.force(v, b) for v, b in states.T])
        rpm = np.array([self.car.turns(v, f) for v, f in zip(speed, force, strict=True)])
        return rpm, force * speed / 1e3


def drive(car: TrueCar, road: Road = Road(), start_rpm: float = 2200.0, end_rpm: float = 6600.0) -> Run:
    """Full load from one engine speed to another."""
    effective = car.mass * car.rotating_mass_factor

    def change(_: float, state: np.ndarray) -> list[float]:
        speed, boost = state
        air = speed + road.headwind
        resistance = car.mass * FREE_FALL * (car.rolling_resistance + road.grade)
        resistance += 0.5 * road.air_density * car.drag_area * air * abs(air)
        rpm = car.turns(speed, 0.0)
        spooled = 1.0 / (1.0 + math.exp(-(rpm - 2600.0) / 250.0))
        return [(car.force(speed, boost) - resistance) / effective, (spooled - boost) / (car.boost_time * 3000.0 / rpm)]

    def reached(_: float, state: np.ndarray) -> float:
        return car.turns(state[0], 0.0) - end_rpm

    reached.terminal = True
    first = start_rpm / 60.0 / car.ratio * car.circumference
    answer = solve_ivp(change, (0.0, 90.0), [first, 0.15], events=reached, rtol=1e-8, dense_output=True, max_step=0.1)
    return Run(car, road, float(answer.t[-1]), answer.sol)


def record(
    run: Run,
    rate: float,
    *,
    seed: int = 0,
    noise_rpm: float = 1.0,
    whole_rpm: bool = True,
    jitter: float = 0.0,
    gear: int | None = 3,
    direction: str | None = None,
    air: Air | None = None,
    more: dict[str, Trace] | None = None,
) -> PullRecord:
    """What a logger keeps of a run, at a rate in Hz; `jitter` is the scatter of its time stamps in s."""
    rng = np.random.default_rng(seed)
    time = np.arange(rng.uniform(0.0, 1.0 / rate), run.seconds, 1.0 / rate)
    rpm = run.truth(time)[0] + noise_rpm * rng.normal(size=time.size)
    rpm = np.round(rpm) if whole_rpm else rpm
    stamps = np.sort(time + jitter * rng.normal(size=time.size)) if jitter else time
    start = 100.0
    trace = Trace("engine_speed", "rpm", start + stamps, rpm)
    pull = Pull("run.csv", start, start + run.seconds, gear, float(rpm[0]), float(rpm[-1]), used=True)
    if air is None:
        air = Air(20.0, run.road.air_density * 287.055 * 293.15 / 1e3, 0.0)
    log = Log("run.csv", time.size, run.seconds, "utf-8", ",", ".", (), {})
    return PullRecord(pull, log, "saturday", air, direction, {"engine_speed": trace} | (more or {}), {})


@dataclass(frozen=True)
class Coasting:
    """One coast-down: where it goes (1 out, -1 back) and how its wind and slope differ from the day's."""

    way: int = 1
    gust: float = 0.0
    unevenness: float = 0.0
    from_kmh: float = 120.0
    to_kmh: float = 15.0


def coast(
    car: TrueCar,
    runs: list[Coasting],
    road: Road = Road(),
    *,
    rate: float = 10.0,
    seed: int = 0,
    noise_kmh: float = 0.2,
    step_kmh: float = 0.01,
    factor: float = 1.03,
    file: str = "coast.csv",
    more: dict[str, Trace] | None = None,
) -> Log:
    """A log of coast-downs in neutral, one after another, each after 20 s of driving at its first speed."""
    rng = np.random.default_rng(seed)
    times, speeds, engine, at = [], [], [], 0.0
    for run in runs:
        slope = run.way * road.grade + run.unevenness
        wind = run.way * road.headwind + run.gust

        def slowing(_: float, state: np.ndarray, slope: float = slope, wind: float = wind) -> list[float]:
            air = state[0] + wind
            rolling = car.rolling_resistance * (1.0 + car.rolling_rise * (3.6 * state[0] - 80.0) / 100.0)
            force = car.mass * FREE_FALL * (rolling + slope)
            force += 0.5 * road.air_density * car.drag_area * air * abs(air)
            return [-force / (car.mass * factor)]

        def slow(_: float, state: np.ndarray, low: float = run.to_kmh / 3.6) -> float:
            return state[0] - low

        slow.terminal = True
        answer = solve_ivp(slowing, (0, 900), [run.from_kmh / 3.6], events=slow, rtol=1e-9, dense_output=True)
        time = np.arange(0.0, answer.t[-1], 1.0 / rate)
        steady = np.arange(0.0, 20.0, 1.0 / rate)
        times += [at + steady, at + 20.0 + time]
        speeds += [np.full(steady.size, run.from_kmh), 3.6 * answer.sol(time)[0]]
        engine += [np.full(steady.size, 2800.0), np.full(time.size, 850.0) + 1950.0 * np.exp(-time / 0.4)]
        at = times[-1][-1] + 1.0 / rate
    time, speed = np.concatenate(times), np.concatenate(speeds)
    speed = speed + noise_kmh * rng.normal(size=time.size)
    rpm = np.concatenate(engine) + 5.0 * rng.normal(size=time.size)
    kilopascal = road.air_density * 287.055 * 293.15 / 1e3
    traces = {
        "vehicle_speed": Trace("vehicle_speed", "km/h", time, step_kmh * np.round(speed / step_kmh)),
        "engine_speed": Trace("engine_speed", "rpm", time, np.round(rpm)),
        "ambient_temperature": Trace("ambient_temperature", "degC", time, np.full(time.size, 20.0)),
        "ambient_pressure": Trace("ambient_pressure", "kPa", time, np.full(time.size, kilopascal)),
    }
    return Log(file, time.size, float(time[-1]), "utf-8", ",", ".", (), traces | (more or {}))


SHEET = Car(
    name="invented car",
    mass_kg=1510.0,
    tyre="235/35R19",
    gear_ratios=(3.36, 2.09, 1.47, 1.10, 0.87, 0.73),
    final_drive=3.94,
    drag_area_m2=0.70,
    rolling_resistance=0.012,
    driveline_efficiency=0.90,
    rotating_mass_factor=(1.40, 1.18, 1.09, 1.06, 1.04, 1.03),
)


class Simulation:
    """The pieces above under one name, for tests to ask for."""

    Car, Road, Coasting, sheet = TrueCar, Road, Coasting, SHEET
    drive, record, coast, replace = (staticmethod(f) for f in (drive, record, coast, replace))


@pytest.fixture(scope="session")
def simulation() -> type[Simulation]:
    return Simulation
