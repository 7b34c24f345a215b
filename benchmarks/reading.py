"""How long a 100 MB log takes to read, beside what polars.read_csv takes on the same bytes, and how much memory.

    python benchmarks/reading.py [--megabytes 100] [--repeats 7]

Makes its own file in a temporary folder: a wide log of 30 columns at 20 Hz, such as a standalone logger writes. Prints
both times, their ratio (at most 2 wanted), and how far the peak memory of a fresh process grows, in multiples of the
file's size (at most 4 wanted).
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import polars as pl

from pullproof.reading import read_log

HEADERS = {
    "Time (s)": 3,
    "Engine RPM (rpm)": 0,
    "Vehicle Speed (km/h)": 1,
    "Accelerator Pedal (%)": 1,
    "Throttle Position (%)": 1,
    "Manifold Pressure (kPa)": 1,
    "Boost (psi)": 2,
    "Boost Target (psi)": 2,
    "Barometric Pressure (kPa)": 1,
    "Wastegate Duty (%)": 1,
    "Wastegate Duty Max (%)": 1,
    "MAF (g/s)": 2,
    "Intake Air Temperature (°C)": 0,
    "Charge Air Temperature (°C)": 1,
    "Coolant Temp (°C)": 0,
    "Oil Temp (°C)": 0,
    "EGT (°C)": 0,
    "AFR": 2,
    "AFR Target": 2,
    "Ignition Timing (°)": 1,
    "Knock Retard (°)": 2,
    "Injector Duty (%)": 1,
    "Oil Pressure (bar)": 2,
    "Fuel Pressure (bar)": 2,
    "Battery (V)": 2,
    "Gear": 0,
    "Latitude": 6,
    "Longitude": 6,
    "Fuel Trim (%)": 1,
    "Aux 1": 3,
}

MEMORY = """
import sys
from pathlib import Path
import polars as pl
from pullproof.reading import read_log

def peak():  # of this process alone; getrusage counts what the parent held before the fork
    status = Path("/proc/self/status").read_text()
    return 1024 * int(status.split("VmHWM:")[1].split()[0])

pl.read_csv(b"a,b\\n1,2\\n")
before = peak()
log = read_log(sys.argv[1])
print(peak() - before, len([column for column in log.columns if column.channel]))
"""


def drive(rows: int) -> list[np.ndarray]:
    """A drive of pulls and cruising, (rows,) for each header: smooth, noisy, in plausible ranges."""
    noise = np.random.default_rng(7)
    time_s = np.arange(rows) / 20
    load = np.clip(np.sin(time_s / 11) * 1.5 + 0.3 * np.sin(time_s / 3.7), 0, 1)
    rpm = 900 + 5200 * np.clip(np.abs(np.sin(time_s / 23)), 0, 1) + noise.normal(0, 8, rows)
    boost = np.where(load > 0.1, 18 * load, -9) + noise.normal(0, 0.2, rows)
    columns = [
        *(time_s, rpm, rpm / 45, 100 * load, 100 * load, 101 + 6.89 * boost, boost, boost + 0.5, 99.4 + 0 * load),
        *(40 + 50 * load, 95 - 10 * load, rpm * (0.5 + load) / 50, 24 + 9 * load, 30 + 25 * load, 88 + 4 * load),
        *(95 + 6 * load, 500 + 350 * load, 14.7 - 3 * load, 14.6 - 3 * load, 32 - 18 * load, 1.4 * (load > 0.95)),
        *(5 + 80 * load, 2 + 2.5 * load, 3.5 + load, 13.9 - 0.2 * load, 3 + 0 * load, 48.1 + time_s * 1e-7),
        *(11.5 + time_s * 1e-7, noise.normal(0, 4, rows), noise.normal(0, 1, rows)),
    ]
    return [column + noise.normal(0, 0.01, rows) * (index > 0) for index, column in enumerate(columns)]


def make_log(path: Path, megabytes: float) -> None:
    """Write the log; drives of 20 000 rows are repeated with the clock going on."""
    rows = 20_000
    frame = pl.DataFrame({name: np.round(c, HEADERS[name]) for name, c in zip(HEADERS, drive(rows), strict=True)})
    with path.open("w", encoding="utf-8") as file:
        file.write(",".join(HEADERS) + "\n")
        start = 0.0
        while file.tell() < megabytes * 1e6:
            part = frame.with_columns((pl.col("Time (s)") + start).round(3))
            part = part.with_columns(pl.col(name).cast(pl.Int64) for name, digits in HEADERS.items() if not digits)
            file.write(part.write_csv(include_header=False))
            start += rows / 20


def best(action, repeats: int) -> float:
    """Shortest of some runs [s]: whatever else the machine does only ever makes a run longer."""
    times = []
    for _ in range(repeats):
        begin = time.perf_counter()
        action()
        times.append(time.perf_counter() - begin)
    return min(times)


def main() -> None:
    """Make the file, measure, print."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--megabytes", type=float, default=100)
    parser.add_argument("--repeats", type=int, default=7)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "long.csv"
        make_log(path, options.megabytes)
        size = path.stat().st_size
        polars_s = best(lambda: pl.read_csv(path), options.repeats)
        ours_s = best(lambda: read_log(path), options.repeats)
        told = subprocess.run([sys.executable, "-c", MEMORY, path], check=True, capture_output=True, text=True)
    growth, channels = map(int, told.stdout.split())
    print(f"{size / 1e6:.0f} MB, {len(HEADERS)} columns, {channels} recognised")
    print(
        f"polars.read_csv {polars_s:.3f} s, read_log {ours_s:.3f} s: ratio {ours_s / polars_s:.2f} (at most 2 wanted)"
    )
    print(f"peak memory grows by {growth / 1e6:.0f} MB: {growth / size:.2f} times the file (at most 4 wanted)")


if __name__ == "__main__":
    main()
