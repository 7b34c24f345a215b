"""From a season to pulls that can be put beside each other: one gear, one window, days in order, builds as columns."""

import datetime
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.comparison.covariates import Covariates, gather_covariates
from pullproof.analysis.comparison.window import (
    NARROWEST_RPM,
    SHARE_OF_REDLINE,
    TOLERANCE_RPM,
    WORTH_KEEPING,
    check_window,
    covers,
    not_covering,
)
from pullproof.analysis.history.season import Season, SeasonChange, SeasonDay, SeasonPull
from pullproof.arrays import Array
from pullproof.car import Car
from pullproof.errors import CannotAnswer
from pullproof.measures import Window
from pullproof.pulls import Pull

__all__ = ["SeasonPulls", "gather_season"]

ONE_GEAR = 0.06
"""Two pulls are in one gear when engine speed over road speed is this near. [logarithm]"""

EARLIEST = datetime.datetime.min  # noqa: DTZ901  the clock on the wall, as everywhere
"""Stands where nobody wrote down when."""


@dataclass(frozen=True, slots=True)
class SeasonPulls:
    """The n pulls of a season that can be put beside each other, in the order in which they were driven."""

    car: Car
    changes: tuple[SeasonChange, ...]
    days: tuple[SeasonDay, ...]
    """Those that have such a pull, in their order."""
    pulls: tuple[SeasonPull, ...]
    day: NDArray[np.intp]
    """Index into `days` of each pull, (n,)."""
    fitted: NDArray[np.bool_]
    """Which change was on the car in which pull, (n, changes)."""
    covariates: Covariates
    window: Window
    refused: tuple[Pull, ...]
    doubts: tuple[str, ...]

    @property
    def elapsed(self) -> Array | None:
        """Days since the first test day, of each pull, (n,); None where a day has no date."""
        moments = [day.when for day in self.days]
        known = [moment for moment in moments if moment is not None]
        if len(known) < len(moments):
            return None
        since = np.array([(moment - known[0]).total_seconds() / 86400.0 for moment in known])
        return np.asarray(since[self.day], dtype=float)

    @property
    def driven(self) -> Array | None:
        """Odometer at each pull, (n,) [km]; None where a day has none."""
        readings = [day.odometer_km for day in self.days]
        known = [reading for reading in readings if reading is not None]
        if len(known) < len(readings):
            return None
        return np.asarray(np.array(known)[self.day], dtype=float)


def gather_season(season: Season, window: Window | None) -> SeasonPulls:
    """Set aside what cannot be put beside the rest, and say why.

    Raises
    ------
    CannotAnswer
        There is no pull, or none that shares gear and window with another build.
    WrongUse
        The window makes no sense.
    """
    if not season.pulls:
        raise CannotAnswer("the season has no pull that can be used", advice="Add test days with full-load pulls.")
    one_gear, other_gears, doubts = _one_gear(season.pulls)
    chosen, more = _window(one_gear, season.car, window)
    covering = [pull for pull in one_gear if covers(pull.record.pull, chosen)]
    if not covering:
        spans = ", ".join(_span(pull.record.pull) for pull in one_gear)
        raise CannotAnswer(
            f"no pull of the season covers {chosen[0]:.0f} to {chosen[1]:.0f} rpm (they cover {spans} rpm)",
            advice="Choose a window that the pulls cover.",
        )
    short = not_covering([pull.record for pull in one_gear], chosen)
    days = _in_order(season.days, covering)
    place = {day.label: number for number, day in enumerate(days)}
    pulls = tuple(sorted(covering, key=lambda pull: (place[pull.record.day], *_moment(pull))))
    return SeasonPulls(
        car=season.car,
        changes=_changes_in_order(season.changes),
        days=days,
        pulls=pulls,
        day=np.array([place[pull.record.day] for pull in pulls], dtype=np.intp),
        fitted=np.array(
            [[change.name in pull.build for change in _changes_in_order(season.changes)] for pull in pulls], dtype=bool
        ).reshape(len(pulls), len(season.changes)),
        covariates=gather_covariates([pull.record for pull in pulls], season.car, chosen, _moments(pulls)),
        window=chosen,
        refused=(*season.refused, *other_gears, *short),
        doubts=(*season.doubts, *doubts, *more),
    )


def _moment(pull: SeasonPull) -> tuple[datetime.datetime, str, float]:
    """Order within a day; where nobody wrote down when a log was started, by its name."""
    return pull.when or EARLIEST, pull.record.log.file, pull.record.pull.start_s


