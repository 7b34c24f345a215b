"""The simulation obeys conservation laws, and answers a change in the direction that physics asks for."""

from dataclasses import fields, replace

import numpy as np
import pytest
from validation.air import Air, density, oxygen_share, site_pressure
from validation.batches import join, length, take
from validation.calibration import calibrated, quiet_run
from validation.cars import AirPath
from validation.changes import KINDS, Change, apply
from validation.garage import draw_cars
from validation.simulate import STEP, simulate
from validation.truth import MEAN_ROWS, clean_channels, clean_pulls, mean_run, true_differences
from validation.turbomachinery import CP_AIR

COUNT = 24


@pytest.fixture(scope="module")
def cars():
    return calibrated(draw_cars(list(range(9000, 9000 + COUNT))), np.zeros((COUNT, 2)))


def air(celsius=20.0, kilopascal=100.0, humidity=0.5, count=COUNT):
    one = np.ones(count)
    return Air((celsius + 273.15) * one, kilopascal * 1e3 * one, humidity * one)


def quiet(cars, **conditions):
    return quiet_run(cars, air(**conditions, count=length(cars)))


def at(recording, name, share, redline):
    """A signal at a share of the redline, under full load, for every run."""
    values = []
    for row, limit in enumerate(redline):
        inside = (recording.time > recording.full_from[row]) & (recording.time < recording.full_to[row])
        speed = recording.signals["engine_speed"][inside, row]
        values.append(np.interp(share * limit, speed, recording.signals[name][inside, row]))
    return np.array(values)


@pytest.fixture(scope="module")
def traced(cars):
    trace = []
    recording = simulate(quiet(cars), trace)
    return recording, trace


def test_gas_is_conserved(cars, traced):
    """What the compressor delivers less what cylinders draw and leaks lose is what the volumes gain, to rounding."""
    _, trace = traced
    stored = np.array([step["charge_mass"] + step["manifold_mass"] for step in trace])
    inflow = np.array([step["flow"] - step["drawn"] - step["lost"] for step in trace])
    gained = STEP * inflow[1:].sum(axis=0)
    np.testing.assert_allclose(stored[-1] - stored[0], gained, atol=1e-9)


