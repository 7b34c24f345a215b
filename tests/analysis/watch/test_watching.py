"""Every fault that is put into an invented drive is found where it was put, and nothing is found where nothing is."""

from dataclasses import replace
from types import MappingProxyType

import numpy as np
import pytest
from tests.analysis.watch.conftest import CAR

from pullproof.analysis.watch import watch
from pullproof.analysis.watch.rules import RULES
from pullproof.car import Engine
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.reading.log import Column

LIMITED = replace(CAR, limits=MappingProxyType({"boost_kpa": 130.0, "turbo_speed_rpm": 180_000.0}))
"""With the two limits for which there is no usual figure, so that every rule watches."""


def in_second_pull(recorded, share=0.5, lasts=1.0):
    """When the fault is there: from a share of the second pull on. [s]"""
    start, end = recorded.spans[1]
    first = start + share * (end - start)
    return first, first + lasts


def test_a_sound_drive_passes_no_limit(recorded) -> None:
    """With every channel logged all rules watch, all are within, and nothing is held to be unseen."""
    found = watch([recorded()], car=LIMITED)
    assert {entry.rule for entry in found.watched} == {rule.id for rule in RULES}
    assert [event.id for event in found.events] == []
    assert {entry.status for entry in found.watched} == {"within"}
    assert found.not_watched == ()
    assert found.sensors == ()


@pytest.mark.parametrize("seed", range(1, 6))
def test_noise_raises_no_alarm(recorded, seed: int) -> None:
    """Other draws of the sensors' noise, at 5 to 50 samples a second, raise none either."""
    found = watch([recorded(seed=seed, rate=(5.0, 10.0, 20.0, 30.0, 50.0)[seed - 1])], car=LIMITED)
    assert [event.id for event in found.events] == []


# Rule, channel, and what goes wrong with it while the fault is there.
FAULTS = [
    ("knock_retard", "knock_retard", lambda t, rpm, load, v: v + 6.0),
    ("lambda_full_load", "lambda", lambda t, rpm, load, v: v + 0.14),
    ("boost", "charge_pressure", lambda t, rpm, load, v: v + 35.0),
    ("boost_over_target", "charge_pressure", lambda t, rpm, load, v: v + 18.0),
    ("wastegate_pinned", "wastegate_duty", lambda t, rpm, load, v: 100.0 + 0.0 * v),
    ("charge_temperature", "charge_air_temperature", lambda t, rpm, load, v: v + 25.0),
    ("compressor_outlet_temperature", "compressor_outlet_temperature", lambda t, rpm, load, v: v + 60.0),
    ("exhaust_gas_temperature", "exhaust_gas_temperature", lambda t, rpm, load, v: v + 120.0),
    ("coolant_temperature", "coolant_temperature", lambda t, rpm, load, v: v + 20.0),
    ("oil_temperature", "oil_temperature", lambda t, rpm, load, v: v + 46.0),
    ("coolant_cold", "coolant_temperature", lambda t, rpm, load, v: v - 35.0),
    ("oil_cold", "oil_temperature", lambda t, rpm, load, v: v - 45.0),
    ("oil_pressure", "oil_pressure", lambda t, rpm, load, v: 0.6 * v),
    ("oil_pressure_fall", "oil_pressure", lambda t, rpm, load, v: v - 220.0),
    ("fuel_pressure_sag", "fuel_pressure", lambda t, rpm, load, v: 0.88 * v),
    ("fuel_rail_pressure_fall", "fuel_rail_pressure", lambda t, rpm, load, v: 0.75 * v),
    ("injector_duty", "injector_duty", lambda t, rpm, load, v: v + 45.0),
    ("battery_low", "battery_voltage", lambda t, rpm, load, v: v - 2.0),
    ("battery_high", "battery_voltage", lambda t, rpm, load, v: v + 2.0),
    ("turbo_speed", "turbo_speed", lambda t, rpm, load, v: v + 40_000.0),
]


@pytest.mark.parametrize(("rule", "channel", "spoil"), FAULTS, ids=[fault[0] for fault in FAULTS])
def test_each_fault_is_found_where_it_was_put(recorded, rule: str, channel: str, spoil) -> None:
    """A fault in the second pull is a sustained event of its rule, at its time and of its length, in that pull."""
    first, last = in_second_pull(recorded, lasts=1.4)

    def spoiled(time, rpm, load, values):
        return np.where((time >= first) & (time <= last), spoil(time, rpm, load, values), values)

    found = watch([recorded({channel: spoiled})], car=LIMITED)
    events = [event for event in found.events if event.rule == rule]
    assert [event.kind for event in events] == ["sustained"]
    (event,) = events
    assert event.place.pull == 2
    assert first - 0.06 <= event.start_s <= event.end_s <= last + 0.1
    assert 1.2 < event.at_least_s <= 1.51
    assert event.at_most_s is None or event.at_most_s >= 1.3
    assert event.channel == channel
    assert next(entry for entry in found.watched if entry.rule == rule).status == "passed the limit"
    assert event.label in found.sentence


