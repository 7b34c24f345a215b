"""Measures: one number read from one pull. Command line, JSON, pages and guide are made from this one table.

Means are over engine speed, not over time: every engine speed of the window counts the same, however fast the
engine runs through it. Means and peaks are read from the smoothed curve (`curves`), so a fast logger's peak is
not the higher one for having drawn more noise. Where an event is short by nature (the worst knock retard, the
duty leaving 99 %), the channel's own samples are read.
"""

import dataclasses
import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import pairwise
from types import MappingProxyType

import numpy as np

from pullproof.arrays import Array
from pullproof.computed_channels import PullRecord
from pullproof.curves import Revs, revs, rpm_grid, samples_over_rpm, smoothed
from pullproof.errors import CannotAnswer, WrongUse
from pullproof.timebase import value_at

__all__ = ["MEASURES", "Measure", "Reading", "Window", "read_measure"]

Window = tuple[float, float]
"""Lowest and highest engine speed that is read. [rpm]"""

# Spacing of the grid that means and peaks are read from [rpm].
_GRID_RPM = 25.0
# A pull covers the window when its ends are this near to it (share of the engine speed).
_COVERS = 0.01
# Share of the window that a channel must cover.
_MOST = 0.9
# Wastegate duty [%]: at or above the first the gate counts as held closed, at the second it cannot go further.
_CLOSED, _AT_THE_STOP = 99.0, 99.5
# The duty has left the stop when it stays below for this long [s].
_STAYS_S = 0.2
# Boost has arrived at this share of its mean.
_ARRIVED = 0.9
# Highest value that a channel's usual encoding can carry: a flat top there is missing data. SAE J1979 PIDs 0B, 10.
_ENDS_AT = {"manifold_pressure": 255.0, "charge_pressure": 255.0, "air_mass_flow": 655.35}
_FLAT_TOP = 3
# Where boost has just come, duty falls from its stop: over how much engine speed that is looked for, how near to the
# foot of the window a peak is part of it, and how steep it then is [points per rpm]. Common practice, no source.
_SPOOL_RPM, _FOOT_RPM, _FALL_RPM, _STEEP = 300.0, 60.0, 100.0, 0.02
# A live lambda never reads the same so many times running; and one that moves by so much elsewhere is alive.
# Common practice, no source.
_PINNED_SAMPLES, _ALIVE = 8, 0.05


@dataclass(frozen=True, slots=True)
class Reading:
    """One measure of one pull."""

    value: float
    censored: bool = False
    """It sits where it cannot move further, so the truth may lie beyond."""
    doubts: tuple[str, ...] = ()
    step: float = 0.0
    """Standard deviation that sampling alone leaves, where it outweighs all else, in the measure's unit."""
    per_spool_rpm: float = 0.0
    """What one rpm of later boost does to the value, where the window cuts through the spool, in its unit per rpm."""


@dataclass(frozen=True, slots=True)
class _Scene:
    """What a measure is read from."""

    record: PullRecord
    window: Window
    turning: Revs

    def over_window(self, channel: str) -> tuple[Array, Array]:
        """Engine speeds [rpm] over the window and the smoothed channel there, both (m,)."""
        self.covered()
        rpm = rpm_grid(*self.window, _GRID_RPM)
        inside = np.clip(rpm, self.turning.rpm[0], self.turning.rpm[-1])
        values = smoothed(self.record, channel, inside, self.turning)
        at, _, _ = samples_over_rpm(self.record, channel, self.turning)
        held = min(at.max(), self.window[1]) - max(at.min(), self.window[0])
        if held < _MOST * (self.window[1] - self.window[0]):
            raise CannotAnswer(
                f"{_words(channel)} was sampled only from {at.min():.0f} to {at.max():.0f} rpm of the window"
            )
        return rpm, values

    def covered(self) -> None:
        """Complain unless the pull covers the window."""
        low, high = self.window
        first, last = self.turning.rpm[0], self.turning.rpm[-1]
        if first > low * (1.0 + _COVERS) or last < high * (1.0 - _COVERS):
            raise CannotAnswer(f"the pull covers {first:.0f} to {last:.0f} rpm, not {low:.0f} to {high:.0f} rpm")

    def own_samples(self, channel: str) -> Array:
        """The channel's own samples within the window, (n,)."""
        at, values, _ = samples_over_rpm(self.record, channel, self.turning)
        return values[(at >= self.window[0]) & (at <= self.window[1])]

    def straight(self, channel: str, when: Array) -> Array:
        """The channel at instants (m,) [s], on straight lines between its samples, those outside the pull too.

        For temperatures, which are too slow to need smoothing and go on steadily past the ends of the pull.
        """
        trace = self.record.traces[channel]
        known = np.flatnonzero(np.isfinite(trace.values))
        known = known[np.argsort(trace.time[known], kind="stable")]
        return value_at(dataclasses.replace(trace, time=trace.time[known], values=trace.values[known]), when)


