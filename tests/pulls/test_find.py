"""Pulls of invented drives are found where they are, and everything else is refused with its reason."""

from collections.abc import Callable

import numpy as np
import pytest

from pullproof.car import Car, Engine
from pullproof.channels import Trace
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull, find_pulls
from pullproof.reading.log import Log

RATES = [3.0, 5.0, 10.0, 25.0, 100.0]
SHEET = Car(
    "invented",
    tyre="225/40R18",
    gear_ratios=(3.36, 2.09, 1.47, 1.10, 0.87),
    final_drive=3.94,
    engine=Engine(redline_rpm=6800.0),
)


def at(pulls: tuple[Pull, ...], time: float) -> Pull:
    """The pull that holds this instant."""
    found = [pull for pull in pulls if pull.start_s <= time <= pull.end_s]
    assert len(found) == 1, f"{len(found)} pulls at {time} s among {pulls}"
    return found[0]


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize("gear", [2, 3, 4])
def test_start_and_end_are_within_a_fifth_of_a_second_or_one_sample(
    new_drive: Callable, rate: float, gear: int
) -> None:
    """Full load is found to begin and end when it does, whatever the rate."""
    drive = new_drive().pull(gear, 2500, 6400)
    for seed in range(3):
        (pull,) = find_pulls(drive.log(rate, seed=seed))
        (truth,) = drive.pulls
        assert pull.used, pull.reason
        assert pull.start_s == pytest.approx(truth.start, abs=max(0.2, 1 / rate))
        assert pull.end_s == pytest.approx(truth.end, abs=max(0.2, 1 / rate))
        assert pull.rpm_end == pytest.approx(truth.rpm_end, abs=2500 / rate + 30)


@pytest.mark.parametrize("rate", RATES)
@pytest.mark.parametrize(
    ("flaw", "reason"),
    [("lift", "pedal lifted"), ("spin", "wheel spin"), ("cut", "torque cut"), ("gap", "gap in the record")],
)
def test_what_went_wrong_inside_is_the_reason(new_drive: Callable, rate: float, flaw: str, reason: str) -> None:
    """A lift, spinning wheels, a cut of torque and a hole each refuse the whole run, and say so."""
    drive = new_drive().pull(3, 2500, 6400, flaw)
    (truth,) = drive.pulls
    pull = at(find_pulls(drive.log(rate)), 0.5 * (truth.start + truth.end))
    assert not pull.used
    assert reason in (pull.reason or "")
    # One run, not the two halves of it.
    assert pull.start_s == pytest.approx(truth.start, abs=max(0.25, 1 / rate))
    assert pull.end_s == pytest.approx(truth.end, abs=max(0.25, 1 / rate))


@pytest.mark.parametrize("rate", [5.0, 25.0, 100.0])
def test_full_load_across_a_gear_change_is_two_pulls(new_drive: Callable, rate: float) -> None:
    """Each gear is judged by itself; the one that the change leaves too short says why."""
    drive = new_drive().pull(3, 2500, 6400, "gear change")
    first, second = find_pulls(drive.log(rate), SHEET)
    assert (first.used, first.gear) == (True, 3)
    assert first.rpm_end == pytest.approx(drive.pulls[0].rpm_end, rel=0.03)
    assert (second.used, second.gear) == (False, 4)
    assert "too short" in (second.reason or "")
    assert "gear change" in (second.reason or "")


@pytest.mark.parametrize("leave_out", [("vehicle_speed",), ("vehicle_speed", "gear")])
def test_a_gear_change_is_seen_without_road_speed(new_drive: Callable, leave_out: tuple[str, ...]) -> None:
    """Engine speed alone shows that a gear was changed."""
    drive = new_drive().pull(3, 2500, 6400, "gear change")
    first, second = find_pulls(drive.log(20.0, leave_out=leave_out))
    assert first.end_s == pytest.approx(drive.pulls[0].end, abs=0.2)
    assert second.start_s == pytest.approx(drive.pulls[1].start, abs=0.3)


