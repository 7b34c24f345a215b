"""A pull with everything around it, and the channels that follow from physics and the sheets."""

from collections.abc import Mapping
from dataclasses import dataclass

from pullproof.channels import Trace
from pullproof.conditions import Air
from pullproof.pulls import Pull
from pullproof.reading.log import Log

__all__ = ["PullRecord"]


@dataclass(frozen=True, slots=True)
class PullRecord:
    """One pull, ready to be read: new samples only, canonical units, computed channels included.

    `traces` start some seconds before the pull and end some after, so that lag and smoothing have no edge there.
    `left_out` names channels that could not be computed, with the reason.
    """

    pull: Pull
    log: Log
    day: str
    air: Air
    direction: str | None
    traces: Mapping[str, Trace]
    left_out: Mapping[str, str]
