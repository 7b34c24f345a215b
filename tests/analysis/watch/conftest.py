"""An invented drive with three pulls whose every channel is known, and faults to put into it. All of it is made up."""

from collections.abc import Callable, Mapping
from dataclasses import replace

import numpy as np
import pytest

from pullproof.car import Car, Engine
from pullproof.reading.log import Log

STEP = 0.005
"""Of the drive's own clock. [s]"""

CAR = Car(
    "blue hatch",
    gear_ratios=(3.5, 2.1, 1.5, 1.1, 0.9),
    engine=Engine(redline_rpm=6800, fuel="petrol", aspiration="turbo"),
)

NOISE = {
    "lambda": 0.004, "manifold_pressure": 0.6, "charge_pressure": 0.6, "fuel_pressure": 2.0, "oil_pressure": 4.0,
    "exhaust_gas_temperature": 1.0, "battery_voltage": 0.03, "injector_duty": 0.3, "air_mass_flow": 0.8,
}  # fmt: skip


def sound_channels(time, rpm, load) -> dict[str, np.ndarray]:
    """What sound sensors on a sound engine read; `load` is the share of full load, with the turbocharger's delay."""
    boost = 110.0 * load * np.clip((rpm - 2200.0) / 1200.0, 0.0, 1.0)
    manifold = 100.0 + boost - 62.0 * (1.0 - load)
    duty = np.where(boost > 85.0, 62.0 + 0.004 * rpm, 100.0 * load)
    return {
        "manifold_pressure": manifold,
        "charge_pressure": 101.0 + boost,
        "charge_pressure_target": 101.0 + boost + 1.0,
        "wastegate_duty": np.clip(duty, 0.0, 96.0),
        "air_mass_flow": 0.00033 * rpm * manifold,
        "injector_duty": 0.00006 * rpm * manifold,
        "lambda": 1.0 - 0.17 * load,
        "lambda_target": 1.0 - 0.18 * load,
        "knock_retard": 0.5 * load * (np.sin(7.0 * time) > 0.8),
        "charge_air_temperature": 30.0 + 18.0 * load,
        "intake_air_temperature": 28.0 + 0.05 * time,
        "coolant_temperature": 90.0 + 2.0 * np.sin(time / 17.0),
        "oil_temperature": 92.0 + 0.05 * time,
        "oil_pressure": 110.0 + 0.06 * rpm,
        "exhaust_gas_temperature": 640.0 + 220.0 * load,
        "fuel_pressure": 300.0 + (manifold - 100.0),
        "fuel_rail_pressure": 6000.0 + 12000.0 * load,
        "battery_voltage": 13.9 - 0.2 * load,
        "compressor_outlet_temperature": 50.0 + 80.0 * load,
        "turbo_speed": 40_000.0 + 120_000.0 * load,
    }


@pytest.fixture
def recorded(new_drive) -> Callable[..., Log]:
    """`recorded(faults, rate=..., leave_out=..., rows=...)`: the drive as a log, with faults put into its channels.

    A fault maps a channel to a function of time [s], engine speed [rpm], share of load and the sound values.
    """
    drive = new_drive()
    for _ in range(3):
        drive.pull(3, 2400.0, 6500.0)
    drive.settle(20.0, 4, 2600.0, 20.0)
    time = np.arange(len(drive.engine)) * STEP
    rpm = np.array(drive.engine)
    pressed = np.array(drive.pedal) > 90.0
    reach = np.exp(-np.arange(0.0, 1.5, STEP) / 0.25)
    load = np.convolve(pressed, reach / reach.sum())[: time.size]
    spans = [(true.start, true.end) for true in drive.pulls]

    def record(
        faults: Mapping[str, Callable[..., np.ndarray]] | None = None,
        *,
        rate: float = 20.0,
        leave_out: tuple[str, ...] = (),
        rows: float | None = None,
        file: str = "drive.csv",
        seed: int = 0,
    ) -> Log:
        channels = sound_channels(time, rpm, load)
        rng = np.random.default_rng(seed)
        for name, scatter in NOISE.items():
            channels[name] = channels[name] + scatter * rng.normal(size=time.size)
        for name, spoil in (faults or {}).items():
            channels[name] = spoil(time, rpm, load, channels[name])
        log = drive.log(rate, rows=rows, extra=channels, leave_out=leave_out, seed=seed)
        return replace(log, file=file)

    record.spans = spans
    return record
