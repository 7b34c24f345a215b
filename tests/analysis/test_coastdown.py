"""A coast-down must give back the rolling resistance and drag area of a simulated car, and say how well."""

import dataclasses

import numpy as np
import pytest
from scipy.integrate import solve_ivp

from pullproof.analysis.coastdown import coast_down, find_runs
from pullproof.analysis.coastdown.fit import Setting, fit_runs
from pullproof.analysis.coastdown.runs import Run
from pullproof.channels import Trace
from pullproof.conditions import Air, Conditions, ConditionsSheet
from pullproof.errors import CannotAnswer

ROLLING, AREA = 0.012, 0.70
AIR = Air(20.0, 1.2 * 287.055 * 293.15 / 1e3, 0.0)
WAYS = ConditionsSheet({f"{way}.csv": Conditions(f"{way}.csv", direction=way, air=AIR) for way in ("out", "back")})


def pair(simulation, count, road=None, *, seed=0):
    """An out log and a back log of some runs each."""
    return [
        simulation.coast(
            simulation.Car(), [simulation.Coasting(way=way)] * count, road or simulation.Road(),
            seed=seed + way + 1, file=f"{name}.csv",
        )
        for way, name in ((1, "out"), (-1, "back"))
    ]  # fmt: skip


@pytest.mark.parametrize(("noise_kmh", "step_kmh"), [(0.1, 0.01), (0.4, 0.1), (0.0, 1.0)])
def test_a_10_hz_logger_gives_both_within_two_per_cent(simulation, noise_kmh, step_kmh):
    """Both coefficients within 2 % from one run on a level road in still air; speed in whole km/h is enough."""
    for seed in range(4):
        log = simulation.coast(
            simulation.Car(), [simulation.Coasting()], seed=seed, noise_kmh=noise_kmh, step_kmh=step_kmh, file="out.csv"
        )
        result = coast_down([log], simulation.sheet, WAYS)
        assert result.rolling_resistance.value == pytest.approx(ROLLING, rel=0.02)
        assert result.drag_area_m2.value == pytest.approx(AREA, rel=0.02)


def test_slope_and_wind_cancel_between_the_ways(simulation):
    """On 0.3 % of slope in 2 m/s of wind, runs both ways give both within 1 %, and find slope and wind."""
    result = coast_down(pair(simulation, 2, simulation.Road(grade=0.003, headwind=2.0), seed=5), simulation.sheet, WAYS)
    assert result.rolling_resistance.value == pytest.approx(ROLLING, rel=0.01)
    assert result.drag_area_m2.value == pytest.approx(AREA, rel=0.01)
    assert result.gradient == pytest.approx(0.003, abs=2e-4)
    assert result.wind_m_s == pytest.approx(2.0, abs=0.2)


def test_ways_are_told_apart_where_nobody_said(simulation):
    """Runs of one log in turn out and back fall into two groups: told, used, and said as a doubt."""
    runs = [simulation.Coasting(way=way) for way in (1, -1, 1, -1)]
    log = simulation.coast(simulation.Car(), runs, simulation.Road(grade=0.004, headwind=1.0))
    result = coast_down([log], simulation.sheet)
    assert result.rolling_resistance.value == pytest.approx(ROLLING, rel=0.02)
    assert any("two groups" in doubt for doubt in result.doubts)


def test_positions_tell_the_ways(simulation):
    """With latitude and longitude no direction has to be stated."""
    runs = [simulation.Coasting(way=way) for way in (1, -1)]
    log = simulation.coast(simulation.Car(), runs, simulation.Road(grade=0.003))
    first, second = find_runs(log)
    time = log.traces["vehicle_speed"].time
    turn = 0.5 * (first.start_s + first.time[-1] + second.start_s)
    east = np.where(time < turn, 0.3e-3 * time, 0.3e-3 * (2 * turn - time))
    positions = {
        "latitude": Trace("latitude", "deg", time, np.full(time.size, 48.0) + 1e-9 * time),
        "longitude": Trace("longitude", "deg", time, 11.0 + east),
    }
    result = coast_down([dataclasses.replace(log, traces=dict(log.traces) | positions)], simulation.sheet)
    assert result.gradient == pytest.approx(0.003, abs=3e-4)
    assert not any("direction" in doubt for doubt in result.doubts)


