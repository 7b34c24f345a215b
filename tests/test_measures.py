"""Every measure reads the truth from an analytic pull, at any rate, and gives its reason where it cannot."""

import dataclasses

import numpy as np
import pytest

from pullproof.channels import Trace
from pullproof.computed_channels import PullRecord
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.measures import MEASURES, read_measure

WINDOW = (4000.0, 6500.0)
QUALITIES = {
    "5 Hz": {"rate": 5.0},
    "50 Hz": {"rate": 50.0},
    "4 Hz in 20 Hz rows": {"rate": 4.0, "rows": 20.0},
    "4 Hz among blanks": {"rate": 4.0, "rows": 20.0, "blanks": True},
}
# Largest error allowed at 50 Hz, and at 4 to 5 Hz, in the unit of the measure.
ALLOWED = {
    "wastegate_duty.peak": (0.02, 0.3), "wastegate_duty.mean": (0.02, 0.15), "wastegate.opens_at": (15.0, 180.0),
    "boost.mean": (0.05, 0.4), "boost.peak": (0.05, 0.1), "boost.reaches": (5.0, 60.0),
    "air_mass_flow.mean": (0.05, 1.0), "air_mass_flow.peak": (0.05, 1.2),
    "wheel_power.mean": (0.02, 0.4), "wheel_power.peak": (0.02, 0.5), "pull.time": (0.003, 0.02),
    "intake_air_temperature.rise": (0.03, 0.12), "intake_air_temperature.mean": (0.005, 0.03),
    "ignition_timing.mean": (0.005, 0.06), "knock_retard.mean": (0.005, 0.02), "knock_retard.worst": (0.01, 0.05),
    "lambda.mean": (2e-4, 1e-3), "lambda.leanest": (3e-4, 1.5e-3), "charge_pressure_drop.mean": (0.01, 0.05),
}  # fmt: skip


def truth_of(analytic) -> dict[str, float]:
    """Each measure by the words of the contract, from the analytic functions on a fine grid."""
    rpm = np.arange(WINDOW[0], WINDOW[1] + 0.25, 0.5)
    all_rpm = np.arange(2200.0, 6604.0, 0.5)
    time = np.arange(analytic.start, analytic.end, 1e-4)

    def mean(channel: str) -> float:
        return float(np.trapezoid(analytic.channels[channel](rpm), rpm) / np.ptp(rpm))

    def largest(channel: str) -> float:
        return float(analytic.channels[channel](rpm).max())

    boost = analytic.channels["boost"]
    known = {
        "wastegate.opens_at": 3500.0,
        "boost.reaches": float(all_rpm[np.argmax(boost(all_rpm) >= 0.9 * mean("boost"))]),
        "pull.time": float(np.ptp(np.interp(WINDOW, analytic.rpm(time), time))),
        "intake_air_temperature.rise": 4.0 * (6604.4 - 2200.0) / 4400.0,
        "charge_pressure_drop.mean": 3.0 + float(np.mean(WINDOW)) / 2000.0,
    }
    for measure in MEASURES:
        channel, _, kind = measure.rpartition(".")
        if measure not in known:
            known[measure] = mean(channel) if kind == "mean" else largest(channel)
    return known


def test_the_table_is_that_of_the_contract() -> None:
    """Ids and units of the published list, in its order.

    Source: the project's contract, table of measures.
    """
    printed = """
        wastegate_duty.peak % | wastegate_duty.mean % | wastegate.opens_at rpm | boost.mean kPa | boost.peak kPa |
        boost.reaches rpm | air_mass_flow.mean g/s | air_mass_flow.peak g/s | wheel_power.mean kW |
        wheel_power.peak kW | pull.time s | intake_air_temperature.rise K | intake_air_temperature.mean degC |
        ignition_timing.mean deg | knock_retard.mean deg | knock_retard.worst deg | lambda.mean 1 |
        lambda.leanest 1 | charge_pressure_drop.mean kPa
    """
    assert [(row.id, row.unit) for row in MEASURES.values()] == [tuple(part.split()) for part in printed.split("|")]
    assert all(row.label and row.meaning.endswith(".") for row in MEASURES.values())