@pytest.mark.parametrize(
    "leave_out", [(), ("vehicle_speed",), ("pedal_position",), ("pedal_position", "vehicle_speed")]
)
@pytest.mark.parametrize("rate", [5.0, 20.0, 100.0])
def test_a_driver_shifting_up_makes_a_pull_of_each_gear(
    new_drive: Callable, rate: float, leave_out: tuple[str, ...]
) -> None:
    """Second and third gear to the top, the pedal lifted for each change: two pulls, neither with a lifted pedal."""
    drive = new_drive()
    drive.settle(3.0, 2, 2600.0)
    ends = []
    for ratio, rate_of_rise in ((70.0, 1000.0), (47.6, 550.0)):
        rpm, begins = drive.road[-1] * ratio, drive.now
        count = round((6500.0 - rpm) / rate_of_rise / 0.005)
        rising = np.linspace(rpm, 6500.0, count)
        drive.engine += rising.tolist()
        drive.road += (rising / ratio).tolist()
        drive.pedal += [100.0] * count
        ends.append((begins, drive.now))
        drive.engine += np.linspace(6500.0, 6500.0 * 47.6 / 70.0, 90).tolist()
        drive.road += [drive.road[-1]] * 90
        drive.pedal += [50.0] * 10 + [0.0] * 70 + [50.0] * 10
    drive.settle(3.0, 4, 3000.0, 0.0)
    used = [pull for pull in find_pulls(drive.log(rate, leave_out=leave_out), SHEET) if pull.used]
    assert len(used) == 2
    for pull, (begins, over) in zip(used, ends, strict=True):
        assert pull.start_s == pytest.approx(begins, abs=max(0.2, 1 / rate))
        assert pull.end_s == pytest.approx(over, abs=max(0.2, 1 / rate))


@pytest.mark.parametrize("leave_out", [(), ("vehicle_speed",)])
@pytest.mark.parametrize("rate", [5.0, 20.0, 100.0])
def test_a_kickdown_comes_before_the_pull(new_drive: Callable, rate: float, leave_out: tuple[str, ...]) -> None:
    """Full pedal in fifth, half a second later third gear: the pull begins in third."""
    drive = new_drive()
    drive.settle(3.0, 5, 2000.0)
    kick = [2000.0] * 100 + np.linspace(2000.0, 2000.0 * 47.6 / 27.7, 70).tolist()
    drive.engine += kick
    for signal, value in ((drive.road, 2000.0 / 27.7), (drive.pedal, 100.0), (drive.torque, 60.0)):
        signal += [value] * len(kick)
    begins = drive.now
    rising = np.linspace(drive.engine[-1], 6400.0, round((6400.0 - drive.engine[-1]) / 600.0 / 0.005)).tolist()
    drive.engine += rising
    drive.road += [rpm / 47.6 for rpm in rising]
    for signal, value in ((drive.pedal, 100.0), (drive.torque, 100.0)):
        signal += [value] * len(rising)
    ends = drive.now
    drive.settle(3.0, 3, 3000.0, 0.0)
    used = [pull for pull in find_pulls(drive.log(rate, leave_out=leave_out), SHEET) if pull.used]
    assert len(used) == 1
    assert used[0].start_s == pytest.approx(begins, abs=max(0.25, 1.3 / rate))
    assert used[0].end_s == pytest.approx(ends, abs=max(0.2, 1 / rate))


def test_part_throttle_and_stabs_are_no_pulls(new_drive: Callable) -> None:
    """60 % pedal through the revs is not listed, nor is a stab that nobody would call an attempt."""
    drive = new_drive().pull(3, 2500, 6000, pedal=60.0).pull(3, 2500, 2800).pull(3, 2500, 6400)
    (pull,) = find_pulls(drive.log(20.0))
    assert pull.start_s == pytest.approx(drive.pulls[2].start, abs=0.2)


