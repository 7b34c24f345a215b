"""The air system before and after: simulated cars whose truth is known, and what must hold for any."""

import datetime
from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.air_system import AirDifference, compare_air
from pullproof.analysis.comparison import compare_records
from pullproof.channels import Trace
from pullproof.demo.car import DemoCar
from pullproof.demo.driving import Cruise, FullPull, Idle
from pullproof.demo.simulator import simulate_drive
from pullproof.demo.weather import Weather
from pullproof.demo.weekends import as_found, with_new_pipe

WINDOW = (4100.0, 6400.0)
DAYS = (Weather(11.0, 100.6, 70.0, 0.6), Weather(20.0, 99.3, 55.0, 0.9), Weather(24.0, 98.6, 50.0, 0.3))
MEAN_DAY = Weather(18.75, 99.45, 57.5, 0.0)


def with_sensor(record):
    """The sensor behind the compressor under its channel."""
    outlet = replace(record.traces["Outlet"], channel="compressor_outlet_pressure")
    return replace(record, traces={**record.traces, "compressor_outlet_pressure": outlet})


STARTED = {
    "b0.csv": datetime.datetime.fromisoformat("2026-05-09T10:00"),
    "b1.csv": datetime.datetime.fromisoformat("2026-05-17T10:00"),
    "a1.csv": datetime.datetime.fromisoformat("2026-05-17T14:00"),
    "a2.csv": datetime.datetime.fromisoformat("2026-05-24T10:00"),
}


def answer(before, after, car, **more):
    comparison = compare_records(before, after, car=car, window=WINDOW, moments=STARTED, **more)
    return compare_air(comparison, before, after, car, moments=STARTED)


def by_name(air):
    return {one.id: one for one in air.quantities}


@pytest.fixture(scope="module")
def sets():
    """Pulls of three days, two a day, by seed and part: sides share the second day."""
    return {}


@pytest.fixture
def sides(sets, outing):
    def make(seed=1, changed=False):
        if (seed, changed) not in sets:
            rng = np.random.default_rng(seed)
            cars = [as_found(DemoCar(), rng) for _ in DAYS]
            new = with_new_pipe if changed else (lambda car: car)

            def drive(file, day, car):
                records = outing(file, str(day), 10 * seed + day, car=car, weather=DAYS[day], pulls=2)
                return [with_sensor(record) for record in records]

            before = [*drive("b0.csv", 0, cars[0]), *drive("b1.csv", 1, cars[1])]
            after = [*drive("a1.csv", 1, new(cars[1])), *drive("a2.csv", 2, new(cars[2]))]
            sets[seed, changed] = before, after
        return sets[seed, changed]

    return make


@pytest.fixture(scope="module")
def loss_saved():
    """What the simulation's two pipes differ by, both driven in the mean weather with nothing left to chance. [kPa]"""
    losses = []
    for car in (DemoCar(), with_new_pipe(DemoCar())):
        drive = simulate_drive(car, MEAN_DAY, [Idle(2.0), Cruise(60.0, 4.0), FullPull()], None)
        signals, mark = drive.signals, drive.pulls[0]
        inside = (signals["time"] >= mark.start) & (signals["time"] <= mark.end)
        speed = signals["engine_speed"][inside]
        loss = (signals["compressor_outlet_pressure"] - signals["charge_pressure"])[inside]
        losses.append(np.interp(np.arange(*WINDOW, 50.0), speed, loss).mean())
    return losses[1] - losses[0]


@pytest.mark.parametrize("seed", [1, 2, 3])
def test_nothing_changed_nothing_shown(sides, car, seed):
    """Between days of different weather every interval of an unchanged car holds zero."""
    found = by_name(answer(*sides(seed), car))
    assert {"pressure_ratio", "cooler_loss", "density_ratio", "volumetric_efficiency"} <= set(found)
    for one in found.values():
        assert one.interval[0] <= 0.0 <= one.interval[1], one.id
        assert one.curve is None or np.all((one.curve.lower <= 0.0) & (one.curve.upper >= 0.0)), one.id


@pytest.mark.parametrize("seed", [1, 2])
def test_a_wider_pipe_shows_where_it_is(sides, car, loss_saved, seed):
    """The loss that the pipe saves is found with the truth inside, narrow enough to be worth something."""
    found = by_name(answer(*sides(seed, changed=True), car))
    low, high = found["cooler_loss"].interval
    assert low <= loss_saved <= high < -3.0
    assert high - low < 1.5
    assert not found["cooler_loss"].estimate
    assert found["pressure_ratio"].interval[0] < 0.0


