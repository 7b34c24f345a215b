"""Cut a stretch of full load into runs of rising engine speed, and say what separates them."""

from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array
from pullproof.pulls.drive import Drive
from pullproof.pulls.gearing import ratio_at
from pullproof.pulls.revs import averaged, jump, noise, rising_legs, top_reached

__all__ = ["Run", "runs_between"]

# A change of gear moves the ratio by more than this (logarithm): the closest steps of road gearboxes are 0.15.
_GEAR_STEP = 0.09
# Without road speed the step is told from engine speed before and after, which a loss of time in between blurs.
_GEAR_STEP_UNSEEN = 0.14
# So near to the edge of a stretch a run is at it [s]: full load begins before engine speed answers, and noise makes
# one of the last samples the highest.
_AFTER_START_S, _BEFORE_END_S = 1.0, 0.6
# Engine speed that ran ahead of the trend before it fell (logarithm): wheels had let go.
_FLARE = 0.03
# A fall that lasts longer [s] is a hill or a brake, not a cut.
_BRIEF_S = 1.5

Cause = Literal["gear change", "wheel spin", "torque cut", "limiter", "apart"]


@dataclass(frozen=True, slots=True)
class Run:
    """Engine speed rising from `start` to `end` [s], before anybody judged it."""

    start: float
    end: float
    flaw: str | None = None
    """What went wrong inside, as the reason to refuse."""
    bounded_by: str | None = None
    """What cut the run short on either side, for the reason should it be too short."""
    from_edge: bool = True
    """Whether it begins where full load begins."""
    to_edge: bool = True
    """Whether it ends where full load ends."""


@dataclass(frozen=True, slots=True)
class _Piece:
    first: int
    last: int
    flaw: str | None = None
    bounded_by: str | None = None


def runs_between(drive: Drive, start: float, end: float) -> list[Run]:
    """Runs of rising engine speed in a stretch of full load from `start` to `end` [s].

    A change of gear separates two runs. Spinning wheels and a cut of torque do not: they stay inside one run as
    its flaw, for the driver meant it to be one.
    """
    start, end = max(start, float(drive.engine.time[0])), min(end, float(drive.engine.time[-1]))
    time, speed = averaged(*drive.engine_between(start, end))
    pieces = [
        part for piece in _joined(drive, time, speed, rising_legs(speed)) for part in _split(drive, time, speed, piece)
    ]
    if not pieces:
        return []
    at_start, at_end = _at_edges(time, speed, pieces, start, end)
    last = len(pieces) - 1
    return [
        Run(
            start=start if place == 0 and at_start else float(time[piece.first]),
            end=end if place == last and at_end else float(time[piece.last]),
            flaw=piece.flaw,
            bounded_by=piece.bounded_by,
            from_edge=place == 0 and at_start,
            to_edge=place == last and at_end,
        )
        for place, piece in enumerate(pieces)
    ]


def _joined(drive: Drive, time: Array, speed: Array, legs: list[tuple[int, int]]) -> list[_Piece]:
    """Rises, put together where what lies between them is a flaw of one run."""
    pieces: list[_Piece] = []
    for first, last in legs:
        if not pieces:
            pieces.append(_Piece(first, last))
            continue
        before = pieces[-1]
        cause = _cause(drive, time, speed, before, (first, last))
        at = f"at {time[before.last]:.1f} s"
        if cause == "limiter":
            continue
        if cause in ("wheel spin", "torque cut"):
            flaw = (
                f"wheel spin {at}: engine speed ran ahead and fell back"
                if cause == "wheel spin"
                else f"torque cut {at}: engine speed fell at full load and rose again in the same gear"
            )
            pieces[-1] = _Piece(before.first, last, before.flaw or flaw, before.bounded_by)
        else:
            bound = f"gear change {at}" if cause == "gear change" else None
            pieces[-1] = _Piece(before.first, before.last, before.flaw, before.bounded_by or bound)
            pieces.append(_Piece(first, last, None, bound))
    return pieces