def test_a_short_run_is_listed_and_refused(new_drive: Callable) -> None:
    """Full load over too few revs is refused as too short, with the figures."""
    drive = new_drive().pull(3, 2500, 3550).pull(4, 2500, 6400)
    short, long = find_pulls(drive.log(20.0))
    assert long.used
    assert not short.used
    assert "too short" in (short.reason or "")


def test_a_stab_before_a_sound_pull_does_not_spoil_it(new_drive: Callable) -> None:
    """A lift so near the end that nearly all of the run lies before it ends the pull and leaves it sound."""
    drive = new_drive().pull(3, 2500, 6400)
    log = drive.log(20.0)
    pedal = log.traces["pedal_position"]
    stabbed = pedal.values.copy()
    lift = (pedal.time > drive.pulls[0].end - 0.5) & (pedal.time < drive.pulls[0].end - 0.25)
    stabbed[lift] = 40.0
    log.traces["pedal_position"] = Trace("pedal_position", "%", pedal.time, stabbed)  # type: ignore[index]
    (pull,) = find_pulls(log)
    assert pull.used
    assert pull.end_s == pytest.approx(drive.pulls[0].end - 0.5, abs=0.1)


@pytest.mark.parametrize(("full", "rest"), [(100.0, 0.0), (93.0, 0.0), (78.4, 14.1), (65.0, 7.0), (82.0, 13.0)])
def test_full_pedal_is_what_the_pedal_holds_at_its_stop(new_drive: Callable, full: float, rest: float) -> None:
    """A pedal channel that ends below 100 % still shows full pedal, and that is said."""
    drive = new_drive(full=full, rest=rest).pull(3, 2500, 6400)
    (pull,) = find_pulls(drive.log(20.0))
    assert pull.used
    assert pull.start_s == pytest.approx(drive.pulls[0].start, abs=0.2)
    assert any(f"{full:.0f} %" in text for text in pull.assumptions) == (full < 90)


def test_a_pedal_that_never_came_near_its_stop_gives_no_pull(new_drive: Callable) -> None:
    """The largest pedal of a gentle drive is not taken for full pedal."""
    drive = new_drive().pull(3, 2500, 6000, pedal=60.0)
    assert find_pulls(drive.log(20.0)) == ()


def test_without_road_speed_one_gear_is_an_assumption(new_drive: Callable) -> None:
    """A pull without road speed is used, and what was taken for granted is said."""
    drive = new_drive().pull(3, 2500, 6400)
    (pull,) = find_pulls(drive.log(20.0, leave_out=("vehicle_speed",)))
    assert pull.used
    assert pull.gear is None
    assert any("no road speed" in text for text in pull.assumptions)


def test_on_a_dynamometer_road_speed_may_stay_at_zero(new_drive: Callable) -> None:
    """A satellite speed of zero all along is no reason to refuse; it is an assumption."""
    drive = new_drive().pull(3, 2500, 6400)
    drive.road = [0.0] * len(drive.road)
    (pull,) = find_pulls(drive.log(20.0))
    assert pull.used
    assert any("dynamometer" in text for text in pull.assumptions)


def test_revving_at_a_standstill_is_refused(new_drive: Callable) -> None:
    """In a log that has driven, full pedal with the car standing still drives nothing."""
    drive = new_drive().pull(3, 2500, 6400)
    first = round(drive.pulls[0].start / 0.005) - 300
    drive.road[first:] = [0.0] * len(drive.road[first:])
    pull = at(find_pulls(drive.log(20.0)), drive.pulls[0].start + 2.0)
    assert not pull.used
    assert "stands still" in (pull.reason or "")