def test_swapped_sides_turn_the_answer_round(sides, car):
    """After and before exchanged give the same difference with the other sign, interval included."""
    before, after = sides(1, changed=True)
    there, back = (by_name(answer(*pair, car)) for pair in ((before, after), (after, before)))
    assert there.keys() == back.keys()
    for name, one in there.items():
        other = back[name]
        assert other.difference == pytest.approx(-one.difference, abs=1e-6 + 1e-3 * abs(one.difference))
        np.testing.assert_allclose(other.interval, [-one.interval[1], -one.interval[0]], rtol=2e-3, atol=1e-6)


def test_the_difference_is_raw_plus_adjustment(sides, car):
    """As with every measure."""
    for one in by_name(answer(*sides(1), car)).values():
        assert one.difference == pytest.approx(one.raw_difference + one.adjustment)
        assert one.raw_difference == pytest.approx(one.after - one.before)


def test_a_higher_level_is_a_wider_interval(sides, car):
    """99 % holds 80 %, for what days scatter by and for what was assumed."""
    wide, narrow = (by_name(answer(*sides(1), car, level=level)) for level in (0.99, 0.8))
    for name, one in narrow.items():
        assert wide[name].interval[0] < one.interval[0] < one.interval[1] < wide[name].interval[1]


class TestWhatWasAssumed:
    """A part that nobody measured may be the part that was changed."""

    def test_without_a_sensor_the_ratio_is_an_estimate(self, sides, car, without):
        """The interval of the pressure ratio is then at least as wide as what the path may lose."""
        before, after = sides(1, changed=True)
        bare = [[without(one, "compressor_outlet_pressure", "Outlet") for one in side] for side in (before, after)]
        seen, guessed = (by_name(answer(*pair, car))["pressure_ratio"] for pair in ((before, after), bare))
        assert "loss of cooler and charge pipes" in guessed.assumed
        assert "loss of cooler and charge pipes" not in seen.assumed
        # The path may lose 2 to 18 kPa, over about 97 kPa before the compressor.
        assert guessed.interval[1] - guessed.interval[0] > (18.0 - 2.0) / 100.0
        assert seen.interval[1] - seen.interval[0] < guessed.interval[1] - guessed.interval[0]

    def test_a_sensor_on_one_side_alone_does_not_hide_it(self, sides, car, without):
        """Measured after and assumed before is no measured difference."""
        before, after = sides(1)
        one = by_name(answer([without(record, "compressor_outlet_pressure") for record in before], after, car))
        assert one["pressure_ratio"].estimate
        assert one["pressure_ratio"].interval[0] < 0.0 < one["pressure_ratio"].interval[1]

    def test_a_loss_that_no_log_tells_has_no_difference(self, sides, car, without):
        """Two assumptions side by side are no comparison: the reason stands there, with what to log."""
        before, after = ([without(one, "compressor_outlet_pressure") for one in side] for side in sides(1))
        left = {one.id: one for one in answer(before, after, car).not_compared}
        assert "compressor_outlet_pressure" in left["cooler_loss"].advice
        assert left["inlet_loss"].reason == "no pressure before the compressor is logged"

    def test_a_sensor_that_is_off_is_off_on_both_sides(self, sides, car):
        """4 kPa of offset between two sensors [one per cent of 300 kPa each] does not make a difference."""
        shifted = []
        for side in sides(1, changed=True):
            moved = []
            for record in side:
                trace = record.traces["compressor_outlet_pressure"]
                moved.append(
                    replace(
                        record,
                        traces={**record.traces, trace.channel: replace(trace, values=trace.values + 4.0)},
                    )
                )
            shifted.append(moved)
        plain, off = (by_name(answer(*pair, car))["cooler_loss"] for pair in (sides(1, changed=True), shifted))
        assert off.before - plain.before == pytest.approx(4.0, abs=0.01)
        assert off.difference == pytest.approx(plain.difference, abs=0.02)


def test_one_pull_a_side_is_wide(sides, car):
    """Two pulls tell less than eight, and the interval says so."""
    before, after = sides(1)
    few, many = (by_name(answer(*pair, car)) for pair in ((before[:1], after[-1:]), (before, after)))
    for name in ("cooler_loss", "density_ratio", "volumetric_efficiency"):
        assert np.diff(few[name].interval) > 1.3 * np.diff(many[name].interval), name


