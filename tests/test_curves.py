"""A curve over engine speed is the truth, however fast the logger ran, and says nothing outside the pull."""

import dataclasses

import numpy as np
import pytest

from pullproof.channels import Trace
from pullproof.curves import curve, revs, rpm_grid
from pullproof.errors import CannotAnswer

GRID = rpm_grid(2400, 6500)
# Largest error allowed, in the channel's unit: about a hundredth of its range.
WITHIN = {"charge_pressure": 1.5, "air_mass_flow": 2.0, "ignition_timing": 0.15, "lambda": 0.004, "knock_retard": 0.06}


def test_the_grid_has_both_ends() -> None:
    """Both ends are on the grid and its steps are even."""
    grid = rpm_grid(4000, 6510)
    assert (grid[0], grid[-1]) == (4000.0, 6510.0)
    np.testing.assert_allclose(np.diff(grid), 50.2)
    with pytest.raises(ValueError, match="no grid"):
        rpm_grid(5000, 5000)


@pytest.mark.parametrize("rate", [5.0, 10.0, 50.0, 100.0])
def test_engine_speed_comes_back_from_whole_rpm(analytic, rate: float) -> None:
    """The smooth engine speed is that of the analytic pull, though logged in whole rpm, and never falls."""
    turning = revs(analytic.record(rate=rate))
    inner = (turning.time > analytic.start + 0.4) & (turning.time < analytic.end - 0.2)
    np.testing.assert_allclose(turning.rpm[inner], analytic.rpm(turning.time[inner]), atol=8.0 if rate < 10 else 4.0)
    assert np.all(np.diff(turning.rpm) >= 0)
    np.testing.assert_allclose(turning.when(np.array([4000.0])), np.interp(4000, turning.rpm, turning.time), atol=1e-6)


@pytest.mark.parametrize("channel", WITHIN)
@pytest.mark.parametrize(
    "quality", [{"rate": 5.0}, {"rate": 50.0}, {"rate": 5.0, "rows": 50.0}, {"rate": 5.0, "rows": 50.0, "blanks": True}]
)
def test_the_curve_is_the_truth(analytic, channel: str, quality: dict) -> None:
    """At 5 and 50 Hz, held and blank, the curve is the analytic one."""
    values = curve(analytic.record(**quality), channel, GRID)
    held = 1.6 if "rows" in quality else 1.0  # a row of 50 Hz late is 14 rpm
    np.testing.assert_allclose(values, analytic.channels[channel](GRID), atol=held * WITHIN[channel])


@pytest.mark.parametrize("channel", ["charge_pressure", "air_mass_flow", "lambda", "knock_retard"])
def test_a_peak_is_not_flattened_more_at_one_rate_than_at_another(analytic, channel: str) -> None:
    """Peaks at 5 and 50 Hz agree to a five-hundredth of the range, over many starting phases of the logger."""
    peaks = {
        rate: [
            np.nanmax(curve(analytic.record(rate=rate, phase=phase), channel, GRID)) for phase in (0.0, 0.3, 0.6, 0.9)
        ]
        for rate in (5.0, 50.0)
    }
    truth = analytic.channels[channel](GRID)
    assert abs(np.mean(peaks[5.0]) - np.mean(peaks[50.0])) < 0.004 * np.ptp(truth)
    # The narrowest hump here, 830 rpm wide at half its height, is cut by a fiftieth.
    assert abs(np.mean(peaks[50.0]) - truth.max()) < 0.022 * np.ptp(truth)


def test_noise_does_not_lift_the_peak_of_a_fast_logger(analytic) -> None:
    """With 1 % noise the largest raw sample at 50 Hz lies 2 % above the truth; the curve's peak stays within 1 %."""
    records = [analytic.record(rate=50.0, noise=0.01, seed=seed) for seed in range(12)]
    truth = analytic.channels["charge_pressure"](GRID).max()
    smooth = np.mean([np.nanmax(curve(record, "charge_pressure", GRID)) for record in records])
    raw = np.mean([record.traces["charge_pressure"].values.max() for record in records])
    assert raw > 1.015 * truth
    assert abs(smooth - truth) < 0.01 * truth


def test_there_is_nothing_outside_the_pull(analytic) -> None:
    """Below the start and above the end of the pull the curve is NaN, although traces reach further in time."""
    values = curve(analytic.record(rate=20.0), "charge_pressure", np.array([1500.0, 2150.0, 4000.0, 6650.0, 7000.0]))
    np.testing.assert_array_equal(np.isnan(values), [True, True, False, True, True])


def test_what_happens_after_the_lift_does_not_bend_the_end(analytic) -> None:
    """Boost collapsing when the pedal is lifted leaves the end of the curve alone."""
    record = analytic.record(rate=20.0)
    boost = record.traces["boost"]
    collapsed = Trace("boost", "kPa", boost.time, np.where(boost.time > analytic.end, 0.0, boost.values))
    bent = dataclasses.replace(record, traces={**record.traces, "boost": collapsed})
    np.testing.assert_allclose(curve(bent, "boost", GRID), curve(record, "boost", GRID), atol=1e-9)


def test_a_missing_channel_is_named_with_its_reason(analytic) -> None:
    """A channel that is not logged says so; a computed one says what it lacked."""
    record = analytic.record(rate=20.0)
    with pytest.raises(CannotAnswer, match="no turbo speed in the log"):
        curve(record, "turbo_speed", GRID)
    lacking = dataclasses.replace(record, left_out={"turbo_speed": "no mass in the car sheet"})
    with pytest.raises(CannotAnswer, match="no mass in the car sheet"):
        curve(lacking, "turbo_speed", GRID)


@pytest.mark.parametrize("channel", ["engine_speed", "charge_pressure"])
def test_too_few_samples_are_said(analytic, channel: str) -> None:
    """Three samples in the pull are no curve, neither of engine speed nor of a channel."""
    record = analytic.record(rate=20.0)
    trace = record.traces[channel]
    few = Trace(channel, trace.unit, np.array([11.0, 12.0, 13.0]), np.array([3000.0, 3800.0, 4500.0]))
    with pytest.raises(CannotAnswer, match="only 3 samples"):
        curve(dataclasses.replace(record, traces={**record.traces, channel: few}), "charge_pressure", GRID)
