from dataclasses import replace

import numpy as np
import pytest

from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull, Idle
from pullproof.demo.simulator import SIGNALS, Drive, simulate_drive
from pullproof.demo.true_effect import SCRIPT, measured
from pullproof.demo.weather import Weather
from pullproof.demo.weekends import WINDOW, with_new_pipe

MILD = Weather(16.0, 100.0, 55.0)
CAR = DemoCar()


def measures(car: DemoCar, weather: Weather = MILD) -> dict[str, float]:
    drive = simulate_drive(car, weather, SCRIPT, None)
    return measured(drive, drive.pulls[-1], WINDOW)


@pytest.fixture(scope="module")
def usual() -> dict[str, float]:
    return measures(CAR)


@pytest.fixture(scope="module")
def noisy() -> Drive:
    script = [Idle(3.0), Cruise(60.0, 5.0), FullPull(), Cruise(70.0, 10.0), FullPull(lift_at=4500.0), Idle(1.0)]
    return simulate_drive(CAR, MILD, script, np.random.default_rng(5))


def test_wider_pipe_needs_less_duty_at_the_same_boost(usual: dict[str, float]) -> None:
    """Less loss before the cooler leaves the turbocharger more in hand; the boost is the controller's and stays."""
    wide = measures(with_new_pipe(CAR))
    assert wide["wastegate_duty.peak"] < usual["wastegate_duty.peak"] - 1.0
    assert wide["boost.mean"] == pytest.approx(usual["boost.mean"], abs=0.8)


def test_narrowest_pipe_first(usual: dict[str, float]) -> None:
    """Duty falls with every step in bore, and by less each time: the loss goes with the fourth power of the bore."""
    path = CAR.charge_path
    duties = [
        measures(replace(CAR, charge_path=replace(path, hot_pipe=replace(path.hot_pipe, bore=bore))))[
            "wastegate_duty.mean"
        ]
        for bore in (0.046, 0.050, 0.054, 0.058)
    ]
    steps = np.diff(duties)
    assert np.all(steps < 0.0)
    assert np.all(np.diff(steps) > 0.0)
    assert duties[0] == usual["wastegate_duty.mean"]


def test_volume_alone_makes_boost_later(usual: dict[str, float]) -> None:
    """A bigger cooler with the same loss and cooling takes longer to fill: boost comes later, the top is the same."""
    path = CAR.charge_path
    roomy = measures(replace(CAR, charge_path=replace(path, cooler=replace(path.cooler, volume=15e-3))))
    assert roomy["boost.reaches"] > usual["boost.reaches"] + 5.0
    assert roomy["wastegate_duty.peak"] == pytest.approx(usual["wastegate_duty.peak"], abs=0.15)


@pytest.mark.parametrize(
    "harder",
    [
        pytest.param(lambda: measures(CAR, replace(MILD, temperature_c=28.0)), id="warm air"),
        pytest.param(lambda: measures(CAR, replace(MILD, pressure_kpa=98.0)), id="low barometer"),
        pytest.param(
            lambda: measures(replace(CAR, engine=replace(CAR.engine, intake_loss=3 * CAR.engine.intake_loss))),
            id="blocked filter",
        ),
        pytest.param(lambda: measures(replace(CAR, exhaust=replace(CAR.exhaust, loss=2.8e5))), id="back pressure"),
        pytest.param(
            lambda: measures(replace(CAR, compressor=replace(CAR.compressor, best_efficiency=0.68))), id="tired wheel"
        ),
    ],
)
def test_what_makes_the_turbocharger_work_harder_raises_duty(harder, usual: dict[str, float]) -> None:
    """Signs of the power balance of the shaft: warm or thin air, losses and a poorer wheel all cost duty."""
    assert harder()["wastegate_duty.mean"] > usual["wastegate_duty.mean"] + 0.3


def test_raised_target_gives_boost_air_and_power(usual: dict[str, float]) -> None:
    """More boost is more air and power, and more duty."""
    curve = tuple((speed, 0.96 * target) for speed, target in CAR.control.charge_pressure_target)
    lower = measures(replace(CAR, control=replace(CAR.control, charge_pressure_target=curve)))
    for name in ("boost.mean", "air_mass_flow.mean", "wheel_power.mean", "wastegate_duty.mean"):
        assert lower[name] < usual[name]