@pytest.mark.parametrize("quality", QUALITIES)
@pytest.mark.parametrize("measure", MEASURES)
def test_the_reading_is_the_truth_at_any_rate(analytic, measure: str, quality: str) -> None:
    """5 and 50 Hz, held and blank: the same analytic truth, within what the sampling leaves open."""
    truth = truth_of(analytic)[measure]
    allowed = ALLOWED[measure][0 if quality == "50 Hz" else 1]
    for phase in (0.0, 0.35, 0.7):
        reading = read_measure(measure, analytic.record(phase=phase, **QUALITIES[quality]), WINDOW)
        assert reading.value == pytest.approx(truth, abs=allowed)
        assert not reading.censored


@pytest.mark.parametrize("measure", MEASURES)
def test_blank_samples_and_their_order_do_not_matter(analytic, measure: str) -> None:
    """NaN among the samples, and samples in another order, leave the reading alone."""
    record = analytic.record(rate=20.0)
    plain = read_measure(measure, record, WINDOW).value
    rng = np.random.default_rng(4)
    blanked = {}
    for name, trace in record.traces.items():
        time = np.append(trace.time, trace.time[::9] + 1e-3)
        values = np.append(trace.values, np.full(trace.time[::9].size, np.nan))
        order = np.argsort(time, kind="stable") if name == "engine_speed" else rng.permutation(time.size)
        blanked[name] = Trace(name, trace.unit, time[order], values[order])
    assert read_measure(measure, dataclasses.replace(record, traces=blanked), WINDOW).value == pytest.approx(plain)