@dataclass(frozen=True, slots=True)
class Measure:
    """What is known about a measure before any pull is read."""

    id: str
    unit: str
    label: str
    meaning: str
    needs: tuple[str, ...]
    """Channels, logged or computed, that it is read from; engine speed is always needed."""
    read: Callable[[_Scene], Reading]


def read_measure(measure: str, record: PullRecord, window: Window) -> Reading:
    """Read one measure from one pull.

    Parameters
    ----------
    measure : str
        A name of `MEASURES`.
    record : PullRecord
        The pull.
    window : (float, float)
        Lowest and highest engine speed. [rpm]

    Returns
    -------
    Reading
        The value in the measure's unit, always finite.

    Raises
    ------
    CannotAnswer
        The log lacks what the measure needs, or the pull does not cover the window; `what` is the short reason.
    WrongUse
        There is no such measure, or the window is empty.
    """
    if measure not in MEASURES:
        raise WrongUse(f'there is no measure "{measure}"', advice=f"Choose one of: {', '.join(MEASURES)}.")
    if not 0 < window[0] < window[1]:
        raise WrongUse(f"the window {window[0]:.0f}-{window[1]:.0f} rpm is empty", advice="Write it as 4000-6500.")
    known = MEASURES[measure]
    for channel in known.needs:
        if channel not in record.traces:
            raise CannotAnswer(record.left_out.get(channel) or f"no {_words(channel)} in the log")
    reading = known.read(_Scene(record, window, revs(record)))
    if not np.isfinite(reading.value):
        raise CannotAnswer(f"{known.label} could not be read: samples are missing in the window")
    doubts = [record.doubts[channel] for channel in known.needs if channel in record.doubts]
    return dataclasses.replace(reading, doubts=(*reading.doubts, *doubts))


def _words(channel: str) -> str:
    return channel.replace("_", " ")


def _mean(channel: str) -> Callable[[_Scene], Reading]:
    def read(scene: _Scene) -> Reading:
        rpm, values = scene.over_window(channel)
        return Reading(float(np.trapezoid(values, rpm) / (rpm[-1] - rpm[0])))

    return read


def _peak(channel: str) -> Callable[[_Scene], Reading]:
    def read(scene: _Scene) -> Reading:
        return Reading(float(np.max(scene.over_window(channel)[1])))

    return read


def _duty_mean(scene: _Scene) -> Reading:
    rpm, values = scene.over_window("wastegate_duty")
    span = float(rpm[-1] - rpm[0])
    later = max(float(values[0] - np.interp(rpm[0] + _SPOOL_RPM, rpm, values)), 0.0) / span
    return Reading(float(np.trapezoid(values, rpm)) / span, per_spool_rpm=later)


def _boost_mean(scene: _Scene) -> Reading:
    """The mean; what is not there yet at the foot of the window is missing for longer where boost comes later."""
    rpm, values = scene.over_window("boost")
    span = float(rpm[-1] - rpm[0])
    mean = float(np.trapezoid(values, rpm)) / span
    missing = max(_ARRIVED * mean - float(values[0]), 0.0)
    return Reading(mean, per_spool_rpm=-missing / span)


def _duty_peak(scene: _Scene) -> Reading:
    """The peak; where the window cuts it out of the fall from the stop, it tells when boost came."""
    rpm, values = scene.over_window("wastegate_duty")
    top = int(np.argmax(values))
    if rpm[top] > rpm[0] + _FOOT_RPM:
        return Reading(float(values[top]))
    fall = float(values[top] - np.interp(rpm[top] + _FALL_RPM, rpm, values)) / _FALL_RPM
    if fall < _STEEP:
        return Reading(float(values[top]), per_spool_rpm=max(fall, 0.0))
    doubt = (
        f"the peak stands at the foot of the window, at {rpm[top]:.0f} rpm, where boost has only just come: "
        "it tells when boost came; a window that begins later tells what holding it takes"
    )
    return Reading(float(values[top]), doubts=(doubt,), per_spool_rpm=fall)


def _at_stop(read: Callable[[_Scene], Reading]) -> Callable[[_Scene], Reading]:
    """A duty at its stop cannot say how much more was wanted."""

    def read_censored(scene: _Scene) -> Reading:
        reading = read(scene)
        value = min(reading.value, 100.0)  # smoothing may overshoot the stop
        return dataclasses.replace(reading, value=value, censored=value >= _AT_THE_STOP)

    return read_censored


