"""A pull with everything around it, and the channels that follow from physics and the sheets."""

import dataclasses
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from types import MappingProxyType

import numpy as np

from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.conditions import Air, Conditions
from pullproof.errors import CannotAnswer
from pullproof.pulls import Pull
from pullproof.reading.log import Log
from pullproof.timebase import cut, new_samples, value_at
from pullproof.tractive_power import wheel_power_trace

__all__ = ["PullRecord", "record_pull"]

# Kept of each trace before and after the pull [s].
_BEFORE_S, _AFTER_S = 5.0, 3.0
# Looked at around the pull [s] to see at what pace a channel is really sampled.
_PACE_S = 60.0
# Engine speed [rpm] below which the engine stands, so that every pressure sensor reads the barometer.
_STANDING_RPM = 50.0
# Standard atmosphere at sea level [kPa], ISO 2533: the last resort for the pressure that boost is counted from.
_STANDARD_KPA = 101.325
# Plausible barometer [kPa], from 4000 m to a high at the sea.
_BAROMETER = (60.0, 107.0)
_PRESSURES = ("charge_pressure", "manifold_pressure")


@dataclass(frozen=True, slots=True, eq=False)
class PullRecord:
    """One pull, ready to be read: new samples only, canonical units, computed channels included.

    `traces` start some seconds before the pull and end some after, so that lag and smoothing have no edge there.
    `left_out` names channels that could not be computed, with the reason. A record equals itself alone.
    """

    pull: Pull
    log: Log
    day: str
    air: Air
    direction: str | None
    traces: Mapping[str, Trace]
    left_out: Mapping[str, str]
    doubts: Mapping[str, str] = field(default_factory=lambda: MappingProxyType({}))
    """Channel (or `day`) to what is uncertain about it, in a sentence."""


def record_pull(log: Log, pull: Pull, car: Car, conditions: Conditions) -> PullRecord:
    """Gather a pull's traces, the state of the air, and what can be computed from them.

    Parameters
    ----------
    log : Log
        The log that holds the pull.
    pull : Pull
        As `find_pulls` found it.
    car : Car
        For what is computed from mass, gearing and the like.
    conditions : Conditions
        What the user says of this log; it comes before the log's own ambient channels.

    Returns
    -------
    PullRecord
        With `boost` [kPa], `knock_retard` [deg] and `wheel_power` [kW] added where they can be computed.

    The test day is the label of the conditions, else the date that they give. A log without either counts as a day
    of its own: two logs of one day, wrongly taken for two, widen the interval; two days taken for one would hide
    what differed between them.
    """
    traces = _cut_out(log, pull)
    air = _air(log, pull, conditions.air)
    left_out: dict[str, str] = {}
    doubts: dict[str, str] = {}
    computed: dict[str, Callable[[], Trace]] = {
        "boost": lambda: _boost(log, traces, air, doubts),
        "knock_retard": lambda: _worst_knock(traces),
        "wheel_power": lambda: wheel_power_trace(pull, traces, air, car),
    }
    for channel, compute in computed.items():
        if channel not in traces:
            try:
                traces[channel] = compute()
            except CannotAnswer as error:
                left_out[channel] = error.what
    return PullRecord(
        pull=pull,
        log=log,
        day=_day(log, conditions, doubts),
        air=air,
        direction=conditions.direction,
        traces=MappingProxyType(traces),
        left_out=MappingProxyType(left_out),
        doubts=MappingProxyType(doubts),
    )


def _cut_out(log: Log, pull: Pull) -> dict[str, Trace]:
    """New samples of every channel around the pull, never from beyond a restart of the log's clock."""
    before = [restart for restart in log.restarts if restart <= pull.start_s]
    after = [restart for restart in log.restarts if restart > pull.start_s]
    first, last = max(before, default=-np.inf), min(after, default=np.inf)
    traces = {}
    for name, trace in log.traces.items():
        around = cut(trace, max(first, pull.start_s - _PACE_S), min(last, pull.end_s + _PACE_S))
        samples = cut(new_samples(around), max(first, pull.start_s - _BEFORE_S), min(last, pull.end_s + _AFTER_S))
        if samples.time.size:
            traces[name] = samples
    return traces


def _air(log: Log, pull: Pull, said: Air) -> Air:
    """State of the air: what the user says, else what the log's ambient channels read around the pull, else unknown."""
    origin = dict(said.origin)
    found: dict[str, float] = {}
    for quantity, channel in (("temperature_c", "ambient_temperature"), ("pressure_kpa", "ambient_pressure")):
        if getattr(said, quantity) is None and channel in log.traces:
            around = cut(log.traces[channel], pull.start_s - _PACE_S, pull.end_s + _PACE_S).values
            around = around[np.isfinite(around)]
            if around.size:
                found[quantity] = float(np.median(around))
                origin[quantity] = f"log channel {channel}"
    return dataclasses.replace(said, **found, origin=MappingProxyType(origin))


def _boost(log: Log, traces: Mapping[str, Trace], air: Air, doubts: dict[str, str]) -> Trace:
    """Charge pressure, else manifold pressure, above ambient. [kPa]

    Where the file held a gauge reading, that is the boost, whatever the reader added to make it absolute.
    """
    source = next((traces[name] for name in _PRESSURES if name in traces), None)
    if source is None:
        raise CannotAnswer("neither charge pressure nor manifold pressure in the log")
    reference = log.gauge_reference_kpa.get(source.channel)
    if reference is None and air.pressure_kpa is not None:
        reference = air.pressure_kpa
    if reference is None:
        reference = _pressure_with_engine_off(log, source.channel)
        if reference is not None:
            doubts["boost"] = f"ambient pressure taken from {_words(source.channel)} with the engine off"
    if reference is None:
        reference = _STANDARD_KPA
        doubts["boost"] = (
            f"ambient pressure unknown, {_STANDARD_KPA:.1f} kPa assumed: the level of boost may be several kPa off"
        )
    return dataclasses.replace(source, channel="boost", unit="kPa", values=source.values - reference)


def _pressure_with_engine_off(log: Log, channel: str) -> float | None:
    engine = log.traces.get("engine_speed")
    if engine is None:
        return None
    engine, pressure = new_samples(engine), log.traces[channel]
    off = value_at(engine, pressure.time) < _STANDING_RPM
    values = pressure.values[off & np.isfinite(pressure.values)]
    if values.size < 3:
        return None
    level = float(np.median(values))
    return level if _BAROMETER[0] < level < _BAROMETER[1] else None


def _worst_knock(traces: Mapping[str, Trace]) -> Trace:
    """The most retarded cylinder at every instant at which any cylinder was sampled. [deg]"""
    cylinders = [traces[name] for name in _cylinders(traces)]
    if not cylinders:
        raise CannotAnswer("no knock retard in the log")
    time = np.unique(np.concatenate([trace.time for trace in cylinders]))
    values = np.fmax.reduce([value_at(trace, time) for trace in cylinders])
    known = np.isfinite(values)
    return Trace("knock_retard", "deg", time[known], values[known])


def _cylinders(names: Iterable[str]) -> list[str]:
    return sorted(name for name in names if name.startswith("knock_retard_") and name[13:].isdigit())


def _day(log: Log, conditions: Conditions, doubts: dict[str, str]) -> str:
    if conditions.day is not None:
        return conditions.day
    if conditions.when is not None:
        return conditions.when.date().isoformat()
    doubts["day"] = f"nobody says on which day {log.file} was recorded: counted as a test day of its own"
    return log.file


def _words(channel: str) -> str:
    return channel.replace("_", " ")