def _cause(drive: Drive, time: Array, speed: Array, before: _Piece, after: tuple[int, int]) -> Cause:
    """Why engine speed fell between two rises."""
    peak, (valley, top) = before.last, after
    if time[valley] - time[peak] > _BRIEF_S:
        return "apart"
    left, right = _straight(before.first, peak, 0.0, 0.7), _straight(valley, top, 0.15, 1.0)
    if left.size < 2 or right.size < 2:
        return "gear change" if speed[valley] < 0.93 * speed[peak] else "apart"
    middle = 0.5 * (time[peak] + time[valley])
    level = np.log(speed)
    trend = np.polynomial.Polynomial.fit(time[left], level[left], 1)
    later = np.polynomial.Polynomial.fit(time[right], level[right], 1)
    step = _ratio_step(drive, time, speed, (before.first, peak), after)
    if step is None:
        fell = level[valley] - level[peak]
        step = later(middle) - trend(middle) if fell < np.log(0.93) else 0.0
        step = 0.0 if abs(step) < _GEAR_STEP_UNSEEN else step
    if abs(step) > _GEAR_STEP:
        return "gear change"
    if level[peak] - trend(time[peak]) > max(_FLARE, 4.0 * noise(speed) / speed[peak]):
        return "wheel spin"
    if speed[top] < 1.01 * speed[peak]:
        return "limiter"
    return "torque cut"


def _straight(first: int, last: int, skip: float, keep: float) -> NDArray[np.int64]:
    """Places of the undisturbed part of a rise, as shares of its length."""
    span = last - first
    return np.arange(first + int(np.ceil(skip * span)), first + int(np.floor(keep * span)) + 1)


def _ratio_step(
    drive: Drive, time: Array, speed: Array, before: tuple[int, int], after: tuple[int, int]
) -> float | None:
    """Change of engine speed over road speed from one rise to the next, as logarithm; None where it is unknown."""
    if drive.road is None:
        return None
    ratio = ratio_at(drive, time, speed)
    old = ratio[before[0] : before[1] + 1][-8:-1]
    new = ratio[after[0] : after[1] + 1][1:8]
    old, new = old[np.isfinite(old)], new[np.isfinite(new)]
    if not old.size or not new.size:
        return None
    # The lowest of the old: wheels that spin before the fall would look like a change of gear.
    return float(np.log(np.median(new)) - np.log(np.min(old)))


def _split(drive: Drive, time: Array, speed: Array, piece: _Piece) -> list[_Piece]:
    """End a rise at the limiter, and part it where engine speed jumps to a lower gear's."""
    top = piece.first + top_reached(time[piece.first : piece.last + 1], speed[piece.first : piece.last + 1])
    piece = _Piece(piece.first, top, piece.flaw, piece.bounded_by)
    if piece.flaw is not None:
        return [piece]
    part = slice(piece.first, piece.last + 1)
    event = jump(time[part], speed[part])
    if event is None:
        return [piece]
    low, high = piece.first + event.first, piece.first + event.last
    step = _ratio_step(drive, time, speed, (piece.first, low), (high, piece.last))
    if step is not None and step < _GEAR_STEP:
        return [piece]  # the ratio came back: whoever compares with road speed will call it wheel spin
    bound = f"gear change at {time[high]:.1f} s"
    rest = _split(drive, time, speed, _Piece(high, piece.last, None, piece.bounded_by or bound))
    return [_Piece(piece.first, low, None, piece.bounded_by or bound), *rest]


def _at_edges(time: Array, speed: Array, pieces: list[_Piece], start: float, end: float) -> tuple[bool, bool]:
    """Whether the first rise begins where full load does, and whether the last one ends where it does."""
    interval = float(np.median(np.diff(time)))
    near_start, near_end = (max(seconds, 1.1 * interval) for seconds in (_AFTER_START_S, _BEFORE_END_S))
    ripple = float(np.clip(4.0 * noise(speed) / np.median(speed), 0.015, 0.03))
    first, last = pieces[0].first, pieces[-1].last
    level_before = speed[: first + 1].max() <= (1.0 + ripple) * speed[first]
    level_after = speed[-1] > (1.0 - ripple) * speed[last]
    return bool(time[first] - start <= near_start and level_before), bool(end - time[last] <= near_end and level_after)
