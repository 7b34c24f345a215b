"""From logs to a watch: every rule on every log, events, sensors, trends, and what could not be watched."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from pullproof.analysis.cautions import CAUTIONS
from pullproof.analysis.comparison.each_once import each_once
from pullproof.analysis.watch.events import Passing, passings, past, worst
from pullproof.analysis.watch.limits import Limits, limits_of
from pullproof.analysis.watch.pull_readings import Reading, trends_by_pull
from pullproof.analysis.watch.result import Event, Limit, NotWatched, Place, Watch, Watched
from pullproof.analysis.watch.rules import AT_THE_STOP, PINNED, RULES, Rule
from pullproof.analysis.watch.scene import Scene, Signal, look_at
from pullproof.analysis.watch.sensors import constant_channels, sensor_doubts
from pullproof.car import Car
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.reading import read_log
from pullproof.reading.log import Log
from pullproof.timebase import typical_interval

__all__ = ["watch", "watch_limits"]

TWENTY_FOUR_VOLT = 18.0
"""Usual voltage above which a charging system is one of 24 V. [V]"""

AROUND_S, MOST_POINTS = 3.0, 300
"""What is kept of a signal around an event: seconds on either side, and about how many samples."""


@dataclass(slots=True)
class _Findings:
    readings: dict[str, list[Reading]] = field(default_factory=dict)
    missing: dict[tuple[str, str, str], list[str]] = field(default_factory=dict)
    """Rule, reason and advice to the logs."""


def watch_limits(car: Car) -> Limits:
    """Every limit that holds for a car, the wastegate's stop among them."""
    limits = limits_of(car)
    stop = Limit(PINNED, "%", "above", AT_THE_STOP, "the command cannot go further than 100 %", for_s=0.3)
    return replace(limits, by_key={**limits.by_key, PINNED: stop})


def watch(logs: Sequence[Log | str | Path], *, car: Car, conditions: ConditionsSheet | None = None) -> Watch:
    """Hold logs against the limits of a car.

    Parameters
    ----------
    logs : sequence of Log or path
        In the order in which they were driven, for trends without dates.
    car : Car
        Its fuel and its table of limits.
    conditions : ConditionsSheet, optional
        Day and air of each log, for trends.

    Raises
    ------
    CannotAnswer
        Nothing at all can be watched in these logs.
    WrongUse
        A log stands twice, or two logs have one name.
    CannotRead
        A file is not there or not a log.
    """
    sheet = conditions or ConditionsSheet()
    read = [given if isinstance(given, Log) else read_log(given, car) for given in logs]
    each_once(read, ())
    scenes = [look_at(log, car) for log in read]
    limits = watch_limits(car)
    findings = _Findings()
    for scene in scenes:
        for rule in RULES:
            _apply(rule, scene, limits, findings)
    files = tuple(scene.log.file for scene in scenes)
    if not findings.readings:
        raise CannotAnswer(
            "nothing in these logs can be watched",
            where=", ".join(files),
            advice="Log knock retard, lambda, pressures and temperatures; `pullproof read` shows what is there.",
        )
    watched, events = _told(findings)
    not_watched = _not_watched(findings)
    sensors = tuple(doubt for scene in scenes for doubt in sensor_doubts(scene))
    trends, doubts = trends_by_pull(scenes, findings.readings, car, sheet, ended={doubt.channel for doubt in sensors})
    return Watch(
        sentence=_sentence(watched, not_watched, scenes),
        logs=files,
        pulls=tuple(pull for scene in scenes for pull in scene.pulls),
        watched=watched,
        events=events,
        not_watched=not_watched,
        sensors=sensors,
        trends=trends,
        doubts=(*limits.doubts, *sheet.doubts_of(files), *doubts, *_by_no_pull(scenes), *_notes(scenes)),
        cautions=CAUTIONS,
    )


