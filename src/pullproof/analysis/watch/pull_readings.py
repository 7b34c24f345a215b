"""The worst reading of each pull, gathered for the trends from test day to test day."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass

from pullproof.analysis.comparison.outings import part_outings
from pullproof.analysis.watch.events import worst
from pullproof.analysis.watch.limits import trend_priors
from pullproof.analysis.watch.result import Limit, Trend
from pullproof.analysis.watch.rules import RULES
from pullproof.analysis.watch.scene import AROUND_PULL_S, Scene, Signal
from pullproof.analysis.watch.trends import PullReading, trends_of
from pullproof.car import Car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet

__all__ = ["Reading", "trends_by_pull"]


@dataclass(slots=True)
class Reading:
    """What one rule read in one log."""

    scene: Scene
    signal: Signal
    limit: Limit


def trends_by_pull(
    scenes: Sequence[Scene],
    readings_by_rule: Mapping[str, Sequence[Reading]],
    car: Car,
    sheet: ConditionsSheet,
    ended: Collection[str],
) -> tuple[tuple[Trend, ...], list[str]]:
    """Trends of the worst reading of each pull, and why there are none; a sensor at its end shows none."""
    used = [(scene.log, pull) for scene in scenes for pull in scene.pulls if pull.used]
    records = part_outings([record_pull(log, pull, car, sheet.of(log.file)) for log, pull in used], sheet)
    if len({record.day for record in records}) < 2:
        return (), ["all pulls are of one test day, so nothing can be said of trends"] if records else []
    by_log: Mapping[str, list[PullRecord]] = {
        scene.log.file: [record for record in records if record.log.file == scene.log.file] for scene in scenes
    }
    labels = {rule.id: rule.label for rule in RULES}
    readings = [
        value
        for rule in trend_priors()
        for reading in readings_by_rule.get(rule, ())
        if reading.signal.channel not in ended
        for record in by_log[reading.scene.log.file]
        if (value := _pull_reading(rule, labels[rule], reading, record, sheet)) is not None
    ]
    return trends_of(_worst_of_each(readings)), []


def _pull_reading(
    rule: str, label: str, reading: Reading, record: PullRecord, sheet: ConditionsSheet
) -> tuple[PullRecord, PullReading] | None:
    """The worst that a signal read in a pull."""
    before, after = AROUND_PULL_S
    inside = (reading.signal.time >= record.pull.start_s - before) & (reading.signal.time <= record.pull.end_s + after)
    if not inside.any():
        return None
    part = reading.signal.where(inside)
    value = float(part.values[worst(part, reading.limit)])
    when = sheet.of(record.log.file).when
    return record, PullReading(rule, label, reading.limit.unit, value, record.day, record.air.temperature_c, when)


def _worst_of_each(found: Sequence[tuple[PullRecord, PullReading]]) -> list[PullReading]:
    """One reading for each rule and pull: of several cylinders the worst."""
    kept: dict[tuple[str, str, float], PullReading] = {}
    worse = trend_priors()
    for record, reading in found:
        key = (reading.rule, record.log.file, record.pull.start_s)
        known = kept.get(key)
        if known is None or (reading.value > known.value) == (worse[reading.rule].worse == "up"):
            kept[key] = reading
    return list(kept.values())
