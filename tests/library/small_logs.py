"""An invented car and small logs with a pull in each."""

import numpy as np

SHEET = """\
name = "blue hatch"
mass_kg = 1510
tyre = "235/35R19"
gear_ratios = [3.36, 2.09, 1.47, 1.10, 0.87, 0.73]
final_drive = 3.94

[engine]
displacement_l = 2.0
redline_rpm = 6800
fuel = "petrol"
aspiration = "turbo"

[boost]
wastegate_duty_closed = 100
"""

PER_KMH = 52.0
"""Engine speed over road speed in the gear of the pulls. [rpm/(km/h)]"""


def log_text(seed: int = 0, headers: tuple[str, ...] | None = None) -> str:
    """A drive of 40 s at 10 Hz with one pull from 2500 to 6500 rpm; every seed gives other bytes."""
    rng = np.random.default_rng(seed)
    time = np.arange(0, 40, 0.1)
    rpm = np.interp(time, [0, 12, 20, 24, 40], [2400, 2500, 6500, 3000, 2000]) + rng.normal(0, 3, time.size)
    pedal = np.where((time >= 12) & (time <= 20), 100.0, 22.0)
    boost = np.where(pedal > 90, 95.0 + rng.normal(0, 0.4, time.size), 4.0)
    duty = np.where(pedal > 90, np.interp(rpm, [2500, 3500, 4200, 6500], [99.9, 99.9, 78, 92]), 0.0)
    columns = [time, np.round(rpm), rpm / PER_KMH, pedal, boost, duty, 20 + time / 8]
    names = headers or (
        "Time (s)", "Engine speed (rpm)", "Vehicle speed (km/h)", "Accelerator pedal (%)", "Boost pressure (kPa gauge)",
        "Wastegate duty (%)", "Intake air temperature (degC)",
    )  # fmt: skip
    rows = [
        ",".join(f"{value:.4g}" if place else f"{value:.1f}" for place, value in enumerate(row))
        for row in zip(*columns, strict=True)
    ]
    return "\n".join([",".join(names), *rows]) + "\n"
