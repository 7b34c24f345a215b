"""Say whether a run of rising engine speed may be used as a pull, and if not, why."""

import dataclasses
from dataclasses import dataclass

import numpy as np

from pullproof.arrays import Array
from pullproof.channels import Trace
from pullproof.pulls.drive import Drive
from pullproof.pulls.gearing import Gears, Slip, matched_gear, slip, steady_gear
from pullproof.pulls.pull import Pull
from pullproof.pulls.revs import averaged, standstill
from pullproof.pulls.runs import Run
from pullproof.reading.log import Log
from pullproof.timebase import cut, new_samples

__all__ = ["Court", "attempted", "judge", "witnesses_of"]

# A useful range: a quarter of the highest engine speed (5000 to 6800 rpm), or a fifth of it where the end is 1.4
# times the start (4000 to 5600 rpm; 1100 to 1900 rpm in a truck). Common practice.
_USEFUL_SHARE = 0.25
_USEFUL_RATIO, _SHARE_WITH_RATIO = 1.4, 0.2
# Shortest pull: time [s] and samples of engine speed.
_LEAST_S = 0.6
_LEAST_SAMPLES = 4
# Rate of rise of the logarithm of engine speed [1/s]: slower, the run is steady driving uphill or in top gear (it
# would take 23 s to double); faster, nothing is coupled to the engine.
_SLOWEST = 0.03
_FASTEST = 1.2
# What a person would call an attempt, so that it is listed though refused: half of what is useful, half the time.
_ATTEMPT_RATIO, _ATTEMPT_SHARE, _ATTEMPT_S, _ATTEMPT_RATE, _ATTEMPT_SAMPLES = 1.15, 0.15, 0.5, 0.01, 3
# Torque is cut where such a channel falls below this share of its usual value in the run, for so long [s].
_TORQUE_CHANNELS = ("engine_torque", "engine_load", "throttle_position", "charge_pressure", "manifold_pressure")
_TORQUE_SHARE, _TORQUE_S = 0.6, 0.1
# Below this road speed [km/h] a clutch may still be slipping.
_SETTING_OFF = 12.0
# Out of step by more than this (logarithm) is worth refusing; it was measured against what the channels can show.
_SPIN = 0.04


@dataclass(frozen=True, slots=True)
class Court:
    """What a run is judged by: the drive, its gears, and further channels that show a cut of torque."""

    file: str
    drive: Drive
    gears: Gears
    witnesses: tuple[Trace, ...]
    assumptions: tuple[str, ...]


def witnesses_of(log: Log, wish: str) -> tuple[Trace, ...]:
    """Channels that follow torque, by their own samples; not the one from which full load was taken."""
    return tuple(new_samples(log.traces[name]) for name in _TORQUE_CHANNELS if name in log.traces and name != wish)


def attempted(drive: Drive, run: Run) -> bool:
    """Whether a person would call the run an attempted pull, so that it deserves an answer."""
    low, high = drive.engine_at(run.start), drive.engine_at(run.end)
    lasts = run.end - run.start
    if not (np.isfinite(low) and np.isfinite(high) and lasts >= _ATTEMPT_S):
        return False
    if drive.engine_between(run.start, run.end)[0].size < _ATTEMPT_SAMPLES:
        return False
    wide = high > _ATTEMPT_RATIO * low and high - low > _ATTEMPT_SHARE * drive.ceiling
    return wide and np.log(high / low) / lasts > _ATTEMPT_RATE


