"""Every log counts once: a pull that is counted twice makes an interval that nobody has earned."""

from collections.abc import Sequence
from itertools import combinations

import numpy as np

from pullproof.errors import WrongUse
from pullproof.reading.log import Log

__all__ = ["each_once"]


def each_once(before: Sequence[Log], after: Sequence[Log]) -> None:
    """Refuse a log that is given twice, by whatever names, and two logs that share one name.

    Conditions, pulls and days go by base name, so two recordings of one name could not be told apart.

    Raises
    ------
    WrongUse
        With the names, and what to do.
    """
    sided = [*((log, "before") for log in before), *((log, "after") for log in after)]
    for (one, side), (other, other_side) in combinations(sided, 2):
        both_sides = side != other_side
        if one is other or _same_recording(one, other):
            named = "" if one.file == other.file else f" (it is also called {other.file})"
            raise WrongUse(
                f"the same log stands {'before and after the change' if both_sides else 'twice on one side'}{named}",
                where=one.file,
                advice="Give each log to one side only." if both_sides else "Name it once: a copy is no second run.",
            )
        if one.file == other.file:
            raise WrongUse(
                "two different logs have this name, and conditions and pulls go by the name without its folder",
                where=one.file,
                advice="Rename one of them.",
            )


def _same_recording(one: Log, other: Log) -> bool:
    """Every sample of every channel alike: no two real runs are."""
    if one.rows != other.rows or one.traces.keys() != other.traces.keys() or not one.traces:
        return False
    return all(
        np.array_equal(trace.time, other.traces[name].time)
        and np.array_equal(trace.values, other.traces[name].values, equal_nan=True)
        for name, trace in one.traces.items()
    )