def test_revving_past_the_redline_is_found_in_every_pull(recorded) -> None:
    """Pulls to 6500 rpm pass a redline of 6480 rpm, each of them once."""
    found = watch([recorded()], car=replace(LIMITED, engine=replace(LIMITED.engine, redline_rpm=6480.0)))
    assert [(event.rule, event.place.pull) for event in found.events] == [("over_speed", n) for n in (1, 2, 3)]
    assert all(event.worst == pytest.approx(6500.0, abs=25.0) for event in found.events)


def test_lambda_off_its_target_is_found_on_the_rich_side_of_the_limit(recorded) -> None:
    """Mixture that is leaner than asked for is named, though it is still rich enough by the general limit."""
    first, last = in_second_pull(recorded)

    def lean(time, rpm, load, values):
        return np.where((time >= first) & (time <= last), values + 0.06, values)

    found = watch([recorded({"lambda": lean})], car=LIMITED)
    assert {event.rule for event in found.events} == {"lambda_over_target"}


def test_one_wild_sample_is_told_as_one_sample(recorded) -> None:
    """A single reading past its limit has no length, however it came about."""
    log = recorded()
    trace = log.traces["exhaust_gas_temperature"]
    at = int(np.searchsorted(trace.time, in_second_pull(recorded)[0]))
    values = trace.values.copy()
    values[at] = 1180.0
    spiked = replace(log, traces={**log.traces, "exhaust_gas_temperature": replace(trace, values=values)})
    found = watch([spiked], car=LIMITED)
    (event,) = found.events
    assert (event.kind, event.samples, event.at_least_s) == ("single sample", 1, 0.0)
    assert event.at_most_s == pytest.approx(0.1, abs=0.02)
    watched = next(entry for entry in found.watched if entry.rule == "exhaust_gas_temperature")
    assert watched.status == "touched it"


def test_a_held_value_is_no_new_sample(recorded) -> None:
    """A slow sensor that reads once past its limit and is repeated over many rows stays one sample."""
    first, _ = in_second_pull(recorded)

    def hot(time, rpm, load, values):
        return np.where((time >= first) & (time <= first + 1.0), 118.0, values)

    log = recorded({"coolant_temperature": hot}, rate=1.0, rows=20.0)
    steady = log.traces["coolant_temperature"]
    values = np.where(steady.values > 110.0, 118.0, 90.0)  # so steady that the channel does not show its own pace
    columns = (Column("Coolant", "coolant_temperature", "degC", 1.0, 1.0),)
    held = replace(log, columns=columns, traces={**log.traces, "coolant_temperature": replace(steady, values=values)})
    events = [event for event in watch([held], car=LIMITED).events if event.rule == "coolant_temperature"]
    assert [(event.kind, event.samples) for event in events] == [("single sample", 1)]


def test_a_hole_in_the_record_is_never_bridged(recorded) -> None:
    """What lasts on both sides of a hole is not said to have lasted through it."""
    first, _ = in_second_pull(recorded, share=0.2)

    def hot(time, rpm, load, values):
        return np.where((time >= first) & (time <= first + 14.0), values + 20.0, values)

    log = recorded({"coolant_temperature": hot})
    cut = {
        name: replace(trace, time=trace.time[kept], values=trace.values[kept])
        for name, trace in log.traces.items()
        for kept in [(trace.time < first + 1.0) | (trace.time > first + 13.0)]
    }
    events = [e for e in watch([replace(log, traces=cut)], car=LIMITED).events if e.rule == "coolant_temperature"]
    assert len(events) == 2
    assert sum(event.at_least_s for event in events) < 2.3


@pytest.mark.parametrize("channel", ["knock_retard", "lambda", "oil_pressure", "exhaust_gas_temperature"])
def test_what_is_not_logged_is_named(recorded, channel: str) -> None:
    """A channel that is missing is not passed over: its rules are listed with the reason and what to log."""
    found = watch([recorded(leave_out=(channel,))], car=LIMITED)
    missing = [entry for entry in found.not_watched if channel.replace("_", " ") in entry.reason]
    assert missing
    assert all("Log" in entry.advice and entry.logs == ("drive.csv",) for entry in missing)
    assert "could not be watched at all" in found.sentence