@pytest.mark.parametrize("rate", [5.0, 25.0, 100.0])
def test_without_a_pedal_the_pull_is_found_from_engine_speed(new_drive: Callable, rate: float) -> None:
    """Neither pedal nor throttle: the brisk run to high revs is found, and the assumption is said."""
    drive = new_drive().pull(3, 2500, 6400)
    (pull,) = find_pulls(drive.log(rate, leave_out=("pedal_position",)))
    assert pull.used
    assert pull.start_s == pytest.approx(drive.pulls[0].start, abs=0.25)
    assert pull.end_s == pytest.approx(drive.pulls[0].end, abs=0.25)
    assert any("no pedal or throttle" in text for text in pull.assumptions)


def test_without_a_pedal_a_slower_run_in_the_same_gear_is_part_load(new_drive: Callable) -> None:
    """Two runs in one gear, one far slower: only the fast one was at full load."""
    drive = new_drive().pull(3, 2500, 6400).pull(3, 2500, 6400, pedal=60.0)
    fast, slow = find_pulls(drive.log(20.0, leave_out=("pedal_position",)))
    assert fast.used
    assert not slow.used
    assert "slower" in (slow.reason or "")


def test_without_a_pedal_load_decides_where_it_is_logged(new_drive: Callable) -> None:
    """Manifold pressure near its largest is full load; a brisk run at 60 % of it is not listed."""
    drive = new_drive().pull(3, 2500, 6400).pull(4, 2500, 6400, pedal=60.0)
    pressure = 30.0 + 1.7 * np.array(drive.pedal)
    pulls = find_pulls(drive.log(20.0, leave_out=("pedal_position",), extra={"manifold_pressure": pressure}))
    assert len(pulls) == 1
    assert any("manifold pressure" in text for text in pulls[0].assumptions)


def test_throttle_serves_where_there_is_no_pedal(new_drive: Callable) -> None:
    """The throttle shows full load as well, and that is said."""
    drive = new_drive().pull(3, 2500, 6400)
    throttle = {"throttle_position": np.array(drive.pedal)}
    (pull,) = find_pulls(drive.log(20.0, leave_out=("pedal_position",), extra=throttle))
    assert pull.used
    assert any("taken from the throttle" in text for text in pull.assumptions)


def test_a_throttle_that_closes_at_full_pedal_is_a_cut_of_torque(new_drive: Callable) -> None:
    """A stability system that shuts the throttle under a full pedal spoils the pull."""
    drive = new_drive().pull(3, 2500, 6400)
    throttle, middle = np.array(drive.pedal), round(0.5 * (drive.pulls[0].start + drive.pulls[0].end) / 0.005)
    throttle[middle : middle + 80] = 20.0
    (pull,) = find_pulls(drive.log(20.0, extra={"throttle_position": throttle}))
    assert not pull.used
    assert "throttle position fell away" in (pull.reason or "")


def test_boost_that_comes_late_is_no_cut_of_torque(new_drive: Callable) -> None:
    """Where boost needs half of the pull to build, nothing has fallen away; where it dips later, it has."""
    drive = new_drive().pull(3, 2500, 6400)
    time, true = np.arange(len(drive.pedal)) * 0.005, drive.pulls[0]
    along = np.clip((time - true.start) / (true.end - true.start), 0.0, 1.0)
    boost = 100.0 + 120.0 / (1.0 + np.exp(-40.0 * (along - 0.4))) * (along < 1.0)
    (late,) = find_pulls(drive.log(20.0, leave_out=("engine_torque",), extra={"charge_pressure": boost}))
    assert late.used, late.reason
    dipped = np.where((along > 0.7) & (along < 0.8), 100.0, boost)
    (cut,) = find_pulls(drive.log(20.0, leave_out=("engine_torque",), extra={"charge_pressure": dipped}))
    assert "charge pressure fell away" in (cut.reason or "")


@pytest.mark.parametrize("gear", [2, 3, 4, 5])
def test_the_gear_comes_from_the_ratios_of_the_car_sheet(new_drive: Callable, gear: int) -> None:
    """Engine speed over road speed tells the gear, with the sheet's ratios, final drive and tyre.

    Ratios of the invented drives: 120, 70, 47.6, 35 and 27.7 rpm per km/h; those of the sheet within 6 %.
    """
    drive = new_drive().pull(gear, 2500, 6200)
    pull = at(find_pulls(drive.log(20.0), SHEET), drive.pulls[0].start + 1.0)
    assert pull.gear == gear
    assert pull.rpm_per_kmh == pytest.approx({2: 70.0, 3: 47.6, 4: 35.0, 5: 27.7}[gear], rel=0.01)