def _apply(rule: Rule, scene: Scene, limits: Limits, findings: _Findings) -> None:
    """Read one rule in one log, or note why not."""

    def miss(reason: str, advice: str) -> None:
        findings.missing.setdefault((rule.id, reason, advice), []).append(scene.log.file)

    try:
        signals = rule.read(scene)
    except CannotAnswer as error:
        miss(error.what, error.advice)
        return
    limit = limits.by_key.get(rule.limit)
    if limit is None:
        advice = f"Write {rule.limit} into the table [limits] of the car sheet."
        miss(
            limits.without[rule.limit],
            "Write redline_rpm into the table [engine] of the car sheet." if rule.id == "over_speed" else advice,
        )
        return
    stuck = constant_channels(scene)
    alive = [signal for signal in signals if signal.channel not in stuck]
    if not alive:
        miss(f"{signals[0].channel.replace('_', ' ')} never moves in this log", "Look at the sensor and its column.")
        return
    seen = [signal for signal in alive if signal.values.size]
    if not seen:
        miss(f"no sample of {rule.needs} falls where it would be looked at", f"Log {rule.needs} faster.")
    for signal in seen:
        findings.readings.setdefault(rule.id, []).append(Reading(scene, signal, _for_system(limit, scene)))


def _for_system(limit: Limit, scene: Scene) -> Limit:
    """Twice the limit of a 12 V system, where the log is of a 24 V one."""
    if not limit.key.startswith("battery") or limit.from_sheet:
        return limit
    usual = float(np.median(scene.samples("battery_voltage").values))
    return replace(limit, value=2.0 * limit.value) if usual > TWENTY_FOUR_VOLT else limit


def _told(findings: _Findings) -> tuple[tuple[Watched, ...], tuple[Event, ...]]:
    watched, events = [], []
    for rule in RULES:
        readings = findings.readings.get(rule.id, [])
        own = [event for reading in readings for event in _events(rule, reading)]
        events += own
        if readings:
            watched.append(_summary(rule, readings, own))
    return tuple(watched), tuple(events)


def _events(rule: Rule, reading: Reading) -> list[Event]:
    signal, limit, scene = reading.signal, reading.limit, reading.scene
    found = []
    for passing in passings(signal, limit):
        start, end = float(signal.time[passing.first]), float(signal.time[passing.last])
        found.append(
            Event(
                id=f"{rule.id}:{signal.channel}:{scene.log.file}:{start:.2f}",
                rule=rule.id,
                label=rule.label,
                channel=signal.channel,
                kind=passing.kind,
                limit=limit,
                worst=float(signal.values[passing.at]),
                beyond=float(past(signal.values, limit)[passing.at]),
                place=_place(scene, float(signal.time[passing.at])),
                start_s=start,
                end_s=end,
                samples=passing.samples,
                passages=passing.passages,
                at_least_s=passing.at_least_s,
                at_most_s=passing.at_most_s,
                detail=_detail(rule, scene, start, end),
                around=_around(signal, passing),
            )
        )
    return found