def test_a_log_without_a_pull_says_that_full_load_was_not_seen(recorded) -> None:
    """Rules that look at full load are listed as not watched where there was none."""
    log = recorded()
    quiet = {
        name: replace(trace, time=trace.time[trace.time < 20.0], values=trace.values[trace.time < 20.0])
        for name, trace in log.traces.items()
    }
    found = watch([replace(log, traces=quiet)], car=LIMITED)
    assert {"lambda_full_load", "boost_over_target", "fuel_pressure_sag"} <= {e.rule for e in found.not_watched}
    assert any("no full load" in doubt for doubt in found.doubts)


def test_a_sensor_that_never_moves_is_not_believed(recorded) -> None:
    """A channel stuck at one value is named, and its rules count as not watched."""
    found = watch([recorded({"exhaust_gas_temperature": lambda t, rpm, load, v: 0.0 * v + 700.0})], car=LIMITED)
    assert [(doubt.channel, doubt.kind) for doubt in found.sensors] == [("exhaust_gas_temperature", "constant")]
    assert "exhaust_gas_temperature" in {entry.rule for entry in found.not_watched}


@pytest.mark.parametrize(
    ("channel", "spoil"),
    [
        ("manifold_pressure", lambda t, rpm, load, v: np.minimum(v + 60.0, 255.0)),
        ("lambda", lambda t, rpm, load, v: np.maximum(v - 0.1, 0.75)),
    ],
)
def test_a_sensor_at_its_end_is_named(recorded, channel: str, spoil) -> None:
    """A flat top where an encoding ends (SAE J1979 PID 0B: 255 kPa), or a lambda that repeats its last value."""
    found = watch([recorded({channel: spoil})], car=LIMITED)
    assert [(doubt.channel, doubt.kind) for doubt in found.sensors] == [(channel, "at its end")]


def test_each_cylinder_is_watched_by_itself(recorded) -> None:
    """Knock of one cylinder is told as that cylinder's."""
    first, last = in_second_pull(recorded)
    log = recorded()
    knock = log.traces["knock_retard"]
    third = replace(
        knock, channel="knock_retard_3", values=np.where((knock.time > first) & (knock.time < last), 7.0, 0)
    )
    found = watch([replace(log, traces={**log.traces, "knock_retard_1": knock, "knock_retard_3": third})], car=LIMITED)
    assert [event.channel for event in found.events] == ["knock_retard_3"]


def test_a_24_volt_system_has_twice_the_limits(recorded) -> None:
    """A truck's 27.8 V is no fault, and its 23 V is one."""
    fine = watch([recorded({"battery_voltage": lambda t, rpm, load, v: 2.0 * v})], car=LIMITED)
    assert fine.events == ()
    low = watch([recorded({"battery_voltage": lambda t, rpm, load, v: 23.0 + 0.001 * v})], car=LIMITED)
    assert {event.rule for event in low.events} == {"battery_low"}


def test_a_regulator_that_does_not_follow_the_manifold_shows_its_sag(recorded) -> None:
    """Constant fuel pressure is no sag; what falls with flow is one, by the share that was put in."""
    steady = watch([recorded({"fuel_pressure": lambda t, rpm, load, v: 400.0 + 0.0 * v})], car=LIMITED)
    assert "fuel_pressure_sag" not in {event.rule for event in steady.events}
    sagging = watch(
        [recorded({"fuel_pressure": lambda t, rpm, load, v: 400.0 * (1.0 - 0.2 * load * rpm / 6500.0)})], car=LIMITED
    )
    sag = next(entry for entry in sagging.watched if entry.rule == "fuel_pressure_sag")
    assert sag.worst == pytest.approx(20.0, abs=2.5)
    assert sag.status == "passed the limit"


def test_a_diesel_may_run_lean(recorded) -> None:
    """There is no lean limit for a diesel, and the answer says why instead of raising an alarm."""
    car = replace(LIMITED, engine=Engine(redline_rpm=6800, fuel="diesel", aspiration="turbo"))
    found = watch([recorded({"lambda": lambda t, rpm, load, v: v + 0.6})], car=car)
    assert not {event.rule for event in found.events} & {"lambda_full_load", "lambda_over_target"}
    assert any(entry.rule == "lambda_full_load" and "diesel" in entry.reason for entry in found.not_watched)


