"""Engine speed against road speed: which gear, and do the two keep step."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.channels import Trace
from pullproof.physics.tyre import ROLLING_FACTOR, rolling_radius
from pullproof.pulls.drive import Drive
from pullproof.timebase import value_at

__all__ = ["Gears", "Slip", "gears_of", "matched_gear", "ratio_at", "slip", "steady_gear"]

# Rolling radius taken where the sheet has ratios but no tyre [m]; passenger car tyres lie between 0.28 and 0.34.
_USUAL_RADIUS = ROLLING_FACTOR * 0.635 / (2.0 * np.pi)
# A ratio belongs to a gear when it is this near (logarithm); neighbouring gears are 0.15 to 0.6 apart.
_NEAR = 0.08
_NEAR_GUESSED = 0.12
# Clusters of ratio: bin (logarithm), share of the driving in a cluster, least road speed [km/h].
_BIN, _SHARE, _DRIVING = 0.02, 0.008, 6.0
# Least ratio of a first gear [rpm/(km/h)]; steps between two gears of a gearbox (logarithm). Common practice.
_FIRST_GEAR, _LEAST_STEP, _LARGEST_STEP = 80.0, 0.12, 0.75
# Delays of road speed against engine speed that are tried [s].
_DELAYS = np.arange(0.0, 0.75, 0.1)
# Out of step: by more than this (logarithm), besides the grain of the road speed channel.
_OUT_OF_STEP = 0.035
# ... and for this long [s], or two samples.
_SLIP_S = 0.15


@dataclass(frozen=True, slots=True)
class Gears:
    """Engine speed over road speed of each gear, first gear first [rpm/(km/h)], and where that is from."""

    ratios: tuple[float, ...] = ()
    near: float = _NEAR
    assumption: str | None = None


@dataclass(frozen=True, slots=True)
class Slip:
    """How engine speed and road speed keep step over a run."""

    ratio: float
    """Engine speed over road speed where they keep step. [rpm/(km/h)]"""
    in_step_from: float | None
    """From when on they do, where the run begins with the car setting off; else None. [s]"""
    worst: float
    """Largest lasting departure after that, as logarithm; 0 where there is none."""
    worst_at: float
    """When. [s]"""


def gears_of(drive: Drive, car: Car | None) -> Gears:
    """Ratios from the car sheet, else from clusters in the log, else none."""
    if car is not None and car.gear_ratios and car.final_drive is not None:
        try:
            radius = _USUAL_RADIUS if car.tyre is None else rolling_radius(car.tyre)
        except ValueError:
            radius = _USUAL_RADIUS
        known = radius != _USUAL_RADIUS
        per_kmh = 60.0 / (3.6 * 2.0 * np.pi * radius)
        return Gears(
            tuple(ratio * car.final_drive * per_kmh for ratio in car.gear_ratios),
            _NEAR if known else _NEAR_GUESSED,
            None if known else "no tyre size in the car sheet: gear told with a usual tyre",
        )
    if drive.road is None:
        return Gears()
    return Gears(_clusters(drive), assumption="gear counted from the clusters of engine speed over road speed")


def _clusters(drive: Drive) -> tuple[float, ...]:
    """Ratios at which the log lingers, highest first; none unless they can be counted from first gear.

    They can where the log shows the car setting off from rest and the highest ratio is one of a first gear: less
    than 12 km/h per 1000 rpm. No step between neighbours may be so large that a gear could be missing.
    """
    road = drive.road
    if road is None or road.values.min() > 1.0:
        return ()
    moving = road.values > _DRIVING
    engine = value_at(drive.engine, road.time[moving], drive.holes)
    with np.errstate(divide="ignore", invalid="ignore"):
        level = np.log(engine / road.values[moving])
    level = level[np.isfinite(level) & (level > np.log(12.0)) & (level < np.log(300.0))]
    if level.size < 200:
        return ()
    count, edges = np.histogram(level, np.arange(np.log(12.0), np.log(300.0), _BIN))
    smooth = np.convolve(count, (0.25, 0.5, 0.25), "same")
    reach = 5  # bins either side: gears are at least 0.1 apart
    padded = np.pad(smooth, reach)
    around = np.lib.stride_tricks.sliding_window_view(padded, 2 * reach + 1)
    lingers = np.convolve(count, np.ones(5), "same") > _SHARE * level.size
    valley = np.minimum(around[:, :reach].min(axis=1), around[:, reach + 1 :].min(axis=1))
    peaks = np.flatnonzero((smooth == around.max(axis=1)) & lingers & (valley < 0.5 * smooth))
    levels = 0.5 * (edges[peaks] + edges[peaks + 1])
    apart = np.diff(levels)
    if not 3 <= levels.size <= 10 or levels[-1] < np.log(_FIRST_GEAR):
        return ()
    if apart.min() < _LEAST_STEP or apart.max() > _LARGEST_STEP:
        return ()
    return tuple(float(ratio) for ratio in np.exp(levels[::-1]))


def matched_gear(gears: Gears, ratio: float) -> int | None:
    """Number of the gear with this ratio [rpm/(km/h)]; None where none is near."""
    if not gears.ratios or not np.isfinite(ratio):
        return None
    apart = np.abs(np.log(np.array(gears.ratios) / ratio))
    nearest = int(np.argmin(apart))
    return nearest + 1 if apart[nearest] < gears.near else None


def steady_gear(gear: Trace | None, start: float, end: float) -> int | None:
    """What the log's own gear channel says over a run; None where it has none or does not keep still."""
    if gear is None or gear.time.size == 0:
        return None
    told = gear.values[np.clip(np.searchsorted(gear.time, np.linspace(start, end, 41), "right") - 1, 0, None)]
    values, counts = np.unique(np.round(told), return_counts=True)
    usual = int(np.argmax(counts))
    return int(values[usual]) if counts[usual] >= 0.8 * told.size and values[usual] > 0 else None


