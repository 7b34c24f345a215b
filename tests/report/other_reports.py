"""Reports on power, air paths and predictions from invented flows and curves; nothing here is measured."""

import datetime

import numpy as np

from pullproof.analysis.air_system import CompressorMap, SpeedLine, air_system, operating_line
from pullproof.analysis.airpath import (
    FlowSheet,
    analyse_path,
    compare_paths,
    cut_list,
    flow_from_sheets,
    load_path,
    prior_response,
)
from pullproof.analysis.mean_power import mean_power
from pullproof.analysis.wheel_power import power_curve
from pullproof.car import Car, Engine
from pullproof.channels import Trace
from pullproof.computed_channels import record_pull
from pullproof.conditions import Air, Conditions
from pullproof.physics.compressor import ReferenceState
from pullproof.pulls import Pull
from pullproof.reading.log import Log
from pullproof.report.map_section import map_section
from pullproof.report.path_sections import airpath_report
from pullproof.report.power_sections import power_report

MADE_AT = datetime.datetime.fromisoformat("2026-10-05T20:15")
CAR = Car(
    name="blue hatch",
    mass_kg=1500.0,
    tyre="225/45R17",
    gear_ratios=(3.5, 2.1, 1.5, 1.1),
    final_drive=3.9,
    drag_area_m2=0.7,
    rolling_resistance=0.012,
    rotating_mass_factor=(1.4, 1.2, 1.1, 1.06),
    engine=Engine(displacement_l=2.0, redline_rpm=6800.0, fuel="petrol", aspiration="turbo"),
)
FLOW = FlowSheet(
    rpm=(3000.0, 4000.0, 5000.0, 6000.0),
    air_mass_flow_gs=(110.0, 165.0, 205.0, 225.0),
    charge_pressure_kpa=(235.0, 240.0, 240.0, 235.0),
    charge_temperature_c=42.0,
)

OLD = """name = "old"
bore_mm = 50
[[element]]
kind = "hose"
[[element]]
kind = "bend"
angle_deg = 90
radius_mm = 60
[[element]]
kind = "pipe"
length_mm = 500
[[element]]
kind = "step"
to_bore_mm = 45
[[element]]
kind = "mitre"
angle_deg = 45
"""
NEW = 'name = "new"\nbore_mm = 63.5\n[[element]]\nkind = "pipe"\nlength_mm = 640\n'
MANY = "bore_mm = 50\n" + "".join(f'[[element]]\nkind = "pipe"\nlength_mm = {40 * n}\n' for n in range(1, 13))


def path_of(folder, text, name="path"):
    """Write a path file and read it."""
    file = folder / f"{name}.toml"
    file.write_text(text, encoding="utf-8")
    return load_path(file)


def flow():
    """The flow of a path file's own table."""
    return flow_from_sheets(CAR, FLOW, Air(15.0, 100.0, 50.0))


def changed(folder):
    """Old path in place of new."""
    paths = path_of(folder, OLD, "old"), path_of(folder, NEW, "new")
    return compare_paths(*paths, flow(), response=prior_response())


def path_report(folder, text=None):
    """A report on a change of path, or on a single path."""
    if text is not None:
        path = path_of(folder, text)
        return airpath_report((analyse_path(path, flow()),), None, cut_list(path), car=CAR, made_at=MADE_AT)
    found = changed(folder)
    return airpath_report((found.before, found.after), found, cut_list(path_of(folder, NEW)), car=CAR, made_at=MADE_AT)


def pull_record(log="a.csv", *, direction=None, faster=1.0, air=None):
    """A pull through 3000 to 6500 rpm that rises evenly, with what an air system needs."""
    time = np.arange(0.0, 6.5, 0.05)
    rpm = 3000.0 + 580.0 * faster * time
    channels = {
        "engine_speed": ("rpm", rpm),
        "charge_pressure": ("kPa", np.full(time.shape, 235.0)),
        "manifold_pressure": ("kPa", np.full(time.shape, 233.0)),
        "air_mass_flow": ("g/s", 0.038 * rpm),
        "charge_air_temperature": ("degC", np.full(time.shape, 45.0)),
        "ambient_pressure": ("kPa", np.full(time.shape, 99.0)),
    }
    traces = {name: Trace(name, unit, time, values) for name, (unit, values) in channels.items()}
    pull = Pull(log, 0.0, float(time[-1]), 3, float(rpm[0]), float(rpm[-1]), used=True)
    whole = Log(log, time.size, float(time[-1]), "utf-8", ",", ".", (), traces)
    said = Conditions(log, day="saturday", air=air or Air(20.0, 99.0, 50.0), direction=direction)
    return record_pull(whole, pull, CAR, said)


def compressor_map():
    """Four speed lines of an invented wheel, without efficiencies on none of them."""
    lines = []
    for speed, top in ((90_000.0, 1.7), (120_000.0, 2.3), (150_000.0, 3.1), (180_000.0, 4.2)):
        share = np.array([0.45, 0.6, 0.75, 0.9])
        flows = 1.9e-3 * speed * share
        ratio = 1.0 + (top - 1.0) * np.sqrt(1.0 - (0.9 * share) ** 2) / 0.9
        lines.append(SpeedLine(speed, flows, ratio, 0.74 - 0.5 * (share - 0.65) ** 2))
    return CompressorMap("invented", ReferenceState(298.15, 1e5), tuple(lines), "made up for a test")


def operating():
    """The pull on the map."""
    return operating_line(air_system(pull_record(), CAR, rpm=np.arange(3200.0, 6401.0, 200.0)), compressor_map())


def power_curves(standard="none"):
    """Three pulls, out and back among them."""
    records = [pull_record("a.csv", direction="out"), pull_record("b.csv", direction="back", faster=0.98)]
    records.append(pull_record("c.csv", faster=1.01))
    return [power_curve(record, CAR, standard=standard) for record in records]


def power_report_of(standard="sae-j1349"):
    """A report on three pulls, with an operating line."""
    curves = power_curves(standard)
    return power_report(
        curves,
        mean_power(curves),
        standard=standard,
        car=CAR,
        made_at=MADE_AT,
        left_out=("d.csv has no road speed.",),
        more=(map_section((("before", operating()), ("after", operating()))),),
    )
