"""The search from a log to its pulls."""

import dataclasses

import numpy as np

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.pulls.drive import Drive, gather
from pullproof.pulls.full_load import FullLoad, Span, full_load
from pullproof.pulls.gearing import gears_of
from pullproof.pulls.judge import Court, judge, witnesses_of
from pullproof.pulls.one_another import without_impossible_gears, without_part_load
from pullproof.pulls.pull import Pull
from pullproof.pulls.runs import Run, runs_between
from pullproof.pulls.unpedalled import rising_spans
from pullproof.reading.log import Log

__all__ = ["find_pulls"]

# A lift or a hole longer than this [s] parts two runs; a shorter one spoils one.
_BRIEF_LIFT_S, _BRIEF_HOLE_S = 1.5, 4.0
# Engine speed after over before: lower, and the driver changed gear in between.
_SAME_GEAR = 0.92
# Change of engine speed over road speed (logarithm) that tells one gear from the next.
_RATIO_STEP = 0.12
# A part that holds this share of the whole rise is a pull of its own, the rest a stab at the pedal.
_ALMOST_ALL = 0.8
# Rise (logarithm) that a stretch of full load must hold to be looked into.
_WORTH_A_LOOK = 0.02


def find_pulls(log: Log, car: Car | None = None) -> tuple[Pull, ...]:
    """Find the full-load runs through the revs of a log and judge each.

    Parameters
    ----------
    log : Log
        As read.
    car : Car, optional
        Gives the redline, and the gear ratios by which a gear is told.

    Returns
    -------
    tuple of Pull
        In order of time: used ones, and refused ones with the reason. Stabs at the pedal that nobody would call an
        attempt are left out.

    Raises
    ------
    CannotAnswer
        The log has no engine speed.
    """
    drive = gather(log, car)
    shown = full_load(log)
    load = rising_spans(log, drive) if shown is None else shown
    drive = dataclasses.replace(drive, holes=_merged(drive.holes, load.holes))
    court = Court(
        file=log.file,
        drive=drive,
        gears=gears_of(drive, car),
        witnesses=witnesses_of(log, load.channel),
        assumptions=(*load.assumptions, *drive.assumptions),
    )
    judged = (judge(court, run) for run in _runs(drive, load, log.restarts))
    pulls = [pull for pull in judged if pull is not None]
    if shown is None:
        pulls = without_part_load(drive, pulls)
    return tuple(without_impossible_gears(pulls))


def _merged(holes: Array, more: Array) -> Array:
    """All holes in order, those that overlap as one."""
    merged: list[list[float]] = []
    for first, last in sorted([*holes.tolist(), *more.tolist()]):
        if merged and first <= merged[-1][1]:
            merged[-1][1] = max(merged[-1][1], last)
        else:
            merged.append([first, last])
    return np.array(merged).reshape(-1, 2)


def _runs(drive: Drive, load: FullLoad, restarts: tuple[float, ...]) -> list[Run]:
    """Runs of all stretches of full load, those put together that one lift or one hole of the record tore apart."""
    runs: list[Run] = []
    for span in _worth_a_look(drive, load.spans):
        for run in runs_between(drive, span.start, span.end):
            torn = _torn(drive, runs[-1], run, restarts) if runs else None
            if torn is None:
                runs.append(run)
            else:
                runs[-1] = torn
    return runs


def _worth_a_look(drive: Drive, spans: tuple[Span, ...]) -> list[Span]:
    """Stretches in which engine speed moves at all, told for all of them at once: a long log has thousands."""
    if not spans:
        return []
    time, speed = drive.engine.time, drive.engine.values
    first = np.searchsorted(time, [span.start for span in spans], "left")
    last = np.searchsorted(time, [span.end for span in spans], "right")
    held = last - first >= 2
    edges = np.ravel(np.column_stack((first[held], last[held])))
    padded = np.append(speed, speed[-1])  # reduceat needs an element after the last
    highest, lowest = np.maximum.reduceat(padded, edges)[::2], np.minimum.reduceat(padded, edges)[::2]
    moves = np.log(highest / lowest) > _WORTH_A_LOOK
    return [spans[place] for place in np.flatnonzero(held)[moves]]


def _torn(drive: Drive, before: Run, after: Run, restarts: tuple[float, ...]) -> Run | None:
    """Two runs as one, where only a lift or a hole parts them; None where they are two.

    Where one of them is nearly all there is, it stays alone and sound: the other was a stab at the pedal.
    """
    left, right = before.end, after.start
    hole = bool(np.any((drive.holes[:, 0] < right) & (left < drive.holes[:, 1])))
    if not (before.to_edge and after.from_edge) or any(left <= restart <= right for restart in restarts):
        return None
    if right - left > (_BRIEF_HOLE_S if hole else _BRIEF_LIFT_S) or _changed_gear(drive, before, after, hole=hole):
        return None
    levels = [np.log(drive.engine_at(at)) for at in (before.start, left, right, after.end)]
    whole = levels[3] - levels[0]
    if levels[1] - levels[0] >= _ALMOST_ALL * whole:
        return before
    if levels[3] - levels[2] >= _ALMOST_ALL * whole:
        return after
    what = "gap in the record" if hole else "pedal lifted"
    return Run(before.start, after.end, f"{what} at {left:.1f} s, for {right - left:.1f} s")


def _changed_gear(drive: Drive, before: Run, after: Run, *, hole: bool) -> bool:
    old, new = drive.engine_at(before.end), drive.engine_at(after.start)
    road = drive.road_at(np.array([before.end, after.start]))
    if np.all(road > 1.0):
        return abs(float(np.log(new / old) - np.log(road[1] / road[0]))) > _RATIO_STEP
    return new < _SAME_GEAR * old or (new > old / _SAME_GEAR and not hole)