def ratio_at(drive: Drive, time: Array, speed: Array, delay: float = 0.0) -> Array:
    """Engine speed over road speed at samples of engine speed, (n,); NaN where the car hardly moves. [rpm/(km/h)]

    `delay` is how far road speed lags behind engine speed, as a satellite receiver's does. [s]
    """
    if drive.road is None:
        return np.full(time.shape, np.nan)
    road = value_at(drive.road, time + delay, drive.holes)
    ratio = np.full(time.shape, np.nan)
    np.divide(speed, road, out=ratio, where=road > 1.0)
    return ratio


def slip(drive: Drive, time: Array, speed: Array) -> Slip | None:
    """Compare engine and road speed over a run; None without enough road speed to tell."""
    if drive.road is None or time.size < 4:
        return None
    levels = [np.log(ratio_at(drive, time, speed, delay)) for delay in _DELAYS]
    known = np.all(np.isfinite(levels), axis=0)
    if np.count_nonzero(known) < 4:
        return None
    # The delay at which the two keep step best; the median does not mind a third of the run being out of step.
    begin, end = time[known][[0, -1]]
    late = known & (time >= begin + 0.3 * (end - begin))
    spread = [np.median(np.abs(level[late] - np.median(level[late]))) for level in levels]
    level = levels[int(np.argmin(spread))][known]
    time, late = time[known], late[known]
    usual = float(np.median(level[late]))
    road = np.maximum(value_at(drive.road, time, drive.holes), 1.0)
    allowed = _OUT_OF_STEP + 0.6 * _grain(drive.road) / road
    out = np.abs(level - usual) > allowed
    first, in_step_from = 0, None
    if road[0] < _DRIVING:  # setting off: clutch or converter are still slipping
        first = time.size - 1 if out.all() else int(np.argmin(out))
        in_step_from = float(time[first])
    worst, at = _lasting(time[first:], level[first:] - usual, out[first:])
    return Slip(float(np.exp(usual)), in_step_from, worst, at)


def _grain(road: Trace) -> float:
    """Smallest step in which a road speed channel moves [km/h]."""
    steps = np.abs(np.diff(road.values[:5000]))
    steps = steps[steps > 1e-6]
    return float(np.percentile(steps, 5)) if steps.size else 1.0


def _lasting(time: Array, departure: Array, out: NDArray[np.bool_]) -> tuple[float, float]:
    """Largest departure among the stretches that last, and when; (0, 0) where none does."""
    edges = np.diff(np.concatenate(([0], out.astype(np.int64), [0])))
    worst, at = 0.0, 0.0
    for first, last in zip(np.flatnonzero(edges > 0), np.flatnonzero(edges < 0) - 1, strict=True):
        if last > first and time[last] - time[first] >= _SLIP_S:
            peak = first + int(np.argmax(np.abs(departure[first : last + 1])))
            if abs(departure[peak]) > abs(worst):
                worst, at = float(departure[peak]), float(time[peak])
    return worst, at