def test_heat_of_the_fuel_is_accounted_for(cars, traced):
    """Work, coolant and exhaust take up the heat released, and the exhaust gas carries its share as temperature."""
    _, trace = traced
    step = trace[len(trace) // 3]
    np.testing.assert_allclose(step["work"] + step["coolant"] + step["exhaust_heat"], step["heat"], rtol=1e-12)
    carried = (step["drawn"] + step["fuel"]) * step["cp"] * (step["gas_temperature"] - step["intake"])
    unclipped = step["gas_temperature"] < 1699
    np.testing.assert_allclose(carried[unclipped], step["exhaust_heat"][unclipped], rtol=1e-9)


def test_shaft_balances(cars, traced):
    """The energy of the shaft grows by turbine power less compressor power less bearing drag."""
    _, trace = traced
    inertia = cars.turbo.inertia
    energy = np.array([0.5 * inertia * step["shaft"] ** 2 for step in trace])
    net = np.array([step["turbine_power"] - step["compressor_power"] - step["drag"] for step in trace])
    middle = slice(len(trace) // 4, len(trace) // 3)
    gained = np.diff(energy, axis=0)[middle]
    np.testing.assert_allclose(gained, STEP * net[1:][middle], atol=1e-6 * energy.max())


def test_steady_shaft_needs_turbine_equal_to_compressor(cars):
    """On a slow pull, settled, turbine power covers compressor power and bearings to two per cent."""
    heavy = replace(cars, vehicle=replace(cars.vehicle, mass=cars.vehicle.mass * 3))
    trace = []
    run = quiet(heavy)
    late = replace(run.driver, gear=np.full(COUNT, 2.0), start_speed=0.6 * cars.engine.redline)
    recording = simulate(replace(run, driver=late), trace)
    ends = np.round((recording.full_to - 0.1) / STEP).astype(int)
    names = ("turbine_power", "compressor_power", "drag")
    step = {name: np.array([trace[end][name][row] for row, end in enumerate(ends)]) for name in names}
    np.testing.assert_allclose(step["turbine_power"], step["compressor_power"] + step["drag"], rtol=0.03)


def test_compressor_power_is_the_heating_of_the_air(cars, traced):
    """First law: shaft power into the compressor equals flow times heat capacity times temperature rise."""
    _, trace = traced
    step = trace[len(trace) // 3]
    inlet = 293.15
    isentropic = inlet * (step["ratio"] ** (1 / 3.5) - 1)
    rise = step["outlet_temperature"] - inlet
    np.testing.assert_allclose(isentropic / rise, step["efficiency"], rtol=1e-6)
    power = step["compressor_power"]
    flow = power / (CP_AIR * rise)
    np.testing.assert_allclose(flow, step["flow"], rtol=0.05)


def test_figures_are_those_of_road_cars(cars, traced):
    """Power, flow, pressures and temperatures lie where petrol and diesel engines of 1.4 to 3 l have them (common
    practice, no source)."""
    recording, _ = traced
    signals = recording.signals
    litres = cars.engine.displacement * 1e3
    per_litre = signals["wheel_power"].max(axis=0) / litres
    assert np.all((per_litre > 30) & (per_litre < 125))
    flow_per_power = signals["air_mass_flow"].max(axis=0) / signals["wheel_power"].max(axis=0)
    assert np.all((flow_per_power > 0.9) & (flow_per_power < 1.9))
    assert np.all(signals["exhaust_gas_temperature"].max(axis=0) > 550)
    assert np.all(signals["exhaust_gas_temperature"].max(axis=0) < 1050)
    assert np.all(signals["intake_air_temperature"].max(axis=0) > 25)
    assert np.all(signals["intake_air_temperature"].max(axis=0) < 75)
    assert np.all((signals["turbo_speed"].max(axis=0) > 60_000) & (signals["turbo_speed"].max(axis=0) < 260_000))


def test_boost_is_held(cars, traced):
    """Where the gate is free, charge pressure stays within about 1 kPa of its target above 70 % of the redline."""
    recording, _ = traced
    signals, redline = recording.signals, cars.engine.redline
    misses = []
    for row in range(COUNT):
        speed = signals["engine_speed"][:, row]
        inside = (recording.time < recording.full_to[row]) & (speed > 0.7 * redline[row])
        sensor = "compressor_outlet_pressure" if cars.control.at_compressor[row] else "charge_pressure"
        duty = signals["wastegate_duty"][inside, row]
        if duty.max() < 97:
            error = signals["charge_pressure_target"][inside, row] - signals[sensor][inside, row]
            misses.append(np.sqrt(np.mean(error**2)))
    assert len(misses) > COUNT / 2
    assert np.median(misses) < 0.6
    assert np.quantile(misses, 0.9) < 1.5


CHANGES = {
    "plain": Change("nothing", 0.0),
    "restriction": Change("restriction", 0.5),
    "leak": Change("leak", 5.0),
    "cooler": Change("cooler", 1.0),
    "exhaust": Change("exhaust", 0.5),
    "ignition": Change("ignition", 2.0),
}


@pytest.fixture(scope="module")
def changed(cars):
    """Signals at 85 % of the redline of every car with every change, all far from knock, from one batch."""
    still = 0 * cars.engine.redline
    engine = replace(cars.engine, map_margin=cars.engine.map_margin + 8, hot_air_retard=still)
    tame = replace(cars, engine=engine, control=replace(cars.control, hot_cut=still))
    bold = replace(tame, control=replace(tame.control, ratio_limit=tame.control.ratio_limit + 1.0))
    parts = [quiet(apply(tame, [change] * COUNT)) for change in CHANGES.values()]
    parts += [quiet(tame, celsius=35.0), quiet(bold), quiet(bold, kilopascal=94.0)]
    names = [*CHANGES, "warm", "bold", "bold and thin"]
    recording = simulate(join(parts))
    redline = np.tile(cars.engine.redline, len(parts))

    def of(change, name):
        row = names.index(change)
        return at(recording, name, 0.85, redline)[row * COUNT : (row + 1) * COUNT]

    return of


def difference(changed, change, name):
    """Signal after less before, and whether both gates are free."""
    duty = np.maximum(changed("plain", "wastegate_duty"), changed(change, "wastegate_duty"))
    return changed(change, name) - changed("plain", name), duty < 97


def test_restriction_raises_duty_at_equal_boost(cars, changed):
    """More loss in the charge path asks for more duty on every car whose gate is free, while boost stays put."""
    duty, free = difference(changed, "restriction", "wastegate_duty")
    free &= cars.control.at_compressor < 1
    assert free.sum() > COUNT / 3
    assert np.all(duty[free] > 0)
    boost, _ = difference(changed, "restriction", "charge_pressure")
    assert np.mean(np.abs(boost[free]) < 1.0) > 0.9


def test_leak_raises_duty(changed):
    """A hole in the charge path asks for more duty and more air through the compressor."""
    for name in ("wastegate_duty", "air_mass_flow"):
        gap, free = difference(changed, "leak", name)
        assert np.mean(gap[free] > 0) > 0.9


def test_better_cooler_cools(changed):
    """A better cooler gives cooler intake air on every car."""
    assert np.all(difference(changed, "cooler", "intake_air_temperature")[0] < 0)


def test_back_pressure_raises_duty(changed):
    """More exhaust back pressure asks for more duty."""
    gap, free = difference(changed, "exhaust", "wastegate_duty")
    assert np.mean(gap[free] > 0) > 0.9


def test_ignition_earlier_gives_power_without_knock(cars, changed):
    """Earlier ignition gives power where knock control does not take it back."""
    gap, _ = difference(changed, "ignition", "wheel_power")
    assert np.all(gap[cars.engine.diesel < 1] > 0)


def test_warm_inlet_raises_duty_at_equal_ignition(changed):
    """Warmer air asks for more compressor work: duty rises on most cars, diesel or far from knock."""
    gap, free = difference(changed, "warm", "wastegate_duty")
    assert np.mean(gap[free] > 0) > 0.75


def test_thin_air_speeds_the_turbocharger_of_absolute_targets(cars, changed):
    """At altitude a car that holds an absolute target turns its compressor faster."""
    absolute = cars.control.follows_ambient < 1
    assert np.all((changed("bold and thin", "turbo_speed") > changed("bold", "turbo_speed"))[absolute])


TRUTHS = (Change("mass", 100.0), Change("nothing", 0.0), Change("boost target", 4.0))


@pytest.fixture(scope="module")
def truths(cars):
    """The truth of three changes on some cars whose controller is firm: per car, by kind."""
    firm = take(cars, cars.control.integral > np.median(cars.control.integral))
    pairs = [(take(firm, slice(row, row + 1)), change) for row in range(0, length(firm), 3) for change in TRUTHS]
    runs = join([mean_run(quiet(car), car, apply(car, [change])) for car, change in pairs])
    recording, found = simulate(runs), []
    for row, (car, change) in enumerate(pairs):
        limit = float(car.engine.redline[0])
        pulls = clean_pulls(recording, MEAN_ROWS * row, runs, {"charge_pressure"})
        found.append((change.kind, true_differences(pulls, (0.65 * limit, 0.95 * limit))))
    return found


def test_mass_slows_but_leaves_power(truths):
    """Mass aboard lengthens the pull; the power at the wheels hardly moves."""
    for found in (found for kind, found in truths if kind == "mass"):
        assert found["pull.time"].whole > 0
        assert abs(found["wheel_power.mean"].whole) < 0.02 * found["wheel_power.mean"].before


def test_nothing_changes_nothing(truths):
    """The truth of nothing at all is exactly zero."""
    for found in (found for kind, found in truths if kind == "nothing"):
        assert all(truth.whole == 0 for truth in found.values() if np.isfinite(truth.whole))


def test_boost_target_alone_leaves_duty_at_equal_boost(truths):
    """A raised target moves duty, but not the duty that the same boost asks for."""
    free = [found for kind, found in truths if kind == "boost target" and found["wastegate_duty.peak"].before < 97]
    assert free
    for found in free:
        duty = found["wastegate_duty.mean"]
        assert duty.whole > 0.5
        assert abs(duty.equal_boost) < 0.15 * duty.whole
        assert found["boost.mean"].of("boost.mean") == pytest.approx(4.0, abs=0.8)


@pytest.mark.parametrize("kind", list(KINDS))
def test_no_change_makes_an_impossible_part(cars, kind):
    """However large a change is drawn, every part stays one that could exist: all sizes above zero."""
    usual = KINDS[kind][1]
    for share in (-1.3, 1.3):
        some = apply(cars, [Change(kind, share * usual)] * COUNT)
        for field in fields(AirPath):
            if field.name != "leak_area":
                assert np.all(getattr(some.path, field.name) > 0)
        assert np.all(some.turbo.efficiency > 0.5)
        assert np.all(some.vehicle.mass > 700)


def test_batch_does_not_matter(cars, traced):
    """A run gives the same signals alone and among others."""
    together, alone = traced[0], simulate(take(quiet(cars), slice(3, 4)))
    last = alone.last[0]
    for name, values in alone.signals.items():
        np.testing.assert_allclose(values[:last, 0], together.signals[name][:last, 3], rtol=1e-5, err_msg=name)


def test_step_is_short_enough(cars, traced, monkeypatch):
    """Halving the step moves the measures by far less than any scatter between runs."""
    import validation.simulate as module

    monkeypatch.setattr(module, "STEP", 0.0025)
    some = take(cars, slice(0, 6))
    fine, redline = simulate(quiet(some)), some.engine.redline
    for name, bound in (("wastegate_duty", 0.25), ("wheel_power", 0.5)):
        coarse = at(traced[0], name, 0.85, cars.engine.redline)[:6]
        assert np.all(np.abs(at(fine, name, 0.85, redline) - coarse) < bound)


def test_energy_of_the_road(cars, traced):
    """Wheel power over the pull equals the kinetic energy gained plus what rolling and air took."""
    recording, trace = traced
    for row in range(0, COUNT, 7):
        inside = (recording.time > recording.full_from[row]) & (recording.time < recording.full_to[row])
        steps = [trace[2 * int(k)] for k in np.flatnonzero(inside)]
        speed = np.array([step["true_speed"][row] for step in steps])
        vehicle, engine_ratio = cars.vehicle, cars.vehicle.gear_ratios[row, 2] * cars.vehicle.final_drive[row]
        turning = (vehicle.wheel_inertia[row] + engine_ratio**2 * vehicle.engine_inertia[row]) / vehicle.tyre_radius[
            row
        ] ** 2
        kinetic = 0.5 * (vehicle.mass[row] + turning) * (speed[-1] ** 2 - speed[0] ** 2)
        rho = density(air(count=1))[0]
        drag = 0.5 * rho * vehicle.drag_area[row] * speed**2 + vehicle.mass[row] * 9.81 * vehicle.rolling[row]
        spent = np.sum(drag * speed) * 0.01
        given = recording.signals["wheel_power"][inside, row].astype(float).sum() * 0.01 * 1e3
        assert given == pytest.approx(kinetic + spent, rel=0.01)


@pytest.mark.parametrize(
    ("celsius", "kilopascal", "humidity", "printed"),
    [(20.0, 101.325, 0.5, 1.199314), (25.0, 101.325, 0.6, 1.175922), (5.0, 102.5, 0.8, 1.281160)],
)
def test_air_density(celsius, kilopascal, humidity, printed):
    """Density of moist air agrees with CIPM-2007 (Picard et al., Metrologia 45, 2008) to six parts in ten thousand."""
    found = density(air(celsius, kilopascal, humidity, 1))[0]
    assert found == pytest.approx(printed, rel=7e-4)


def test_site_pressure():
    """Pressure at 1000 m is that of the standard atmosphere (ISO 2533: 89 874.6 Pa)."""
    assert site_pressure(np.array([1000.0]))[0] == pytest.approx(89_874.6, rel=3e-4)
    assert 0.95 < oxygen_share(air(30, 100, 1.0, 1))[0] < 0.98


def test_clean_channels_follow_the_sensor(cars, traced):
    """Where the charge pressure sensor sits at the compressor, the clean channel is the pressure there."""
    recording, _ = traced
    run = quiet(cars)
    for row in range(COUNT):
        chosen = clean_channels(recording, row, run)["charge_pressure"][1]
        source = "compressor_outlet_pressure" if cars.control.at_compressor[row] else "charge_pressure"
        np.testing.assert_array_equal(chosen, recording.signals[source][: len(chosen), row].astype(float))
