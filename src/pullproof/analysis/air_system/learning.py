"""Volumetric efficiency from the car's own logs, so that logs without an air meter can use it."""

from collections.abc import Sequence

import numpy as np

from pullproof.analysis.air_system.doubt import Known
from pullproof.analysis.air_system.fitted import Filling, Fitted
from pullproof.analysis.air_system.flow import defended_filling, filling_from_meter, metered_flow
from pullproof.analysis.air_system.scene import STEP, look
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.computed_channels import PullRecord
from pullproof.curves import revs
from pullproof.errors import CannotAnswer
from pullproof.stats.mixed_model import Design, fit
from pullproof.stats.scatter import TypicalScatter

__all__ = ["fitted_from", "learn_volumetric_efficiency"]

LEVEL = 0.95
DAY = TypicalScatter(median=0.015, doubt=0.5)
RUN = TypicalScatter(median=0.010, doubt=0.5)
"""Usual scatter of a measured volumetric efficiency between days and between pulls [1]: temperature sensors that are
warmer or colder than their air. Common practice, no source."""


def learn_volumetric_efficiency(records: Sequence[PullRecord], car: Car) -> Filling:
    """Volumetric efficiency at full load over engine speed, from pulls that have an air meter.

    Parameters
    ----------
    records : sequence of PullRecord
        Pulls of one build; those without air meter, or without a pressure, are left out and named.
    car : Car
        Its displacement is needed.

    Returns
    -------
    Filling
        Mean over pulls and days at each engine speed that a pull reaches. Its interval holds the scatter between
        pulls and days and what meter, pressure and temperature sensors may be off by together.

    Raises
    ------
    CannotAnswer
        No pull tells it; the reason of the last one is given.
    """
    channel = "manifold_pressure"
    if not any(channel in record.traces for record in records):
        channel = "charge_pressure"
    rpm = _speeds(records)
    used: list[PullRecord] = []
    fillings: list[Known] = []
    refused: dict[str, CannotAnswer] = {}
    for record in records:
        where = f"{record.pull.log}, pull at {record.pull.start_s:.1f} s"
        try:
            fillings.append(_filling(record, car, channel, rpm))
            used.append(record)
        except CannotAnswer as error:
            refused[where] = error
    if not used:
        raise _none(refused)
    value, deviation = _mean(np.array([one.value for one in fillings]), [record.day for record in used])
    lower, upper = (
        np.sqrt(_average([(getattr(one, side) - one.value) ** 2 for one in fillings]) + (1.96 * deviation) ** 2)
        for side in ("lower", "upper")
    )
    known = np.isfinite(value)
    doubts = [text for one in fillings for text in one.doubts]
    doubts += [f"{where} is left out: {error.what}" for where, error in refused.items()]
    doubts.append("a meter that reads wrong throughout makes it wrong by as much: its 5 % are in the interval")
    return Filling(
        rpm=rpm[known],
        value=value[known],
        lower=(value - lower)[known],
        upper=(value + upper)[known],
        pressure_channel=channel,
        pulls=len(used),
        days=len({record.day for record in used}),
        logs=tuple(dict.fromkeys(record.pull.log for record in used)),
        doubts=tuple(dict.fromkeys(doubts)),
    )


def fitted_from(records: Sequence[PullRecord], car: Car) -> Fitted:
    """What pulls with an air meter teach for those without one; nothing where all have one, or none.

    Parameters
    ----------
    records : sequence of PullRecord
        Pulls of one car.
    car : Car
        Its displacement is needed.
    """
    metered = ["air_mass_flow" in record.traces for record in records]
    if all(metered) or not any(metered):
        return Fitted()
    try:
        return Fitted(filling=learn_volumetric_efficiency(records, car))
    except CannotAnswer:
        return Fitted()


def _speeds(records: Sequence[PullRecord]) -> Array:
    ends = []
    for record in records:
        try:
            turning = revs(record).rpm
        except CannotAnswer:
            continue
        ends.append((turning[0], turning[-1]))
    if not ends:
        raise CannotAnswer(
            "no pull to learn the volumetric efficiency from", advice="Give logs with full-load pulls and an air meter."
        )
    low, high = min(first for first, _ in ends), max(last for _, last in ends)
    return STEP * np.arange(np.ceil(low / STEP), np.floor(high / STEP) + 1.0)


def _filling(record: PullRecord, car: Car, channel: str, rpm: Array) -> Known:
    scene = look(record, car, rpm)
    if not scene.has(channel):
        raise CannotAnswer(f"no {channel.replace('_', ' ')} in the log")
    return defended_filling(filling_from_meter(scene, metered_flow(scene)), scene)


def _mean(values: Array, labels: Sequence[str]) -> tuple[Array, Array]:
    """Mean at each engine speed and its standard deviation, days and pulls with their own scatter.

    Engine speeds that the same pulls reach are fitted together; `values` is (pulls, engine speeds).
    """
    group = np.unique(labels, return_inverse=True)[1].astype(np.intp)
    known = np.isfinite(values)
    mean, deviation = (np.full(values.shape[1], np.nan) for _ in range(2))
    for pattern in np.unique(known, axis=1).T:
        if not pattern.any():
            continue
        alike = (known == pattern[:, None]).all(axis=0)
        design = Design(np.ones((int(pattern.sum()), 1)), group[pattern], np.zeros(1), np.full(1, np.inf))
        level = fit(values[np.ix_(pattern, alike)], design, DAY, RUN).contrast(np.ones(1))
        mean[alike], deviation[alike] = level.mean(), level.deviation()
    return mean, deviation


def _average(rows: Sequence[Array]) -> Array:
    """Mean of the rows that are known at each engine speed."""
    table = np.array(rows)
    known = np.isfinite(table)
    total: Array = np.where(known, table, 0.0).sum(axis=0) / np.maximum(known.sum(axis=0), 1)
    return total


def _none(refused: dict[str, CannotAnswer]) -> CannotAnswer:
    where, error = list(refused.items())[-1]
    return CannotAnswer(f"no pull tells the volumetric efficiency: {error.what}", where=where, advice=error.advice)