def _moments(pulls: Sequence[SeasonPull]) -> dict[str, datetime.datetime]:
    return {pull.record.log.file: pull.when for pull in pulls if pull.when is not None}


def _in_order(days: Sequence[SeasonDay], pulls: Sequence[SeasonPull]) -> tuple[SeasonDay, ...]:
    """Test days that have a pull, by date; as they were given where a day has none."""
    used = {pull.record.day for pull in pulls}
    kept = [day for day in days if day.label in used]
    if all(day.when is not None for day in kept):
        kept.sort(key=lambda day: day.when or EARLIEST)
    return tuple(kept)


def _changes_in_order(changes: Sequence[SeasonChange]) -> tuple[SeasonChange, ...]:
    return tuple(sorted(changes, key=lambda change: change.fitted or EARLIEST))


def _one_gear(pulls: Sequence[SeasonPull]) -> tuple[list[SeasonPull], list[Pull], list[str]]:
    """The pulls of the gear that most were driven in; of the others the reason."""
    gears = Counter(pull.record.pull.gear for pull in pulls if pull.record.pull.gear is not None)
    usual = gears.most_common(1)[0][0] if gears else None
    ratios = [
        ratio
        for pull in pulls
        if pull.record.pull.gear == usual and (ratio := pull.record.pull.rpm_per_kmh) is not None
    ]
    ratio = float(np.median(ratios)) if ratios else None
    kept, refused, unknown = [], [], 0
    for pull in pulls:
        given = pull.record.pull
        if given.gear is not None and given.gear != usual:
            refused.append(_refused(given, f"in gear {given.gear}, while most pulls of the season are in gear {usual}"))
        elif given.gear is None and ratio and given.rpm_per_kmh and abs(np.log(given.rpm_per_kmh / ratio)) > ONE_GEAR:
            refused.append(_refused(given, "in another gear than most pulls of the season, by engine and road speed"))
        else:
            kept.append(pull)
            unknown += given.gear is None and (ratio is None or given.rpm_per_kmh is None)
    doubts = (
        [f"the gear of {unknown} of {len(pulls)} pulls is not known: they count as in the usual one"] if unknown else []
    )
    return kept, refused, doubts


def _refused(pull: Pull, reason: str) -> Pull:
    return replace(pull, used=False, reason=reason)


def _window(pulls: Sequence[SeasonPull], car: Car, window: Window | None) -> tuple[Window, list[str]]:
    doubts: list[str] = []
    if window is None:
        window, doubts = _default(pulls, car)
    check_window(window)
    low, high = window
    return (float(low), float(high)), doubts


def _default(pulls: Sequence[SeasonPull], car: Car) -> tuple[Window, list[str]]:
    """From 60 % of the redline to the lowest end of all pulls, as for a comparison, builds in place of sides.

    A pull that was begun late or broken off early is set aside unless its build has no other on that day.
    """
    doubts = []
    redline = car.engine.redline_rpm
    if redline is None:
        redline = max(pull.record.pull.rpm_end for pull in pulls)
        doubts.append(f"the car sheet has no redline: {redline:.0f} rpm, the highest end of a pull, is taken for it")
    cells: dict[tuple[str, frozenset[str]], list[Pull]] = {}
    for pull in pulls:
        cells.setdefault((pull.record.day, pull.build), []).append(pull.record.pull)
    low = SHARE_OF_REDLINE * redline
    earliest = max(min(pull.rpm_start for pull in cell) for cell in cells.values())
    if low + TOLERANCE_RPM < earliest < low + WORTH_KEEPING * redline:
        doubts.append(
            f"the window begins at {earliest:.0f} rpm, where the earliest pull of one test day starts, "
            f"not at {low:.0f} rpm, 60 % of the redline"
        )
        low = earliest
    enough = low + WORTH_KEEPING * redline
    ends = [sorted(pull.rpm_end for pull in cell if pull.rpm_start <= low + TOLERANCE_RPM) for cell in cells.values()]
    reached = [next((end for end in cell if end >= enough), None) for cell in ends]
    high = min((end for end in reached if end is not None), default=enough)
    if high - low < NARROWEST_RPM:
        raise CannotAnswer(
            f"the pulls share no range of engine speed: from {low:.0f} to {high:.0f} rpm",
            advice="Record pulls that go on to the redline, or name a window with --window.",
        )
    return (low, high), doubts


def _span(pull: Pull) -> str:
    return f"{pull.rpm_start:.0f} to {pull.rpm_end:.0f}"