def judge(court: Court, run: Run) -> Pull | None:
    """The run as a pull, used or refused with the reason; None where nobody would call it an attempt."""
    drive = court.drive
    time, speed = averaged(*drive.engine_between(run.start, run.end))
    step = slip(drive, time, speed)
    if step is not None and step.in_step_from is not None and step.in_step_from > run.start and run.flaw is None:
        run = dataclasses.replace(run, start=step.in_step_from, bounded_by="the car setting off", from_edge=False)
        time, speed = averaged(*drive.engine_between(run.start, run.end))
    if not attempted(drive, run):
        return None
    reason = run.flaw or _reason(court, run, time, speed, step)
    gear, assumption = _gear(court, run, step)
    return Pull(
        log=court.file,
        start_s=run.start,
        end_s=run.end,
        gear=gear,
        rpm_start=drive.engine_at(run.start),
        rpm_end=drive.engine_at(run.end),
        used=reason is None,
        reason=reason,
        assumptions=court.assumptions if assumption is None else (*court.assumptions, assumption),
        rpm_per_kmh=None if step is None else step.ratio,
    )


def _gear(court: Court, run: Run, step: Slip | None) -> tuple[int | None, str | None]:
    """The gear and what it takes for granted: by ratio, else by the log's own channel, else unknown."""
    gear = None if step is None else matched_gear(court.gears, step.ratio)
    if gear is not None:
        return gear, court.gears.assumption
    return steady_gear(court.drive.gear, run.start, run.end), None


def _reason(court: Court, run: Run, time: Array, speed: Array, step: Slip | None) -> str | None:
    """The first rule that the run breaks, in words; None where it keeps them all."""
    drive = court.drive
    low, high = drive.engine_at(run.start), drive.engine_at(run.end)
    lasts, rise = run.end - run.start, high - low
    rate = np.log(high / low) / lasts
    if drive.stands(run.start, run.end):
        return "the car stands still: engine speed rises with nothing to drive"
    if step is None and drive.road_at(np.array([run.start]))[0] < _SETTING_OFF:
        return "the car is only setting off: clutch or converter still slipping"
    short = f" ({run.bounded_by})" if run.bounded_by else ""
    if lasts < _LEAST_S or time.size < _LEAST_SAMPLES:
        return f"too short: {lasts:.1f} s with {time.size} samples of engine speed{short}"
    if rate > _FASTEST:
        return "engine speed rises faster than any gear allows: clutch open, or wheels spinning"
    if rate < _SLOWEST:
        return f"too slow: {rise:.0f} rpm in {lasts:.0f} s is steady driving, not a run through the revs"
    wanted = max((_USEFUL_RATIO - 1.0) * low, _SHARE_WITH_RATIO * drive.ceiling)
    wanted = min(wanted, _USEFUL_SHARE * drive.ceiling)
    if rise < wanted:
        return f"too short: {rise:.0f} rpm, at least {wanted:.0f} rpm from {low:.0f} rpm are useful{short}"
    still = standstill(time, speed)
    if still is not None:
        return f"torque cut at {time[still.first]:.1f} s: engine speed stood still at full load"
    if step is not None and abs(step.worst) > _SPIN:
        return _out_of_step(step.worst, step.worst_at)
    return _torque_dip(court.witnesses, run)


def _torque_dip(witnesses: tuple[Trace, ...], run: Run) -> str | None:
    """A channel that follows torque falling far below what it usually is in the run, after boost had time to build."""
    for witness in witnesses:
        part = cut(witness, run.start + 0.3 * (run.end - run.start), run.end - 0.1)
        if part.time.size < 4:
            continue
        low = part.values < _TORQUE_SHARE * np.median(part.values)
        edges = np.diff(np.concatenate(([0], low.astype(np.int64), [0])))
        for first, after in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0), strict=True):
            # Low from the first sample on is boost that is not there yet: nothing has fallen away.
            if first > 0 and after < part.time.size and part.time[after] - part.time[first] >= _TORQUE_S:
                name = witness.channel.replace("_", " ")
                return f"torque cut at {part.time[first]:.1f} s: {name} fell away at full load and came back"
    return None


def _out_of_step(departure: float, at: float) -> str:
    percent = 100.0 * abs(np.expm1(departure))
    if departure > 0:
        return f"wheel spin at {at:.1f} s, or a slipping clutch: engine speed {percent:.0f} % ahead of road speed"
    return f"gear change inside, at {at:.1f} s: engine speed {percent:.0f} % behind road speed"
