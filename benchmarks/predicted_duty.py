"""How well the expected change of wastegate duty fits simulated cars: forty pipes on forty actuators.

    python benchmarks/predicted_duty.py

Each car gets an actuator, a turbine and a compressor of its own, a narrow pipe with a few days of logs, and then a
wide one. The figures in docs/airpath.md come from here.
"""

import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np

from pullproof.analysis.airpath import compare_paths, flow_from_logs, load_path
from pullproof.analysis.airpath.analysing import air_of, total
from pullproof.analysis.airpath.losses import path_losses
from pullproof.car import Car, Engine
from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord
from pullproof.conditions import Air
from pullproof.demo.car import DemoCar, Pipe
from pullproof.demo.driving import Cruise, FullPull
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.true_effect import true_effect
from pullproof.demo.weather import Weather
from pullproof.pulls import Pull

SCRIPT = (Cruise(60.0, 6.0), FullPull(), Cruise(70.0, 18.0), FullPull())
CAR = Car("harbour coupe", engine=Engine(displacement_l=1.984, redline_rpm=6800.0))
BEND, PIPE = (
    '[[element]]\nkind = "bend"\nangle_deg = 90\nradius_mm = 60\n',
    '[[element]]\nkind = "pipe"\nlength_mm = 250\n',
)
CHANNELS = ("engine_speed", "air_mass_flow", "charge_pressure", "charge_air_temperature", "wastegate_duty")


def path_of(bore):
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "path.toml"
        mitre = '[[element]]\nkind = "mitre"\nangle_deg = 60\n'
        file.write_text(f'side = "hot"\nbore_mm = {bore}\n{BEND}{PIPE}{BEND}{PIPE}{mitre}', encoding="utf-8")
        return load_path(file)


def records(drive, day):
    signals, weather = drive.signals, drive.weather
    traces = {name: Trace(name, "", signals["time"], signals[name]) for name in CHANNELS}
    for mark in drive.pulls:
        speed = signals["engine_speed"][(signals["time"] >= mark.start) & (signals["time"] <= mark.end)]
        pull = Pull(f"{day}.csv", mark.start, mark.end, 3, float(speed[0]), float(speed[-1]), used=True)
        air = Air(weather.temperature_c, weather.pressure_kpa, weather.humidity_pct)
        yield PullRecord(pull, None, day, air, None, traces, {})


def with_pipe(car, path, flow):
    """The car with a hot pipe of this path's loss at the middle of the curve, and of its volume."""
    middle, air = len(flow.rpm) // 2, air_of(flow)
    loss, bore = float(total(path_losses(path, air))[middle]), path.elements[0].inlet
    area = np.pi / 4.0 * bore**2
    density = (air.end_pressure[middle] + 0.5 * loss) / (287.055 * air.temperature["hot"][middle])
    pipe = Pipe(bore=bore, length=path.volume / area, fittings=0.0)
    heads = float(loss / (0.5 * air.mass_flow[middle] ** 2 / density / area**2))
    pipe = replace(pipe, fittings=heads - pipe.friction * pipe.length / pipe.bore)
    return replace(car, charge_path=replace(car.charge_path, hot_pipe=pipe))


def any_car(rng):
    car = DemoCar()
    return replace(
        car,
        actuator=replace(
            car.actuator,
            preload=car.actuator.preload * rng.uniform(0.8, 1.3),
            stiffness=car.actuator.stiffness * rng.uniform(0.7, 1.4),
            bleed=rng.uniform(0.9, 0.99),
            flap=car.actuator.flap * rng.uniform(0.7, 1.3),
        ),
        turbine=replace(car.turbine, area=car.turbine.area * rng.uniform(0.85, 1.15)),
        compressor=replace(car.compressor, best_efficiency=rng.uniform(0.68, 0.77)),
    )


def one_change(rng):
    """Expected change of mean duty with its ends, what the car really does, and whether the gate was free to move."""
    old, new = path_of(rng.choice([44, 46, 50])), path_of(rng.choice([54, 60, 66]))
    car, weather = any_car(rng), Weather(rng.uniform(5.0, 28.0), rng.uniform(97.0, 102.0))
    first = flow_from_logs(list(records(simulate_drive(car, weather, SCRIPT, None), "first")), CAR)
    before, after = with_pipe(car, old, first), with_pipe(car, new, first)
    pulls = []
    for day in range(rng.integers(1, 5)):
        air = Weather(weather.temperature_c + rng.normal(0.0, 6.0), weather.pressure_kpa + rng.normal(0.0, 0.8))
        pulls += records(simulate_drive(before, air, SCRIPT, rng), f"day {day}")
    flow = flow_from_logs(pulls, CAR)
    expected = compare_paths(old, new, flow)
    truth = true_effect(before, after, weather, flow.window_rpm)["wastegate_duty.mean"]
    free = not any("held shut" in doubt for doubt in expected.doubts)
    return (expected.wastegate_duty_change.estimate, *expected.wastegate_duty_change.interval, truth, free)


def main():
    rng = np.random.default_rng(5)
    table = np.array([one_change(rng) for _ in range(40)])
    estimate, low, high, truth, _ = table[table[:, 4] == 1.0].T
    print(f"{len(truth)} of {len(table)} cars with the gate free to move")
    print(f"interval holds the truth: {np.mean((low <= truth) & (truth <= high)):.0%}")
    print(f"mean width {np.mean(high - low):.2f} points, mean effect {np.mean(truth):+.2f} points")
    print(f"estimate off by {np.sqrt(np.mean((estimate - truth) ** 2)):.2f} points (root mean square)")


if __name__ == "__main__":
    main()