def test_pulls_that_end_early_share_what_they_have(sides, car):
    """A quantity known in a part of the window is compared there alone, and says so."""
    before, after = sides(1)
    trace = after[0].traces["charge_air_temperature"]
    late = trace.time > after[0].pull.start_s + 0.5 * (after[0].pull.end_s - after[0].pull.start_s)
    gap = Trace(trace.channel, "degC", trace.time, np.where(late, trace.values, np.nan))
    part = replace(after[0], traces={**after[0].traces, "charge_air_temperature": gap})
    one = by_name(answer(before, [part, *after[1:]], car))["density_ratio"]
    assert isinstance(one, AirDifference)


def test_logs_without_the_channels_give_reasons(record, car):
    """Engine speed and boost alone: nothing is made up, and every quantity that is missing says why."""
    before, after = ([record(f"{n}{i}.csv", n, charge_pressure=200.0) for i in range(2)] for n in ("b", "a"))
    air = answer(before, after, car)
    assert {one.id for one in air.not_compared} >= {
        "isentropic_efficiency", "cooler_effectiveness", "cooler_loss", "inlet_loss", "injector_duty", "knock_retard",
        "volumetric_efficiency",
    }  # fmt: skip
    assert all(one.reason for one in air.not_compared)
    assert air.leak.suspicion == "cannot tell"
    assert air.knock == ""


def test_a_channel_that_reads_zero_is_no_measurement(sides, car):
    """An injector duty of nothing but zeros has a reason, not a difference of nought with no interval to it."""
    zeroed = []
    for side in sides(1):
        nothing = [replace(one.traces["lambda"], channel="injector_duty", unit="%") for one in side]
        nothing = [replace(trace, values=0.0 * trace.values) for trace in nothing]
        zeroed.append(
            [
                replace(one, traces={**one.traces, "injector_duty": trace})
                for one, trace in zip(side, nothing, strict=True)
            ]
        )
    left = {one.id: one.reason for one in answer(*zeroed, car).not_compared}
    assert left["injector_duty"] == "it reads zero all through"


def test_what_the_comparison_measured_is_not_measured_again(sides, car):
    """Air flow of a meter and knock retard are the comparison's own measures: one number in both places."""
    before, after = sides(1)
    comparison = compare_records(before, after, car=car, window=WINDOW, moments=STARTED)
    air = compare_air(comparison, before, after, car, moments=STARTED)
    assert [one.id for one in air.measured] == ["air_mass_flow.mean", "knock_retard.mean"]
    assert all(one in comparison.measures for one in air.measured)
    assert "air_mass_flow" not in by_name(air)


def test_without_a_meter_the_flow_is_an_estimate(sides, car, without):
    """Speed-density with an assumed filling: a number with the doubt of that assumption."""
    before, after = ([without(one, "air_mass_flow") for one in side] for side in sides(1))
    flow = by_name(answer(before, after, car))["air_mass_flow"]
    assert flow.estimate
    assert "volumetric efficiency" in flow.assumed
    # 0.80 to 1.04 about 0.92: one side alone may be 13 % off.
    assert np.diff(flow.interval) > 0.2 * flow.before


def test_pulls_with_a_meter_teach_those_without(sides, car, without):
    """With a meter on one side alone, the other's filling is the car's own, not a usual one."""
    before, after = sides(1)
    bare = [without(one, "air_mass_flow") for one in before]
    flow = by_name(answer(bare, after, car))["air_mass_flow"]
    assert "learned volumetric efficiency" in flow.assumed
    assert flow.interval[0] <= 0.0 <= flow.interval[1]
    # The meter's own 5 % and the sensors', not the 13 % of a usual filling.
    assert np.diff(flow.interval) < 0.2 * flow.before


class TestDutyFromDayToDay:
    """Drift needs three test days of one build, in a known order."""

    def test_too_few_days(self, sides, car):
        """Two days are no trend."""
        air = answer(*sides(1), car)
        assert {one.reason for one in air.drift.values()} == {"fewer than three test days of one build"}

    def test_an_order_that_nobody_knows(self, outing, car):
        """Three days without dates are not put in an order of our own."""
        before = [one for day in range(3) for one in outing(f"{day}.csv", str(day), day, pulls=1)]
        after = outing("after.csv", "3", 9, pulls=1)
        comparison = compare_records(before, after, car=car, window=WINDOW)
        assert "order" in compare_air(comparison, before, after, car).drift["before"].reason
        start = datetime.datetime.fromisoformat("2026-05-01T10:00")
        moments = {f"{day}.csv": start + datetime.timedelta(days=7 * day) for day in range(3)}
        drift = compare_air(comparison, before, after, car, moments=moments).drift["before"]
        assert drift.days == ("0", "1", "2")
