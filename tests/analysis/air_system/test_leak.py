from dataclasses import replace

import numpy as np
import pytest

from pullproof.analysis.air_system import duty_drift, leak_suspicion
from pullproof.analysis.air_system.leak_size import leak_size, most_duty
from pullproof.analysis.airpath import prior_response
from pullproof.conditions import Air
from pullproof.demo.weather import Weather
from pullproof.errors import CannotAnswer

COOL, WARM = Weather(14.0, 100.2, 60.0, 0.0), Weather(24.0, 99.0, 45.0, 0.0)


def test_a_hole_in_the_pipe_is_suspected_with_its_size(outing, leaking, car):
    """A simulated car that gets a 7 mm hole: duty rises at equal boost, and the size that is named holds the hole."""
    before = outing("fri.csv", "fri", 1, weather=COOL) + outing("sat-1.csv", "sat", 2, weather=WARM)
    hole = leaking(0.007)
    after = outing("sat-2.csv", "sat", 3, weather=WARM, lost=hole) + outing("sun.csv", "sun", 4, lost=hole)
    found = leak_suspicion(before, after, car)
    assert found.suspicion == "suspected", found.statement
    assert found.duty.interval[0] > 0.0
    assert found.size.hole_interval_mm[0] < 7.0 < found.size.hole_interval_mm[1]
    # The meter sits before the compressor and sees what leaks: the second witness.
    assert found.meter.changed
    assert found.meter.change_pct > 0.0
    assert any("Air lost behind the meter would do that too" in doubt for doubt in found.doubts)
    assert any("wastegate" in reason for reason in found.other_reasons)
    assert "interval" in found.statement
    assert found.next_steps
    assert found.cautions


def test_a_hole_is_suspected_without_a_meter_too(outing, leaking, car):
    """Without air meter duty alone speaks: the hole is suspected, sized by speed-density, and the witness is missed."""
    before = outing("fri.csv", "fri", 1, without=("air_mass_flow",))
    leaking(0.008)
    after = outing("sat.csv", "sat", 3, without=("air_mass_flow",))
    found = leak_suspicion(before, after, car)
    assert found.suspicion == "suspected", found.statement
    assert found.size.hole_interval_mm[0] < 8.0 < found.size.hole_interval_mm[1]
    assert found.meter is None
    assert any("second witness" in doubt for doubt in found.doubts)


def test_weather_alone_is_no_leak(outing, car):
    """The same car on a cool and on a warm day: duty rises by the weather, and no leak is suspected."""
    before, after = outing("fri.csv", "fri", 1, weather=COOL), outing("sun.csv", "sun", 4, weather=WARM)
    found = leak_suspicion(before, after, car)
    assert found.suspicion == "not shown", found.statement
    assert found.size is None


def flat(record, day, seed, duty, car_scatter=0.4, day_shift=0.0, air=None, **more):
    """A pull whose duty is level but for a run's own scatter."""
    rng = np.random.default_rng(seed)
    level = duty + day_shift + car_scatter * rng.standard_normal()
    channels = {"charge_pressure": 200.0, "charge_air_temperature": 40.0, "wastegate_duty": level} | more
    return record(f"{day}-{seed}.csv", day, air=air or Air(20.0, 99.0, 50.0), **channels)


def test_a_quiet_car_is_rarely_suspected(record, car):
    """Forty cars to which nothing happened, with usual scatter of days and runs: at most three are suspected."""
    suspected = 0
    for number in range(40):
        rng = np.random.default_rng(100 + number)
        shift = 1.0 * rng.standard_normal(4)
        airs = [Air(20.0 + 6.0 * step, 99.0 + step, 50.0) for step in rng.standard_normal(4)]
        sides = [
            [
                flat(record, f"d{day}", 1000 * number + 10 * day + run, 85.0, day_shift=shift[day], air=airs[day])
                for run in (0, 1)
            ]
            for day in range(4)
        ]
        drift = duty_drift([pull for day in sides for pull in day], [f"d{day}" for day in range(4)], car)
        suspected += drift.suspicion == "suspected"
    assert suspected <= 3


def test_duty_that_climbs_from_day_to_day(record, car):
    """Five days with two more points of duty each make eight in all, inside the interval, and are suspected."""
    pulls = [
        flat(record, f"d{day}", 10 * day + run, 78.0 + 2.0 * day, car_scatter=0.2) for day in range(5) for run in (0, 1)
    ]
    found = duty_drift(pulls, [f"d{day}" for day in range(5)], car)
    assert found.suspicion == "suspected"
    assert found.interval[0] < 8.0 < found.interval[1]
    assert found.days == tuple(f"d{day}" for day in range(5))
    assert "Over 5 test days" in found.statement
    falling = duty_drift(pulls, [f"d{day}" for day in reversed(range(5))], car)
    assert falling.suspicion == "not shown"
    assert falling.drift == pytest.approx(-found.drift, abs=0.05)


