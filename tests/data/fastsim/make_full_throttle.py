# /// script
# requires-python = ">=3.11,<3.13"
# dependencies = ["fastsim==3.1.0"]
# ///
"""Make full_throttle.csv: a full-throttle run of FASTSim 3.1.0, an independent vehicle-energy simulation.

Run it with `uv run tests/data/fastsim/make_full_throttle.py`. It has an environment of its own because FASTSim needs
an older polars than this project. FASTSim (https://github.com/NREL/fastsim) has the Apache-2.0 licence.
"""

from pathlib import Path

import fastsim

SECONDS, STEP = 20.0, 0.05
ENGINE_POWER, EFFICIENCY = 150e3, 0.90


def vehicle() -> fastsim.Vehicle:
    """A bundled conventional car with every number that matters replaced by a round one."""
    values = fastsim.Vehicle.from_resource(fastsim.Vehicle.list_resources()[0]).to_dict()
    values["name"] = "round numbers"
    values["mass_kilograms"] = 1500.0
    values["pwr_aux_base_watts"] = 0.0
    powertrain = values["pt_type"]["Conv"]
    powertrain["fc"] |= {
        "pwr_out_max_watts": ENGINE_POWER,
        "pwr_out_max_init_watts": ENGINE_POWER,
        "pwr_ramp_lag_seconds": 1e-6,
    }
    powertrain["fs"]["pwr_ramp_lag_seconds"] = 1e-6
    powertrain["transmission"]["eff_interp"] = EFFICIENCY
    values["chassis"] |= {
        "drag_coef": 0.35,
        "frontal_area_square_meters": 2.0,
        "wheel_rr_coef": 0.012,
        "wheel_fric_coef": 2.0,
        "wheel_inertia_kilogram_square_meters": 1.0,
        "num_wheels": 4,
        "wheel_radius_meters": 0.32,
        "cargo_mass_kilograms": 0.0,
    }
    return fastsim.Vehicle.from_dict(values)


def cycle() -> fastsim.Cycle:
    """More speed than the car can reach is demanded from the second sample on, on a level road."""
    values = fastsim.Cycle.from_resource(fastsim.Cycle.list_resources()[0]).to_dict()
    rows = round(SECONDS / STEP) + 1
    time = [STEP * row for row in range(rows)]
    speed = [0.0] + [95.0] * (rows - 1)
    values |= {
        "name": "full throttle",
        "time_seconds": time,
        "speed_meters_per_second": speed,
        "dist_meters": [STEP * sum(speed[: row + 1]) for row in range(rows)],
        "grade": [0.0] * rows,
        "elev_meters": [0.0] * rows,
        "pwr_max_chrg_watts": [0.0] * rows,
        "temp_amb_air_kelvin": [295.15] * rows,
        "pwr_solar_load_watts": [0.0] * rows,
    }
    return fastsim.Cycle.from_dict(values)


def main() -> None:
    settings = fastsim.SimParams.default().to_dict()
    settings |= {"trace_miss_opts": "Allow", "ach_speed_max_iter": 20, "ach_speed_tol": 1e-9}
    drive = fastsim.SimDrive(vehicle(), cycle(), fastsim.SimParams.from_dict(settings))
    drive.run()
    table = drive.to_dataframe()
    time, speed = (
        table[next(name for name in table.columns if name.endswith(end))].to_list()
        for end in ("cyc.time_seconds", "veh.history.speed_ach_meters_per_second")
    )
    rows = [f"{at:.2f},{value:.7f}" for at, value in zip(time, speed, strict=True)]
    path = Path(__file__).with_name("full_throttle.csv")
    path.write_text("\n".join(["time_s,speed_m_per_s", *rows]) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