def test_the_owners_limit_comes_first(recorded) -> None:
    """A limit of the car sheet replaces the usual one and is named as its origin."""
    strict = replace(CAR, limits=MappingProxyType({"exhaust_gas_temperature_c": 800.0}))
    found = watch([recorded()], car=strict)
    assert {event.rule for event in found.events} == {"exhaust_gas_temperature"}
    assert found.events[0].limit.from_sheet
    assert "car sheet" in found.events[0].limit.origin


def test_nothing_to_watch_is_no_answer(recorded) -> None:
    """A log with none of the channels is refused with advice, not passed as clean."""
    log = recorded()
    bare = replace(log, traces={"vehicle_speed": log.traces["vehicle_speed"]})
    with pytest.raises(CannotAnswer, match="nothing in these logs can be watched"):
        watch([bare], car=CAR)


def test_it_never_calls_an_engine_safe(recorded) -> None:
    """No sentence of a clean watch holds the word, but for the caution that denies it."""
    found = watch([recorded()], car=LIMITED)
    said = [found.sentence, *found.doubts, *(text for entry in found.watched for text in (entry.label, *entry.doubts))]
    assert not any("safe" in text.lower() for text in said)
    assert "clears nothing" in found.sentence


def test_what_is_kept_around_an_event_shows_its_worst_sample(recorded) -> None:
    """The samples kept for a picture are the rule's own, reach beyond the event on both sides, and hold the worst."""
    first, last = in_second_pull(recorded, lasts=1.4)

    def hot(time, rpm, load, values):
        return np.where((time >= first) & (time <= last), values + 20.0, values)

    (event,) = watch([recorded({"coolant_temperature": hot})], car=LIMITED).events
    times = [time for time, _ in event.around]
    assert times[0] < event.start_s - 2.0
    assert times[-1] > event.end_s + 2.0
    assert max(value for _, value in event.around) == event.worst


def test_a_long_event_is_thinned_for_its_picture_but_keeps_its_worst(recorded) -> None:
    """Minutes past a limit are not thousands of marks."""
    found = watch(
        [recorded({"coolant_temperature": lambda t, rpm, load, v: v + 25.0 + 0.001 * t}, rate=50.0)], car=LIMITED
    )
    event = next(event for event in found.events if event.rule == "coolant_temperature")
    assert event.samples > 1000
    assert len(event.around) < 700
    assert max(value for _, value in event.around) == event.worst


def test_what_is_in_doubt_about_a_column_goes_with_what_is_watched(recorded) -> None:
    """A unit that the reader had to guess is said beside the margin that rests on it."""
    doubt = "no unit is named: degC by its values"
    column = Column("CLT", "coolant_temperature", "degC", 0.7, 20.0, doubt=doubt)
    found = watch([replace(recorded(), columns=(column,))], car=LIMITED)
    watched = next(entry for entry in found.watched if entry.rule == "coolant_temperature")
    assert any("CLT" in text and doubt in text for text in watched.doubts)


def test_a_log_counts_once(recorded) -> None:
    """Given twice, or two of one name, nobody could tell where an event was: refused."""
    with pytest.raises(WrongUse, match="twice"):
        watch([recorded(), recorded()], car=LIMITED)
    with pytest.raises(WrongUse, match="two different logs have this name"):
        watch([recorded(), recorded(seed=1)], car=LIMITED)


def test_what_the_reader_noted_of_a_file_is_said(recorded) -> None:
    """A log that is no real driving must not be watched without that word; several logs share one note."""
    note = "9 of 14 channels hold implausible values: no real driving"
    logs = [replace(recorded(file=name, seed=seed), notes=(note,)) for seed, name in enumerate(("a.csv", "b.csv"))]
    found = watch(logs, car=LIMITED)
    assert f"a.csv, b.csv: {note}" in found.doubts


@pytest.mark.parametrize(
    ("channel", "spoil", "words"),
    [
        ("air_mass_flow", lambda t, rpm, load, v: 0.0 * v, "never moves"),
        ("fuel_pressure", lambda t, rpm, load, v: -50.0 + 0.01 * v, "not above zero"),
    ],
)
def test_a_sag_that_cannot_be_reckoned_is_not_watched(recorded, channel: str, spoil, words: str) -> None:
    """A flow that stands still, or a pressure below nothing, gives a reason instead of a number."""
    found = watch([recorded({channel: spoil})], car=LIMITED)
    reasons = [entry.reason for entry in found.not_watched if entry.rule == "fuel_pressure_sag"]
    assert len(reasons) == 1
    assert words in reasons[0]