@pytest.mark.parametrize("measure", MEASURES)
@pytest.mark.parametrize("kept", [0, 1])
def test_an_empty_or_single_sample_gives_a_reason(analytic, measure: str, kept: int) -> None:
    """A channel with no sample, or one, is a short reason and never a number or a crash."""
    record = analytic.record(rate=20.0)
    for channel in MEASURES[measure].needs or ("engine_speed",):
        trace = record.traces[channel]
        middle = slice(trace.time.size // 2, trace.time.size // 2 + kept)
        poor = Trace(channel, trace.unit, trace.time[middle], trace.values[middle])
        with pytest.raises(CannotAnswer) as caught:
            read_measure(measure, dataclasses.replace(record, traces={**record.traces, channel: poor}), WINDOW)
        assert len(caught.value.what) < 110


@pytest.mark.parametrize("measure", MEASURES)
def test_what_the_log_lacks_is_the_reason(analytic, measure: str) -> None:
    """Without its channel a measure names it."""
    record = analytic.record(rate=20.0)
    for channel in MEASURES[measure].needs or ("engine_speed",):
        rest = {name: trace for name, trace in record.traces.items() if name != channel}
        with pytest.raises(CannotAnswer, match=channel.replace("_", " ")):
            read_measure(measure, dataclasses.replace(record, traces=rest), WINDOW)


def test_the_reason_of_a_computed_channel_is_passed_on(analytic) -> None:
    """Wheel power that could not be computed says what was missing."""
    record = analytic.record(rate=20.0)
    rest = {name: trace for name, trace in record.traces.items() if name != "wheel_power"}
    lacking = dataclasses.replace(record, traces=rest, left_out={"wheel_power": "the car sheet has no mass_kg"})
    with pytest.raises(CannotAnswer, match="no mass_kg"):
        read_measure("wheel_power.mean", lacking, WINDOW)


@pytest.mark.parametrize(
    "measure", [m for m in MEASURES if m not in ("wastegate.opens_at", "intake_air_temperature.rise")]
)
def test_a_pull_that_does_not_cover_the_window_says_so(analytic, measure: str) -> None:
    """The reason holds what the pull covers and what was asked for."""
    with pytest.raises(CannotAnswer, match=r"covers 2[12]\d\d to 6[56]\d\d rpm, not 4000 to 7200 rpm"):
        read_measure(measure, analytic.record(rate=50.0), (4000.0, 7200.0))


def test_a_senseless_call_is_wrong_use(analytic) -> None:
    """An unknown measure lists those that there are; an empty window says how to write one."""
    with pytest.raises(WrongUse, match=r"wastegate_duty\.peak, wastegate_duty\.mean"):
        read_measure("duty", analytic.record(rate=20.0), WINDOW)
    with pytest.raises(WrongUse, match="empty"):
        read_measure("boost.mean", analytic.record(rate=20.0), (6000.0, 4000.0))


def with_channel(record: PullRecord, channel: str, values: np.ndarray) -> PullRecord:
    trace = record.traces[channel]
    return dataclasses.replace(
        record, traces={**record.traces, channel: Trace(channel, trace.unit, trace.time, values)}
    )


@pytest.mark.parametrize("measure", ["wastegate_duty.peak", "wastegate_duty.mean"])
def test_a_duty_at_its_stop_is_censored(analytic, measure: str) -> None:
    """Pinned at 100 all through the window it cannot move, and never reads above its stop."""
    record = analytic.record(rate=20.0)
    reading = read_measure(
        measure,
        with_channel(record, "wastegate_duty", np.full_like(record.traces["wastegate_duty"].values, 100.0)),
        WINDOW,
    )
    assert reading.censored
    assert reading.value == pytest.approx(100.0)


def test_a_pressure_sensor_at_the_end_of_its_range_is_censored(analytic) -> None:
    """A flat top at 255 kPa is missing data, not steady boost.

    Source: SAE J1979, PID 0B: one byte, 0 to 255 kPa absolute.
    """
    record = analytic.record(rate=20.0)
    clipped = np.minimum(record.traces["charge_pressure"].values + 40.0, 255.0)
    reading = read_measure("boost.peak", with_channel(record, "charge_pressure", clipped), WINDOW)
    assert reading.censored
    assert "255" in reading.doubts[0]


def test_a_lambda_at_the_end_of_its_sensor_is_censored(analytic) -> None:
    """A sensor that repeats its richest reading through the window, and moves elsewhere, may hide a richer mixture."""
    record = analytic.record(rate=20.0)
    trace = record.traces["lambda"]

    def reading(values: np.ndarray):
        log = dataclasses.replace(record.log, traces={"lambda": dataclasses.replace(trace, values=values)})
        return read_measure("lambda.mean", dataclasses.replace(with_channel(record, "lambda", values), log=log), WINDOW)

    cruising = trace.time < record.pull.start_s
    pinned = reading(np.where(cruising, 1.0, 0.765))
    assert pinned.censored
    assert "0.765" in pinned.doubts[0]
    assert not reading(np.where(cruising, 1.0, 0.765 + 0.001 * (np.arange(trace.time.size) % 3))).censored
    assert not reading(np.where(cruising, 0.7, 0.765)).censored
    assert not reading(np.full(trace.time.size, 0.765)).censored


def test_a_doubt_of_the_channel_is_one_of_the_reading(analytic) -> None:
    """Boost above an assumed ambient pressure carries the assumption along."""
    record = dataclasses.replace(analytic.record(rate=20.0), doubts={"boost": "ambient pressure unknown"})
    assert read_measure("boost.mean", record, WINDOW).doubts == ("ambient pressure unknown",)
    assert read_measure("lambda.mean", record, WINDOW).doubts == ()


def opening(analytic, duty_of_rpm, rate: float = 50.0) -> float:
    record = analytic.record(rate=rate)
    time = record.traces["wastegate_duty"].time
    values = duty_of_rpm(np.where(time < analytic.end, analytic.rpm(time), 0.0))
    return read_measure("wastegate.opens_at", with_channel(record, "wastegate_duty", values), WINDOW).value


def test_the_gate_that_opens_in_a_ramp(analytic) -> None:
    """Falling by 1 % in 50 rpm from 4000 rpm, the duty passes 99 % at 4050 rpm."""
    ramp = opening(analytic, lambda rpm: np.clip(100.0 - (rpm - 4000.0) / 50.0, 70.0, 100.0))
    assert ramp == pytest.approx(4050.0, abs=3.0)
    slow = opening(analytic, lambda rpm: np.clip(100.0 - (rpm - 4000.0) / 50.0, 70.0, 100.0), rate=5.0)
    assert slow == pytest.approx(4050.0, abs=20.0)


def test_a_twitch_is_no_opening(analytic) -> None:
    """Below 99 % for a tenth of a second at 3000 rpm, then for good at 4500: the second counts."""

    def duty(rpm: np.ndarray) -> np.ndarray:
        return np.where((rpm > 3000) & (rpm < 3060) | (rpm > 4500), 90.0, 100.0)

    assert opening(analytic, duty) == pytest.approx(4500.0, abs=20.0)


def test_the_climb_to_the_stop_is_no_opening(analytic) -> None:
    """Duty on its way from part load to 100 at the start of the pull has not opened the gate."""

    def duty(rpm: np.ndarray) -> np.ndarray:
        return np.where(rpm < 2400, 40.0, np.where(rpm < 3800, 100.0, 85.0))

    assert opening(analytic, duty) == pytest.approx(3800.0, abs=20.0)


@pytest.mark.parametrize(("level", "reason"), [(100.0, "never opens"), (92.0, "never reaches 99 %")])
def test_a_gate_that_never_opens_or_never_closes_has_no_opening(analytic, level: float, reason: str) -> None:
    """Both are a reason, not a number."""
    with pytest.raises(CannotAnswer, match=reason):
        opening(analytic, lambda rpm: np.full_like(rpm, level))


def test_boost_that_is_there_from_the_start_has_no_arrival(analytic) -> None:
    """A pull that starts at full boost cannot say when boost came."""
    record = analytic.record(rate=20.0)
    flat = with_channel(record, "boost", np.full_like(record.traces["boost"].values, 120.0))
    with pytest.raises(CannotAnswer, match="there already when the pull starts"):
        read_measure("boost.reaches", flat, WINDOW)
    none = with_channel(record, "boost", np.full_like(record.traces["boost"].values, -2.0))
    with pytest.raises(CannotAnswer, match="no boost"):
        read_measure("boost.reaches", none, WINDOW)


def test_a_channel_that_stops_half_way_is_no_mean(analytic) -> None:
    """A sensor that falls silent at 5000 rpm gives a reason, not a mean of the rest."""
    record = analytic.record(rate=20.0)
    silent = np.where(analytic.rpm(record.traces["lambda"].time) > 5000, np.nan, record.traces["lambda"].values)
    with pytest.raises(CannotAnswer, match="sampled only from"):
        read_measure("lambda.mean", with_channel(record, "lambda", silent), WINDOW)


def falling_at(record: PullRecord, turn: float) -> np.ndarray:
    """A duty that falls from its stop by 0.1 points per rpm from the engine speed `turn` on, down to 70 %."""
    rpm = record.traces["engine_speed"]
    own = np.interp(record.traces["wastegate_duty"].time, rpm.time, rpm.values)
    return np.clip(100.0 - 0.1 * (own - turn), 70.0, 100.0)


def test_a_peak_cut_out_of_the_spool_says_so(analytic) -> None:
    """Where the window begins in the fall from the stop, its peak moves with the spool, by the slope of the fall."""
    record = analytic.record(rate=50.0)
    cut = read_measure(
        "wastegate_duty.peak", with_channel(record, "wastegate_duty", falling_at(record, 3900.0)), WINDOW
    )
    assert cut.value == pytest.approx(90.0, abs=1.5)
    assert cut.per_spool_rpm == pytest.approx(0.1, rel=0.15)
    assert "foot of the window" in cut.doubts[0]
    clear = read_measure(
        "wastegate_duty.peak", with_channel(record, "wastegate_duty", falling_at(record, 2500.0)), WINDOW
    )
    assert clear.per_spool_rpm == pytest.approx(0.0, abs=1e-6)
    assert not clear.doubts


def test_a_coarse_logger_tells_the_opening_coarsely(analytic) -> None:
    """The gap between two samples limits when the gate opened, and ten times the rate has a tenth of it."""
    slow, fast = (read_measure("wastegate.opens_at", analytic.record(rate=rate), WINDOW).step for rate in (5.0, 50.0))
    assert slow == pytest.approx(10.0 * fast, rel=0.3)


def test_a_mean_boost_that_the_spool_runs_into_says_so(analytic) -> None:
    """A kilopascal that is missing at the foot of the window costs the mean a share of the window for each rpm."""
    record = analytic.record(rate=50.0)
    rpm, trace = record.traces["engine_speed"], record.traces["boost"]
    own = np.interp(trace.time, rpm.time, rpm.values)
    rising = with_channel(record, "boost", np.clip(0.1 * (own - 3600.0), 0.0, 100.0))
    reading = read_measure("boost.mean", rising, WINDOW)
    shifted = with_channel(record, "boost", np.clip(0.1 * (own - 3620.0), 0.0, 100.0))
    moved = read_measure("boost.mean", shifted, WINDOW).value - reading.value
    assert reading.per_spool_rpm == pytest.approx(moved / 20.0, rel=0.3)
    early = with_channel(record, "boost", np.full_like(trace.values, 100.0))
    assert read_measure("boost.mean", early, WINDOW).per_spool_rpm == 0.0