def test_step_is_short_enough() -> None:
    """A quarter of the time step changes the effect of the pipe by no more than 0.05 points of duty."""
    effects = []
    for step in (0.02, 0.005):
        drives = [simulate_drive(car, MILD, SCRIPT, None, step=step) for car in (CAR, with_new_pipe(CAR))]
        old, new = (measured(drive, drive.pulls[-1], WINDOW) for drive in drives)
        effects.append(new["wastegate_duty.peak"] - old["wastegate_duty.peak"])
    assert effects[0] == pytest.approx(effects[1], abs=0.05)


def test_same_seed_same_drive(noisy: Drive) -> None:
    """Chance comes from the generator alone."""
    script = [Cruise(50.0, 2.0), FullPull()]
    first, again, other = (simulate_drive(CAR, MILD, script, np.random.default_rng(seed)) for seed in (3, 3, 4))
    for name in SIGNALS:
        np.testing.assert_array_equal(first.signals[name], again.signals[name])
    assert first.pulls == again.pulls != other.pulls


def test_air_of_the_engine_follows_speed_density(noisy: Drive) -> None:
    """The air flow is what a four-stroke of this size draws at a volumetric efficiency of 0.6 to 1.05.

    Speed-density relation: Heywood, Internal Combustion Engine Fundamentals, eq. (2.27), from memory.
    """
    signal = noisy.signals
    full = (signal["pedal_position"] > 99.0) & (signal["engine_speed"] > 3000.0)
    swept = CAR.engine.displacement * signal["engine_speed"][full] / 120.0
    density = signal["manifold_pressure"][full] * 1e3 / (287.05 * (signal["charge_air_temperature"][full] + 273.15))
    efficiency = signal["air_mass_flow"][full] / 1e3 / (swept * density)
    assert np.all((efficiency > 0.6) & (efficiency < 1.05))


def test_numbers_are_those_of_a_two_litre_turbocharged_petrol_car(noisy: Drive) -> None:
    """Ranges that somebody who reads logs expects at full load (common practice, no source)."""
    pull = noisy.pulls[0]
    inside = (noisy.signals["time"] > pull.start + 0.5) & (noisy.signals["time"] < pull.end)
    settled = inside & (noisy.signals["engine_speed"] > 4200.0)
    assert 6.0 < pull.end - pull.start < 9.0
    for name, low, high, where in [
        ("charge_pressure", 228.0, 248.0, settled),
        ("wastegate_duty", 85.0, 97.0, settled),
        ("air_mass_flow", 150.0, 260.0, settled),
        ("lambda", 0.78, 0.90, inside),
        ("ignition_timing", 4.0, 22.0, inside),
        ("exhaust_gas_temperature", 780.0, 950.0, settled),
        ("compressor_outlet_temperature", 110.0, 185.0, settled),
        ("turbo_speed", 120e3, 180e3, settled),
        ("engine_torque", 270.0, 430.0, settled),
    ]:
        values = noisy.signals[name][where]
        assert low < values.min() < values.max() < high, name
    rise = noisy.signals["intake_air_temperature"][inside]
    assert 15.0 < rise[-1] - rise[0] < 45.0


def test_pressures_stand_in_the_order_of_the_flow(noisy: Drive) -> None:
    """At full load pressure falls from the compressor outlet to the throttle and on to the manifold."""
    signal = noisy.signals
    settled = (signal["pedal_position"] > 99.0) & (signal["engine_speed"] > 4000.0)
    assert np.all(signal["compressor_outlet_pressure"][settled] > signal["charge_pressure"][settled])
    assert np.all(signal["charge_pressure"][settled] > signal["manifold_pressure"][settled])


def test_driver_marks_the_spoiled_pull(noisy: Drive) -> None:
    """The pull in which the pedal was lifted is known as such, and the pedal shows it."""
    good, bad = noisy.pulls
    assert (good.spoiled, bad.spoiled) == (False, True)
    time, pedal = noisy.signals["time"], noisy.signals["pedal_position"]
    for pull, lowest in [(good, 99.0), (bad, 34.0)]:
        inside = (time > pull.start + 0.5) & (time < pull.end)
        assert pedal[inside].min() == pytest.approx(lowest, abs=2.0)
