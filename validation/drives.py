"""Whole drives for the trial of pull finding: idling, cruising, good pulls, and runs that must not be taken for one.

The pieces are simulated, then joined by easing and cruising in between. What a finder has to return is known from
the simulation: `wanted` pulls, and `allowed` stretches behind a lift or a gear change that are clean but maybe short.
"""

from dataclasses import dataclass

import numpy as np

from validation.air import Air
from validation.batches import Array, join, take
from validation.calibration import steady_start
from validation.cars import Car
from validation.designs import pick_gear
from validation.driving import LIFT_TIME, SHIFT_TIME
from validation.runs import Driver, Road, Run
from validation.scatter import Liability, draw_day, draw_noise, draw_runs
from validation.simulate import RECORD_STEP, Recording

__all__ = ["PIECES", "Drive", "draw_pieces", "joined"]

PIECES = ("good", "good", "good", "lifted", "gear change", "short", "half pedal")


@dataclass(frozen=True, slots=True)
class Drive:
    """One drive: a recording of one row, what has to be found in it, and what may be."""

    recording: Recording
    run: Run
    wanted: tuple[tuple[float, float], ...]
    allowed: tuple[tuple[float, float], ...]
    pieces: tuple[str, ...]


def draw_pieces(rng: np.random.Generator, car: Car, liability: Liability) -> tuple[Run, tuple[str, ...]]:
    """The pieces of one drive; a good pull is always among them."""
    kinds = ["good", *rng.choice(PIECES, int(rng.integers(2, 5)))]
    rng.shuffle(kinds)
    count = len(kinds)
    one = np.ones(count)
    redline = car.engine.redline[0]
    start = redline * rng.uniform(0.28, 0.42, count)
    end = redline * rng.uniform(0.90, 0.98, count)
    kind = np.array(kinds)
    start = np.where(kind == "short", redline * 0.55, start)
    end = np.where(kind == "short", redline * 0.62, end)
    gear = np.full(count, float(min(pick_gear(car), 3)))
    never = np.full(count, np.nan)
    full = 100.0 if rng.random() < 0.8 else rng.uniform(86.0, 99.0)
    driver = Driver(
        start_speed=start,
        end_speed=end,
        gear=gear,
        press_time=rng.uniform(2.0, 4.0, count),
        press_duration=rng.uniform(0.1, 0.5, count),
        cruise_pedal=rng.uniform(12.0, 25.0, count),
        full_pedal=np.where(kind == "half pedal", 0.6 * full, full),
        lift_after=np.where(kind == "lifted", rng.uniform(1.5, 2.5, count), never),
        lift_depth=rng.uniform(10.0, 55.0, count),
        shift_speed=np.where(kind == "gear change", redline * 0.85, never),
    )
    day = draw_day(rng, liability)
    air = Air((rng.uniform(-5, 32) + 273.15) * one, rng.uniform(88e3, 102e3) * one, 0.6 * one)
    road = Road(0 * one, 0.001 * one, 400.0 * one, 0 * one, rng.normal(0, 1.5) * one, 0.8 * one)
    run = Run(
        join([car] * count),
        air,
        driver,
        road,
        steady_start(count),
        draw_runs(rng, liability, [day] * count),
        draw_noise(rng, count),
    )
    return run, tuple(kinds)