def _around(signal: Signal, passing: Passing) -> tuple[tuple[float, float], ...]:
    """Own samples from before an event to after it; of a long one every so many, the worst always among them."""
    start, end = signal.time[passing.first] - AROUND_S, signal.time[passing.last] + AROUND_S
    inside = np.flatnonzero((signal.time >= start) & (signal.time <= end))
    step = max(1, inside.size // MOST_POINTS)
    shown = inside[(inside - passing.at) % step == 0]
    return tuple(zip(signal.time[shown].tolist(), signal.values[shown].tolist(), strict=True))


def _place(scene: Scene, time: float) -> Place:
    rpm = float(scene.at("engine_speed", np.array([time]))[0])
    return Place(scene.log.file, time, rpm if np.isfinite(rpm) else None, scene.pull_at(time))


def _detail(rule: Rule, scene: Scene, start: float, end: float) -> str:
    """What else is worth knowing: a shut wastegate with boost short of its target has nothing left to give."""
    if rule.id != PINNED or not scene.has("charge_pressure_target"):
        return ""
    pressure = "charge_pressure" if scene.has("charge_pressure") else "manifold_pressure"
    if not scene.has(pressure):
        return ""
    samples = scene.samples(pressure)
    inside = (samples.time >= start) & (samples.time <= end)
    short = scene.at("charge_pressure_target", samples.time[inside]) - samples.values[inside]
    short = short[np.isfinite(short)]
    return f"boost lies {np.median(short):.0f} kPa below its target here" if short.size and np.median(short) > 1 else ""


def _summary(rule: Rule, readings: Sequence[Reading], events: Sequence[Event]) -> Watched:
    """The worst of all logs, by how far it is past its limit."""
    beyond = [
        float(past(reading.signal.values, reading.limit)[worst(reading.signal, reading.limit)]) for reading in readings
    ]
    first = int(np.argmax(beyond))
    reading = readings[first]
    at = worst(reading.signal, reading.limit)
    sustained = any(event.kind == "sustained" for event in events)
    return Watched(
        rule=rule.id,
        label=rule.label,
        channels=tuple(dict.fromkeys(entry.signal.channel for entry in readings)),
        limit=reading.limit,
        worst=float(reading.signal.values[at]),
        margin=-beyond[first],
        place=_place(reading.scene, float(reading.signal.time[at])),
        logs=tuple(dict.fromkeys(entry.scene.log.file for entry in readings)),
        samples=sum(entry.signal.values.size for entry in readings),
        sees_s=max(typical_interval(entry.scene.samples(entry.signal.channel)) for entry in readings),
        status="passed the limit" if sustained else "touched it" if events else "within",
        doubts=tuple(dict.fromkeys(doubt for entry in readings for doubt in _doubts_of(entry))),
    )


def _doubts_of(reading: Reading) -> tuple[str, ...]:
    """What the rule is not sure of, and what reading the file left in doubt about the channel."""
    log = reading.scene.log
    of_column = tuple(
        f'{log.file}, column "{column.header}": {column.doubt}'
        for column in log.columns
        if column.channel == reading.signal.channel and column.doubt
    )
    return (*reading.signal.doubts, *of_column)


def _not_watched(findings: _Findings) -> tuple[NotWatched, ...]:
    labels = {rule.id: rule.label for rule in RULES}
    order = {rule.id: place for place, rule in enumerate(RULES)}
    return tuple(
        NotWatched(rule, labels[rule], tuple(logs), reason, advice)
        for (rule, reason, advice), logs in sorted(findings.missing.items(), key=lambda entry: order[entry[0][0]])
    )


def _sentence(watched: Sequence[Watched], not_watched: Sequence[NotWatched], scenes: Sequence[Scene]) -> str:
    """The answer first: what passed a limit, and how much of the whole was not to be seen."""
    passed = [entry.label for entry in watched if entry.status == "passed the limit"]
    touched = [entry.label for entry in watched if entry.status == "touched it"]
    pulls = sum(len(scene.pulls) for scene in scenes)
    seen = {entry.rule for entry in watched}
    unseen = len({entry.rule for entry in not_watched} - seen)
    partly = len({entry.rule for entry in not_watched} & seen)
    what = f"{len(seen)} of {len(RULES)} things could be watched in {_counted(len(scenes), 'log')} with "
    what += _counted(pulls, "pull")
    if passed:
        claim = f"{_listed(passed)} passed {'its' if len(passed) == 1 else 'their'} limit"
    elif touched:
        claim = f"{_listed(touched)} touched {'its' if len(touched) == 1 else 'their'} limit for a moment"
    else:
        claim = "none of these passed its limit"
    left = f" {unseen} could not be watched at all" + (f", {partly} not in every log" if partly else "") + "."
    return f"{what}: {claim}.{left if unseen or partly else ''} This clears nothing: an engine can fail without a sign."


def _counted(number: int, word: str) -> str:
    return f"{number} {word}" if number == 1 else f"{number or 'no'} {word}s"


def _listed(parts: Sequence[str]) -> str:
    return " and ".join(filter(None, (", ".join(parts[:-1]), *parts[-1:])))


def _by_no_pull(scenes: Sequence[Scene]) -> list[str]:
    without = [scene.log.file for scene in scenes if not len(scene.load)]
    if not without:
        return []
    return [f"no full load in {', '.join(without)}: what is watched at full load was not seen there"]


def _notes(scenes: Sequence[Scene]) -> list[str]:
    """What the reader noted of the files, above all that one holds no real driving; said once for all it holds of."""
    found: dict[str, list[str]] = {}
    for scene in scenes:
        for note in scene.log.notes:
            found.setdefault(note, []).append(scene.log.file)
    return [f"{', '.join(files)}: {note}" for note, files in found.items()]