def _clipped(read: Callable[[_Scene], Reading], *sources: str) -> Callable[[_Scene], Reading]:
    """A channel that ends where its encoding ends was more than it shows."""

    def read_censored(scene: _Scene) -> Reading:
        reading = read(scene)
        source = next((name for name in sources if name in scene.record.traces), None)
        if source is None:
            return reading
        top = _ENDS_AT[source]
        if np.count_nonzero(np.abs(scene.own_samples(source) - top) < 0.01) < _FLAT_TOP:
            return reading
        doubt = f"{_words(source)} stays at {top:g}, the end of its encoding: the truth lies higher"
        return dataclasses.replace(reading, censored=True, doubts=(*reading.doubts, doubt))

    return read_censored


def _pinned(read: Callable[[_Scene], Reading], channel: str) -> Callable[[_Scene], Reading]:
    """A sensor that repeats its richest reading all through the window sits at its end and measures no more."""

    def read_censored(scene: _Scene) -> Reading:
        reading = read(scene)
        samples, ever = scene.own_samples(channel), scene.record.log.traces.get(channel)
        if ever is None or samples.size < _PINNED_SAMPLES or np.ptp(samples) > 0.0:
            return reading
        elsewhere = ever.values[np.isfinite(ever.values)]
        if elsewhere.min() < samples[0] or np.ptp(elsewhere) < _ALIVE:
            return reading
        doubt = f"{_words(channel)} repeats {samples[0]:.3f}, the end of its sensor: the mixture may be richer"
        return dataclasses.replace(reading, censored=True, doubts=(*reading.doubts, doubt))

    return read_censored


def _opens_at(scene: _Scene) -> Reading:
    at, duty, time = samples_over_rpm(scene.record, "wastegate_duty", scene.turning)
    closed = np.flatnonzero(duty >= _CLOSED)
    if not closed.size:
        raise CannotAnswer(f"wastegate duty never reaches {_CLOSED:.0f} % in the pull")
    for last_closed, next_closed in pairwise([*closed.tolist(), duty.size]):
        if next_closed == last_closed + 1:
            continue
        opens = _leaves_stop(time[last_closed:next_closed], duty[last_closed:next_closed])
        until = time[-1] if next_closed == duty.size else 0.5 * (time[next_closed - 1] + time[next_closed])
        if until - opens >= _STAYS_S:
            gap = float(at[min(last_closed + 1, at.size - 1)] - at[last_closed])
            return Reading(float(np.interp(opens, time, at)), step=max(gap, 0.0) / math.sqrt(12.0))
    raise CannotAnswer(f"wastegate duty does not stay below {_CLOSED:.0f} % in the pull: the gate never opens")


def _leaves_stop(time: Array, duty: Array) -> float:
    """When the duty passes 99 % [s], between the last closed sample, which comes first, and the first open one.

    The line through the first two open samples tells it where the duty leaves in a ramp; where it leaves in a step
    that line points elsewhere, and the middle is as good as any.
    """
    if time.size > 2 and duty[2] < duty[1]:
        back = time[1] - (_CLOSED - duty[1]) * (time[2] - time[1]) / (duty[1] - duty[2])
        if time[0] <= back <= time[1]:
            return float(back)
    return float(0.5 * (time[0] + time[1]))


def _boost_reaches(scene: _Scene) -> Reading:
    rpm, boost = scene.over_window("boost")
    wanted = _ARRIVED * float(np.trapezoid(boost, rpm) / (rpm[-1] - rpm[0]))
    at, _, _ = samples_over_rpm(scene.record, "boost", scene.turning)
    rpm = rpm_grid(float(at.min()), scene.window[1], _GRID_RPM)
    boost = smoothed(scene.record, "boost", rpm, scene.turning)
    there = np.flatnonzero(boost >= wanted)
    if wanted <= 0 or not there.size:
        raise CannotAnswer("there is no boost in the window")
    first = int(there[0])
    if first == 0:
        raise CannotAnswer(f"boost is there already when the pull starts, at {rpm[0]:.0f} rpm")
    return Reading(float(np.interp(wanted, boost[first - 1 : first + 1], rpm[first - 1 : first + 1])))


def _pull_time(scene: _Scene) -> Reading:
    scene.covered()
    ends = np.clip(scene.window, scene.turning.rpm[0], scene.turning.rpm[-1])
    first, last = scene.turning.when(ends)
    return Reading(float(last - first))


def _intake_rise(scene: _Scene) -> Reading:
    pull = scene.record.pull
    first, last = scene.straight("intake_air_temperature", np.array([pull.start_s, pull.end_s]))
    return Reading(float(last - first))


def _slow_mean(channel: str) -> Callable[[_Scene], Reading]:
    def read(scene: _Scene) -> Reading:
        scene.covered()
        rpm = rpm_grid(*scene.window, _GRID_RPM)
        when = scene.turning.when(np.clip(rpm, scene.turning.rpm[0], scene.turning.rpm[-1]))
        values = scene.straight(channel, when)
        return Reading(float(np.trapezoid(values, rpm) / (rpm[-1] - rpm[0])))

    return read


