"""An invented drive of a turbocharged petrol car, in canonical units, and ways to write it down as loggers do."""

from collections.abc import Mapping, Sequence

import numpy as np

AMBIENT = 98.6
"""Ambient pressure of the drive. [kPa]"""


def drive(seconds: float = 120.0, rate: float = 20.0, *, standing: float = 0.0) -> dict[str, np.ndarray]:
    """A drive: engine off for `standing` seconds, idle, cruising, and two full-load pulls in third gear.

    The gate is held closed (100 %) while pressure builds up and let go to hold the target; at idle the throttle is
    nearly shut and the manifold far below ambient.
    """
    time = np.arange(0.0, seconds, 1 / rate)
    phase = (time - standing) / (seconds - standing)
    pull = ((phase > 0.3) & (phase < 0.42)) | ((phase > 0.7) & (phase < 0.82))
    through = np.clip(np.where(phase < 0.5, (phase - 0.3) / 0.12, (phase - 0.7) / 0.12), 0, 1)
    rpm = np.where(pull, 2200 + 4200 * through, 2600 + 500 * np.sin(time / 3))
    rpm = np.where(phase < 0.1, 820 + 15 * np.sin(time * 2), rpm)
    pedal = np.where(pull, 100.0, 18 + 6 * np.sin(time / 2))
    pedal = np.where(phase < 0.1, 0.0, pedal)
    boost = np.where(pull, np.clip(400 * through, 0, 95), -55 + 8 * np.sin(time / 2))
    boost = np.where(phase < 0.1, -66 + np.sin(time), boost)
    target = np.where(pull, 95.0, -20.0)
    duty = np.where(pull, np.where(boost < 88, 100.0, 92 - 22 * through), 0.0)
    running = time >= standing
    manifold = np.where(running, AMBIENT + boost, AMBIENT)
    speed = np.where(phase < 0.1, 0.0, rpm / 52.0)
    channels = {
        "time": time,
        "engine_speed": np.where(running, rpm, 0.0),
        "vehicle_speed": np.where(running, speed, 0.0),
        "pedal_position": np.where(running, pedal, 0.0),
        "throttle_position": np.where(running, 4 + 0.92 * pedal, 4.0),
        "manifold_pressure": manifold,
        "charge_pressure": np.maximum(manifold, AMBIENT - 2.0),
        "charge_pressure_target": AMBIENT + target,
        "ambient_pressure": np.full_like(time, AMBIENT),
        "wastegate_duty": np.where(running, duty, 0.0),
        "air_mass_flow": np.where(running, rpm * manifold * 6.5e-4, 0.0),
        "intake_air_temperature": 19 + 6 * phase + pull * 3,
        "charge_air_temperature": 27 + 6 * phase + pull * 9,
        "ambient_temperature": np.full_like(time, 14.0),
        "coolant_temperature": 84 + 6 * phase,
        "oil_temperature": 80 + 14 * phase,
        "exhaust_gas_temperature": 430 + 330 * pull,
        "lambda": np.where(pull, 0.84, 1.0) + 0.02 * np.sin(time * 1.7),
        "lambda_target": np.where(pull, 0.83, 1.0),
        "ignition_timing": np.where(pull, 9 + 8 * through, 33.0) + np.sin(time),
        "knock_retard": np.where(pull & (through > 0.6), 1.4, 0.0),
        "injector_duty": np.where(pull, 30 + 55 * through, 5.0),
        "oil_pressure": np.where(running, 120 + rpm * 0.05, 0.0),
        "fuel_rail_pressure": 6000 + 9000 * pull,
        "engine_torque": np.where(pull, 390.0, 60 + 10 * np.sin(time)),
        "engine_load": np.where(pull, 180.0, 35.0),
        "battery_voltage": 14.1 - 0.2 * pull,
        "gear": np.where(phase < 0.1, 0.0, 3.0),
    }
    return {name: np.asarray(values, dtype=float) for name, values in channels.items()}


def table(
    headers: Sequence[str],
    columns: Sequence[np.ndarray],
    *,
    delimiter: str = ",",
    decimal: str = ".",
    digits: int = 3,
    end: str = "\n",
) -> str:
    """A wide log: one row of names, then numbers; NaN is a blank cell."""
    lines = [delimiter.join(headers)]
    for row in zip(*columns, strict=True):
        cells = ("" if np.isnan(value) else f"{value:.{digits}f}".replace(".", decimal) for value in row)
        lines.append(delimiter.join(cells))
    return end.join(lines) + end


def log_of(channels: Mapping[str, np.ndarray], names: Mapping[str, str], **how: object) -> str:
    """A wide log of some channels under the given headers, time first."""
    return table(["Time (s)", *names.values()], [channels["time"], *(channels[name] for name in names)], **how)
