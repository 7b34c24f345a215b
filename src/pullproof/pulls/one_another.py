"""What the pulls of one log say about one another."""

import dataclasses
from itertools import islice

import numpy as np

from pullproof.pulls.drive import Drive
from pullproof.pulls.pull import Pull

__all__ = ["without_impossible_gears", "without_part_load"]

# Two pulls are in one gear when engine speed over road speed is this near (logarithm).
_ONE_GEAR = 0.06
# Slower than this share of the fastest in its gear: more than hill, wind and weather make.
_FULL_SHARE = 0.75
_ENOUGH_RIVALS = 8
# Faster than in a lower gear by this factor: no engine does that.
_IMPOSSIBLE = 1.2


def without_part_load(drive: Drive, pulls: list[Pull]) -> list[Pull]:
    """Refuse what rises far slower than another run in the same gear.

    Only for logs where nothing shows full load: there a brisk part-load run looks like a pull of a weaker engine.
    """
    brisk = sorted((pull for pull in pulls if pull.used), key=_rate, reverse=True)
    return [
        dataclasses.replace(
            pull,
            used=False,
            reason="engine speed rises far slower than in another run in this gear: not at full load",
        )
        if pull.used and any(_much_slower(drive, pull, other) for other in _rivals(pull, brisk))
        else pull
        for pull in pulls
    ]


def _rate(pull: Pull) -> float:
    return (pull.rpm_end - pull.rpm_start) / (pull.end_s - pull.start_s)


def _rivals(pull: Pull, brisk: list[Pull]) -> list[Pull]:
    """The fastest few runs in the same gear; the briskest come first."""
    ratio = pull.rpm_per_kmh
    if ratio is None:
        return []
    same = (
        other for other in brisk if other.rpm_per_kmh is not None and abs(np.log(ratio / other.rpm_per_kmh)) < _ONE_GEAR
    )
    return list(islice(same, _ENOUGH_RIVALS))


def _much_slower(drive: Drive, pull: Pull, other: Pull) -> bool:
    low, high = max(pull.rpm_start, other.rpm_start), min(pull.rpm_end, other.rpm_end)
    if high < 1.2 * low:
        return False
    return _time_through(drive, other, low, high) < _FULL_SHARE * _time_through(drive, pull, low, high)


def _time_through(drive: Drive, pull: Pull, low: float, high: float) -> float:
    time, speed = drive.engine_between(pull.start_s, pull.end_s)
    first, last = np.interp([low, high], np.maximum.accumulate(speed), time)
    return float(last - first)


def without_impossible_gears(pulls: list[Pull]) -> list[Pull]:
    """Take no gear from a log's gear channel in which the engine would rev up faster than in a lower one."""
    told = [pull for pull in pulls if pull.gear is not None and pull.rpm_per_kmh is None]
    fastest: dict[int, float] = {}
    for pull in told:
        fastest[pull.gear or 0] = max(_rate(pull), fastest.get(pull.gear or 0, 0.0))
    wrong = {
        id(pull): lower
        for pull in told
        for lower, rate in sorted(fastest.items())
        if lower < (pull.gear or 0) and _rate(pull) > _IMPOSSIBLE * rate
    }
    return [_without_gear(pull, wrong[id(pull)]) if id(pull) in wrong else pull for pull in pulls]


def _without_gear(pull: Pull, lower: int) -> Pull:
    why = f"the log calls it gear {pull.gear}, but engine speed rises faster than in gear {lower}: gear not believed"
    return dataclasses.replace(pull, gear=None, assumptions=(*pull.assumptions, why))