def _worst_knock(scene: _Scene) -> Reading:
    scene.over_window("knock_retard")  # complains of too few samples, and of a sensor silent in part of the window
    return Reading(float(np.max(scene.own_samples("knock_retard"))))


def _pressure_drop(scene: _Scene) -> Reading:
    rpm, before_throttle = scene.over_window("charge_pressure")
    _, manifold = scene.over_window("manifold_pressure")
    return Reading(float(np.trapezoid(before_throttle - manifold, rpm) / (rpm[-1] - rpm[0])))


def _table() -> Mapping[str, Measure]:
    duty, boost = ("wastegate_duty",), ("boost",)
    sources = ("charge_pressure", "manifold_pressure")
    rows = [
        Measure(
            "wastegate_duty.peak", "%", "peak wastegate duty",
            "Largest value of the smoothed duty in the window.", duty, _at_stop(_duty_peak),
        ),
        Measure(
            "wastegate_duty.mean", "%", "mean wastegate duty",
            "Mean over engine speed in the window.", duty, _at_stop(_duty_mean),
        ),
        Measure(
            "wastegate.opens_at", "rpm", "engine speed at which the wastegate opens",
            "Engine speed at which the duty first stays below 99 % for 0.2 s.", duty, _opens_at,
        ),
        Measure(
            "boost.mean", "kPa", "mean boost",
            "Charge (or manifold) pressure above ambient, mean over engine speed in the window.",
            boost, _clipped(_boost_mean, *sources),
        ),
        Measure(
            "boost.peak", "kPa", "peak boost",
            "Charge (or manifold) pressure above ambient, largest smoothed value in the window.",
            boost, _clipped(_peak("boost"), *sources),
        ),
        Measure(
            "boost.reaches", "rpm", "engine speed at which boost is there",
            "Engine speed at which 90 % of the pull's mean boost in the window is reached.", boost, _boost_reaches,
        ),
        Measure(
            "air_mass_flow.mean", "g/s", "mean air mass flow",
            "Mean over engine speed in the window.",
            ("air_mass_flow",), _clipped(_mean("air_mass_flow"), "air_mass_flow"),
        ),
        Measure(
            "air_mass_flow.peak", "g/s", "peak air mass flow",
            "Largest smoothed value in the window.",
            ("air_mass_flow",), _clipped(_peak("air_mass_flow"), "air_mass_flow"),
        ),
        Measure(
            "wheel_power.mean", "kW", "mean wheel power",
            "Power of the tyres and of what spins up with them; mean over engine speed in the window.",
            ("wheel_power",), _mean("wheel_power"),
        ),
        Measure(
            "wheel_power.peak", "kW", "peak wheel power",
            "Power of the tyres and of what spins up with them; largest smoothed value in the window.",
            ("wheel_power",), _peak("wheel_power"),
        ),
        Measure("pull.time", "s", "time through the window", "Time through the window.", (), _pull_time),
        Measure(
            "intake_air_temperature.rise", "K", "rise of intake air temperature",
            "From the start of the pull to its end.", ("intake_air_temperature",), _intake_rise,
        ),
        Measure(
            "intake_air_temperature.mean", "degC", "mean intake air temperature",
            "Mean over engine speed in the window.",
            ("intake_air_temperature",), _slow_mean("intake_air_temperature"),
        ),
        Measure(
            "ignition_timing.mean", "deg", "mean ignition timing",
            "Before top dead centre, mean over engine speed in the window.",
            ("ignition_timing",), _mean("ignition_timing"),
        ),
        Measure(
            "knock_retard.mean", "deg", "mean knock retard",
            "Positive = retarded, worst cylinder; mean over engine speed in the window.",
            ("knock_retard",), _mean("knock_retard"),
        ),
        Measure(
            "knock_retard.worst", "deg", "worst knock retard",
            "Positive = retarded, worst cylinder; largest sample in the window.", ("knock_retard",), _worst_knock,
        ),
        Measure(
            "lambda.mean", "1", "mean lambda", "Mean over engine speed in the window.", ("lambda",),
            _pinned(_mean("lambda"), "lambda"),
        ),
        Measure(
            "lambda.leanest", "1", "leanest lambda",
            "Largest smoothed value in the window.", ("lambda",),
            _pinned(_peak("lambda"), "lambda"),
        ),
        Measure(
            "charge_pressure_drop.mean", "kPa", "mean loss of charge pressure",
            "Compressor outlet to manifold, where both are logged; mean over engine speed in the window.",
            ("charge_pressure", "manifold_pressure"), _pressure_drop,
        ),
    ]  # fmt: skip
    return MappingProxyType({row.id: row for row in rows})


MEASURES: Mapping[str, Measure] = _table()
"""All measures by id, in the order in which they are shown."""