def test_altitude_takes_the_slope_out_of_one_run(simulation):
    """One way on 0.5 % of slope is 40 % off in rolling resistance, but within 10 % with altitude, and narrower."""
    log = simulation.coast(simulation.Car(), [simulation.Coasting()], simulation.Road(grade=0.005), file="out.csv")
    speed = log.traces["vehicle_speed"]
    height = 300.0 + 0.005 * np.cumsum(speed.values / 3.6 * 0.1)
    noisy = np.round(height + 0.5 * np.random.default_rng(1).normal(size=height.size), 1)
    known = dataclasses.replace(log, traces=dict(log.traces) | {"altitude": Trace("altitude", "m", speed.time, noisy)})
    without, with_altitude = (coast_down([one], simulation.sheet, WAYS).rolling_resistance for one in (log, known))
    assert without.value > 1.3 * ROLLING
    assert without.lower < ROLLING
    assert with_altitude.value == pytest.approx(ROLLING, rel=0.10)
    assert with_altitude.half_width < 0.4 * without.half_width


def drawn(simulation, rng, count):
    """Logs of a car, road and day drawn from the doubts that docs/coastdown.md states."""
    off = {name: half / 1.96 * rng.normal() for name, half in
           (("mass", 0.02), ("speed", 0.02), ("rotating", 0.015), ("pressure", 0.5 / 98))}  # fmt: skip
    road = simulation.Road(5e-3 * rng.normal(), 1.5 * rng.normal(), 1.2 * (1 + off["pressure"]))
    logs, rise = [], 0.1 * rng.normal()
    for way, name in ((1, "out"), (-1, "back")):
        runs = [simulation.Coasting(way, 0.5 * rng.normal(), 5e-4 * rng.normal()) for _ in range(count)]
        log = simulation.coast(
            simulation.Car(mass=1510.0 * (1 + off["mass"]), rolling_rise=rise), runs, road,
            seed=int(rng.integers(1 << 30)), rate=5.0, factor=1.03 + off["rotating"], file=f"{name}.csv",
        )  # fmt: skip
        speed = log.traces["vehicle_speed"]
        scaled = dataclasses.replace(speed, values=speed.values * (1 + off["speed"]))
        logs.append(dataclasses.replace(log, traces=dict(log.traces) | {"vehicle_speed": scaled}))
    return logs


def test_the_intervals_hold(simulation):
    """Over drawn cars, days and gusts, the 95 % intervals of one pair hold the truth about that often (60 pairs)."""
    rng = np.random.default_rng(21)
    held = []
    for _ in range(60):
        result = coast_down(drawn(simulation, rng, 1), simulation.sheet, WAYS)
        held.append(result.rolling_resistance.lower < ROLLING < result.rolling_resistance.upper)
        held.append(result.drag_area_m2.lower < AREA < result.drag_area_m2.upper)
    assert 0.90 <= np.mean(held) <= 0.995


def test_conditions_are_held_against_the_standards(simulation):
    """Five calm runs each way from 120 to 10 km/h pass all that a log can show; one short run in frost does not."""
    runs = [simulation.Coasting(way=1, from_kmh=130.0, to_kmh=9.0)] * 5
    back = [simulation.Coasting(way=-1, from_kmh=130.0, to_kmh=9.0)] * 5
    logs = [
        simulation.coast(simulation.Car(), runs, rate=5.0, file="out.csv"),
        simulation.coast(simulation.Car(), back, rate=5.0, file="back.csv"),
    ]
    checks = {check.id: check.status for check in coast_down(logs, simulation.sheet, WAYS).checks}
    assert checks == {
        "directions": "pass", "number of runs": "pass", "speed range": "pass", "air temperature": "pass",
        "wind": "pass", "gradient": "pass", "road and car": "not known",
    }  # fmt: skip
    frost = ConditionsSheet({"out.csv": Conditions("out.csv", direction="out", air=Air(-4.0, 99.0))})
    short = simulation.coast(simulation.Car(), [simulation.Coasting(from_kmh=100.0, to_kmh=30.0)], file="out.csv")
    checks = {check.id: check.status for check in coast_down([short], simulation.sheet, frost).checks}
    assert checks == {
        "directions": "fail", "number of runs": "fail", "speed range": "fail", "air temperature": "fail",
        "wind": "not known", "gradient": "not known", "road and car": "not known",
    }  # fmt: skip


def test_strong_wind_and_steep_road_fail(simulation):
    """5 m/s of wind and 0.8 % of slope are beyond SAE J1263, and are named with their size."""
    result = coast_down(pair(simulation, 1, simulation.Road(grade=0.008, headwind=5.0)), simulation.sheet, WAYS)
    failed = {check.id: check.detail for check in result.checks if check.status == "fail"}
    assert float(failed["wind"].split()[0]) == pytest.approx(5.0, rel=0.1)
    assert failed["gradient"].startswith("0.8")