def test_without_a_sheet_the_gear_is_counted_from_clusters(new_drive: Callable) -> None:
    """A log that shows first gear and all between tells the number of the gear, and that it was counted."""
    drive = new_drive().pull(2, 2500, 6200).pull(4, 2500, 6200)
    second, fourth = find_pulls(drive.log(20.0))
    assert (second.gear, fourth.gear) == (2, 4)
    assert any("clusters" in text for text in second.assumptions)


def test_a_gear_channel_that_keeps_still_is_believed(new_drive: Callable) -> None:
    """Without road speed the log's own gear channel gives the gear."""
    drive = new_drive().pull(4, 2500, 6200)
    gear = {"gear": np.full(len(drive.engine), 4.0)}
    (pull,) = find_pulls(drive.log(20.0, leave_out=("vehicle_speed",), extra=gear))
    assert pull.gear == 4


def test_a_gear_in_which_no_engine_revs_so_fast_is_not_believed(new_drive: Callable) -> None:
    """Second gear called sixth is found out by a slower run in fourth."""
    drive = new_drive().pull(4, 2500, 6200).pull(2, 2500, 6200)
    gear = np.where(np.arange(len(drive.engine)) * 0.005 < drive.pulls[0].end + 1.0, 4.0, 6.0)
    fourth, second = find_pulls(drive.log(20.0, leave_out=("vehicle_speed",), extra={"gear": gear}))
    assert fourth.gear == 4
    assert second.gear is None
    assert any("not believed" in text for text in second.assumptions)


@pytest.mark.parametrize("delay", [0.0, 0.2, 0.5])
def test_road_speed_may_lag_and_come_in_whole_steps(new_drive: Callable, delay: float) -> None:
    """A satellite speed that lags, in whole km/h, makes no wheel spin of a sound pull."""
    drive = new_drive().pull(3, 2500, 6400).pull(2, 2500, 6400)
    pulls = find_pulls(drive.log({"engine_speed": 20.0, "vehicle_speed": 4.0}, delay=delay, whole_kmh=True))
    assert [pull.used for pull in pulls] == [True, True], pulls


@pytest.mark.parametrize("own", [3.0, 4.0])
def test_held_values_in_fast_rows_are_not_mistaken(new_drive: Callable, own: float) -> None:
    """A staircase of held engine speed is no torque cut, and the ends are right to one own sample."""
    drive = new_drive().pull(3, 2500, 6400)
    (pull,) = find_pulls(drive.log(own, rows=20.0))
    assert pull.used, pull.reason
    assert pull.start_s == pytest.approx(drive.pulls[0].start, abs=1 / own + 0.06)
    assert pull.end_s == pytest.approx(drive.pulls[0].end, abs=1 / own + 0.06)


def test_a_limiter_ends_the_pull(new_drive: Callable) -> None:
    """Sitting at the limiter with full pedal is not part of the pull."""
    drive = new_drive().pull(3, 2500, 6400)
    end = round(drive.pulls[0].end / 0.005)
    held = 400
    for signal in (drive.engine, drive.road, drive.pedal):
        signal[end:end] = [signal[end - 1]] * held
    rng = np.random.default_rng(2)
    drive.engine[end : end + held] = (6400 + 30 * rng.standard_normal(held)).tolist()
    (pull,) = find_pulls(drive.log(20.0))
    assert pull.used
    assert pull.end_s == pytest.approx(drive.pulls[0].end, abs=0.3)


