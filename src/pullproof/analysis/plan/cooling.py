"""How long earlier pulls took to cool down: until charge temperature was back where the pull began."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from pullproof.analysis.comparison.covariates import CHARGE_TEMPERATURES, value_at_start
from pullproof.computed_channels import PullRecord
from pullproof.timebase import cut, new_samples

__all__ = ["Cooling", "cooling_of"]


@dataclass(frozen=True, slots=True)
class Cooling:
    """Seconds that some pulls took, and how many had not cooled down when the next pull began or the log ended."""

    seconds: tuple[float, ...]
    not_back: int


def cooling_of(records: Sequence[PullRecord], within: float) -> Cooling:
    """Time from the end of each pull until charge temperature is back, and stays so until the next pull.

    Parameters
    ----------
    records : sequence of PullRecord
        Pulls with a charge temperature count; the others are passed over.
    within : float
        How near to where the pull began counts as back. [K]
    """
    seconds, not_back = [], 0
    for record in records:
        channel = next((name for name in CHARGE_TEMPERATURES if name in record.traces), None)
        began = None if channel is None else value_at_start(record, channel)
        if channel is None or began is None:
            continue
        later = [other.pull.start_s for other in records if other.log is record.log]
        until = min((start for start in later if start > record.pull.end_s), default=record.log.duration_s)
        rest = cut(new_samples(record.log.traces[channel]), record.pull.end_s, until)
        hot = np.flatnonzero(rest.values > began + within)
        if not rest.time.size or (hot.size and hot[-1] == rest.time.size - 1):
            not_back += 1
        else:
            seconds.append(float(rest.time[hot[-1] + 1] - record.pull.end_s) if hot.size else 0.0)
    return Cooling(tuple(seconds), not_back)