def test_a_brake_ends_a_run(simulation):
    """Braking from 50 km/h on is cut off, and the coefficients stay right."""
    log = simulation.coast(simulation.Car(), [simulation.Coasting()], file="out.csv")
    speed = log.traces["vehicle_speed"]
    at_50 = speed.time[(speed.time > 20.0) & (speed.values < 50.0)][0]
    braked = np.maximum(speed.values - 3.6 * 0.8 * np.maximum(speed.time - at_50, 0.0), 0.0)
    result = coast_down(
        [
            dataclasses.replace(
                log, traces=dict(log.traces) | {"vehicle_speed": dataclasses.replace(speed, values=braked)}
            )
        ],
        simulation.sheet,
        WAYS,
    )
    (run,) = result.runs
    assert 50.0 < 3.6 * run.speed[-1] < 60.0
    assert result.drag_area_m2.value == pytest.approx(AREA, rel=0.03)


def test_engine_braking_is_no_coast_down(simulation):
    """In gear the engine turns with the wheels: the run is refused with that reason, and nothing is left to fit."""
    log = simulation.coast(simulation.Car(), [simulation.Coasting()])
    speed = log.traces["vehicle_speed"]
    engine = dataclasses.replace(log.traces["engine_speed"], values=np.round(35.0 * speed.values))
    geared = dataclasses.replace(log, traces=dict(log.traces) | {"engine_speed": engine})
    (run,) = find_runs(geared)
    assert "in neutral" in run.reason
    with pytest.raises(CannotAnswer, match=r"no coast-down can be used.*in neutral"):
        coast_down([geared], simulation.sheet)


def test_what_is_missing_is_named(simulation):
    """No mass, no road speed, no coast-down: each has its sentence."""
    log = simulation.coast(simulation.Car(), [simulation.Coasting()])
    with pytest.raises(CannotAnswer, match="mass_kg"):
        coast_down([log], simulation.replace(simulation.sheet, mass_kg=None))
    with pytest.raises(CannotAnswer, match="no road speed"):
        coast_down([dataclasses.replace(log, traces={})], simulation.sheet)
    short = simulation.coast(simulation.Car(), [simulation.Coasting(from_kmh=55.0)])
    with pytest.raises(CannotAnswer, match="from 60 km/h or more"):
        coast_down([short], simulation.sheet)


def test_tyres_that_roll_harder_with_speed(simulation):
    """Rolling resistance that rises by 15 % to 120 km/h is not taken for a drag area, nor for wind."""
    car = simulation.Car()
    runs = []
    for way in (1, -1):
        answer = solve_ivp(
            lambda _, v: -(1510 * 9.80665 * 0.0112 * (1 + 0.15 * v / 33.3) + 0.42 * v**2) / (1510 * 1.03),
            (0, 200), [33.3], rtol=1e-8, dense_output=True,
        )  # fmt: skip
        time = np.arange(0.0, 200.0, 0.1)
        speed = answer.sol(time)[0] + 0.05 * np.random.default_rng(way + 1).normal(size=time.size)
        moving = speed > 4.2
        runs.append(Run("a", 0.0, time[moving], speed[moving]))
    fit = fit_runs(tuple(runs), Setting(car.mass, 1.03 * car.mass, 1.2, (1, -1), (None, None)))
    assert fit.drag_area == pytest.approx(AREA, rel=0.03)
    for speed in (20.0, 33.0):
        truth = 1510 * 9.80665 * 0.0112 * (1 + 0.15 * speed / 33.3) + 0.42 * speed**2
        assert 1510 * 9.80665 * fit.rolling_resistance + 0.6 * fit.drag_area * speed**2 == pytest.approx(
            truth, rel=0.02
        )


def test_force_and_temperature(simulation):
    """The road load of the result is the simulated one, and a cold day's rolling resistance is less at 20 degC."""
    logs = pair(simulation, 1)
    result = coast_down(logs, simulation.sheet, WAYS)
    speed = np.array([30.0, 100.0])
    truth = 1510.0 * 9.80665 * ROLLING + 0.6 * AREA * (speed / 3.6) ** 2
    np.testing.assert_allclose(result.force(speed), truth, rtol=0.02)
    assert result.rolling_resistance_at_20_c == pytest.approx(result.rolling_resistance.value)
    cold = ConditionsSheet(
        {name: dataclasses.replace(entry, air=Air(10.0, AIR.pressure_kpa)) for name, entry in WAYS.logs.items()}
    )
    # SAE J1263, from memory: 0.86 % per kelvin.
    cooler = coast_down(logs, simulation.sheet, cold)
    assert cooler.rolling_resistance_at_20_c == pytest.approx(cooler.rolling_resistance.value * 0.914, rel=1e-6)