def test_a_slow_climb_at_full_pedal_is_no_pull(new_drive: Callable) -> None:
    """Full pedal in top gear uphill, for most of a minute, is steady driving, and says so."""
    drive = new_drive().pull(5, 2500, 6400)
    first, last = (round(edge / 0.005) for edge in (drive.pulls[0].start, drive.pulls[0].end))
    slow = 3
    for signal in (drive.engine, drive.road, drive.pedal):
        signal[first:last] = np.repeat(signal[first:last], slow).tolist()
    (pull,) = find_pulls(drive.log(5.0, noise=0.0))
    assert not pull.used
    assert "too slow" in (pull.reason or "")


def test_recordings_appended_to_one_another_are_not_joined(new_drive: Callable) -> None:
    """Full load before a restart and after it are two runs, and no lift of one."""
    drive = new_drive().pull(3, 2500, 6400)
    middle = 0.5 * (drive.pulls[0].start + drive.pulls[0].end)
    log = drive.log(20.0)
    restarted = Log(**{name: getattr(log, name) for name in Log.__dataclass_fields__} | {"restarts": (middle,)})
    for pull in find_pulls(restarted):
        assert not pull.start_s < middle < pull.end_s


def test_a_log_without_engine_speed_says_so(new_drive: Callable) -> None:
    """Nothing can be found without engine speed; the sentence names the file and what to do."""
    with pytest.raises(CannotAnswer, match=r"drive.csv: no engine speed .* Record engine speed"):
        find_pulls(new_drive().log(20.0, leave_out=("engine_speed",)))


@pytest.mark.parametrize("count", [1, 2, 5])
def test_a_log_of_a_few_samples_holds_no_pull(count: int) -> None:
    """Hardly any samples: no pull and no complaint."""
    time = np.arange(float(count))
    traces = {name: Trace(name, "", time, 1000.0 + time) for name in ("engine_speed", "vehicle_speed")}
    traces["pedal_position"] = Trace("pedal_position", "%", time, np.full(count, 100.0))
    assert find_pulls(Log("tiny.csv", count, float(count), "utf-8", ",", ".", (), traces)) == ()


def test_a_log_cut_down_to_the_pull_itself_is_enough(new_drive: Callable) -> None:
    """A file that holds nothing but the pull, pedal at 100 all along, gives that pull."""
    drive = new_drive().pull(3, 2500, 6400)
    (truth,) = drive.pulls
    log = drive.log(20.0)
    for name, it in log.traces.items():
        inside = (it.time > truth.start + 0.05) & (it.time < truth.end - 0.05)
        log.traces[name] = Trace(name, it.unit, it.time[inside], it.values[inside])  # type: ignore[index]
    (pull,) = find_pulls(log)
    assert pull.used


def test_a_drive_is_told_apart_piece_by_piece(new_drive: Callable) -> None:
    """Twelve things that a driver does, at five rates: sound pulls are used, nothing else is."""
    drive = new_drive()
    for gear, low, high, flaw in [
        (3, 2500, 6500, None), (4, 2500, 6000, None), (3, 2500, 6500, "lift"), (3, 2500, 6500, "cut"),
        (3, 2500, 6500, "spin"), (3, 2500, 6500, "gap"), (2, 3000, 6500, None), (5, 2000, 5000, None),
        (4, 2200, 6200, "cut"), (4, 2500, 6200, "spin"), (2, 3000, 6500, "spin"), (2, 3000, 6500, "cut"),
    ]:  # fmt: skip
        drive.pull(gear, low, high, flaw)
    for rate in RATES:
        used = [pull for pull in find_pulls(drive.log(rate), SHEET) if pull.used]
        sound = [truth for truth in drive.pulls if truth.flaw is None]
        assert [pull.gear for pull in used] == [truth.gear for truth in sound], rate
        for pull, truth in zip(used, sound, strict=True):
            assert pull.start_s == pytest.approx(truth.start, abs=max(0.2, 1 / rate))
            assert pull.end_s == pytest.approx(truth.end, abs=max(0.2, 1 / rate))