def joined(rng: np.random.Generator, recording: Recording, rows: range, run: Run, pieces: tuple[str, ...]) -> Drive:
    """The pieces in `rows`, one after the other, behind an idling engine."""
    parts = [_idle(rng, recording, rows[0], run)]
    clock = len(parts[0]["engine_speed"]) * RECORD_STEP
    wanted, allowed = [], []
    for row, kind in zip(rows, pieces, strict=True):
        length = int(recording.last[row]) + 1
        part = {name: values[:length, row].astype(np.float64) for name, values in recording.signals.items()}
        bridge = _bridge(rng, parts[-1], part)
        clock += len(bridge["engine_speed"]) * RECORD_STEP
        full_from, full_to = recording.full_from[row], recording.full_to[row]
        if kind == "good":
            wanted.append((clock + full_from, clock + full_to))
        else:
            allowed += [
                (clock + first, clock + last) for first, last in _clean_parts(kind, run, row, part, full_from, full_to)
            ]
        parts += [bridge, part]
        clock += length * RECORD_STEP
    parts.append(_bridge(rng, parts[-1], parts[0], long=False))
    signals = {name: np.concatenate([part[name] for part in parts])[:, None] for name in recording.signals}
    count = len(signals["engine_speed"])
    time = np.arange(count) * RECORD_STEP
    whole = Recording(time, signals, np.zeros(1), time[-1:], np.array([count - 1]))
    first = take(run, slice(rows[0], rows[0] + 1))
    return Drive(whole, first, tuple(wanted), tuple(allowed), pieces)


def _clean_parts(
    kind: str, run: Run, row: int, part: dict[str, Array], full_from: float, full_to: float
) -> list[tuple[float, float]]:
    """Stretches of a spoilt piece that are at full load in one gear all the same."""
    if kind == "lifted":
        eased = run.driver.press_time[row] + run.driver.lift_after[row]
        return [(full_from, eased), (eased + LIFT_TIME, full_to)]
    if kind == "gear change":
        changed = np.flatnonzero(part["gear"] > run.driver.gear[row])
        if len(changed) == 0:
            return [(full_from, full_to)]
        instant = changed[0] * RECORD_STEP
        return [(full_from, instant), (instant + SHIFT_TIME, full_to)]
    return [(full_from, full_to)] if kind == "short" else []


def _idle(rng: np.random.Generator, recording: Recording, row: int, run: Run) -> dict[str, Array]:
    """Some seconds of a standing car with its engine idling."""
    count = int(rng.uniform(4.0, 9.0) / RECORD_STEP)
    one = np.ones(count)
    ambient = 1e-3 * run.air.pressure[row]
    diesel = run.car.engine.diesel[row] > 0
    level = {name: float(values[0, row]) for name, values in recording.signals.items()}
    level |= {
        "engine_speed": 820.0,
        "vehicle_speed": 0.0,
        "pedal_position": 0.0,
        "throttle_position": 100.0 if diesel else 3.0,
        "manifold_pressure": ambient if diesel else 0.34 * ambient,
        "charge_pressure": ambient - 0.2,
        "compressor_outlet_pressure": ambient - 0.2,
        "charge_pressure_target": ambient,
        "wastegate_duty": 0.0,
        "air_mass_flow": 3.5,
        "ignition_timing": 8.0,
        "knock_retard": 0.0,
        "engine_torque": 15.0,
        "wheel_power": 0.0,
        "acceleration": 0.0,
        "gear": 0.0,
        "turbo_speed": 12_000.0,
        "lambda": 4.0 if diesel else 1.0,
        "exhaust_gas_temperature": 350.0,
    }
    wobble = np.convolve(rng.normal(0.0, 12.0, count + 40), np.ones(41) / 6.4, mode="valid")
    return {name: value * one + (wobble if name == "engine_speed" else 0.0) for name, value in level.items()}


def _bridge(
    rng: np.random.Generator, before: dict[str, Array], after: dict[str, Array], *, long: bool = True
) -> dict[str, Array]:
    """Ease from the end of one piece to the steady driving at the start of the next, and stay there for a while."""
    ease = int(rng.uniform(3.0, 6.0) / RECORD_STEP)
    stay = int(rng.uniform(1.0, 6.0) / RECORD_STEP) if long else 0
    ramp = np.concatenate([np.linspace(0.0, 1.0, ease), np.ones(stay)])
    bridge = {name: before[name][-1] * (1 - ramp) + after[name][0] * ramp for name in after}
    pedal = after["pedal_position"][0]
    bridge["pedal_position"] = np.concatenate([np.linspace(0.0, 0.6 * pedal, ease), np.full(stay, pedal)])
    bridge["gear"] = np.full(ease + stay, after["gear"][0])
    return bridge