def test_a_climb_that_goes_with_the_weather_is_weather(record, car):
    """Duty that climbs with air temperature, 0.4 points a kelvin, is put down to it rather than to the days."""
    pulls = [
        flat(
            record, f"d{day}", 10 * day + run, 80.0 + 2.0 * day, car_scatter=0.2, air=Air(10.0 + 5.0 * day, 99.0, 50.0)
        )
        for day in range(4)
        for run in (0, 1)
    ]
    steady = duty_drift(pulls, [f"d{day}" for day in range(4)], car)
    blind = duty_drift(
        [replace(pull, air=Air(20.0, 99.0, 50.0)) for pull in pulls], [f"d{day}" for day in range(4)], car
    )
    assert steady.drift < 0.7 * blind.drift


def test_a_trend_needs_three_days_of_free_duty(record, car):
    """Two days make no trend, and a duty at its stop cannot rise."""
    pulls = [flat(record, f"d{day}", day, 85.0) for day in range(2)]
    with pytest.raises(CannotAnswer, match="a trend needs three"):
        duty_drift(pulls, ["d0", "d1"], car)
    pinned = [flat(record, f"d{day}", day, 100.0, car_scatter=0.0) for day in range(3)]
    with pytest.raises(CannotAnswer, match="free to move"):
        duty_drift(pinned, ["d0", "d1", "d2"], car)


def test_duty_at_its_stop_cannot_tell(record, car):
    """A wastegate that is held shut on both sides has no duty to rise: boost is named in its place."""
    before = [flat(record, "a", run, 100.0, car_scatter=0.0) for run in range(3)]
    after = [flat(record, "b", run, 100.0, car_scatter=0.0, charge_pressure=185.0) for run in range(3)]
    found = leak_suspicion(before, after, car)
    assert found.suspicion == "cannot tell"
    assert "sits at its stop" in found.statement
    assert "Mean boost changed by -15" in found.statement


def test_without_duty_nothing_is_said(record, car):
    """A log without duty gets the reason in place of a suspicion."""
    before, after = (
        [record(f"{day}.csv", day, charge_pressure=200.0, charge_air_temperature=40.0)] for day in ("a", "b")
    )
    found = leak_suspicion(before, after, car)
    assert found.suspicion == "cannot tell"
    assert "no wastegate duty" in found.statement
    assert found.duty is None


def test_a_meter_that_saw_nothing_clears_the_charge_pipe(record, car):
    """Duty up by five points while a steady meter leaves room for half a per cent of leak: it is something else."""
    flow = lambda rpm: 1e6 * 0.9 * 197.0 * 2e-3 * rpm / (120.0 * 287.055 * 313.15)  # noqa: E731
    same = {"manifold_pressure": 197.0, "air_mass_flow": flow}
    before = [flat(record, day, run, 80.0, **same) for run, day in enumerate("aabbcc")]
    after = [flat(record, day, 10 + run, 86.0, **same) for run, day in enumerate("aabbcc")]
    found = leak_suspicion(before, after, car)
    assert found.duty.interval[0] > 2.0
    assert found.suspicion == "not shown"
    assert "leaves room for a leak of at most" in found.statement


def test_the_size_of_a_leak_by_the_handbook():
    """A 3 mm hole at 240 kPa and 50 degC loses 3.05 g/s at a discharge of 0.8, as choked flow gives by hand.

    So 3.05 g/s of leak is a hole of 3 mm, but for our other temperature and discharge, which enter by a fourth and a
    square root.
    """
    share = 3.051 / 250.0
    points = prior_response().slope * share
    size = leak_size(points, (0.5 * points, 1.5 * points), 250.0, 140.0)
    expected = 3.0 * np.sqrt(0.8 / 0.7) * (350.0 / 323.15) ** 0.25
    assert size.hole_mm == pytest.approx(expected, rel=1e-3)
    assert size.share_pct == pytest.approx(100.0 * share, rel=1e-3)
    assert size.hole_interval_mm[0] < size.hole_mm < size.hole_interval_mm[1]
    assert leak_size(points, (0.0, 2.0), None, None).hole_mm is None
    assert most_duty(-3.0) == 0.0
