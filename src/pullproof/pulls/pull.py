"""One pull: where it lies in its log, and whether it may be used."""

from dataclasses import dataclass

__all__ = ["Pull"]


@dataclass(frozen=True, slots=True)
class Pull:
    """A full-load run through the revs in one gear, used or refused.

    `start_s` is when full load is reached, `end_s` when it ends, in the log's own clock from its first sample.
    """

    log: str
    start_s: float
    end_s: float
    gear: int | None
    rpm_start: float
    rpm_end: float
    used: bool
    reason: str | None = None
    """Why it is not used; None where it is."""
    assumptions: tuple[str, ...] = ()
    """What had to be taken for granted, because the log lacks the channel that would show it."""
    rpm_per_kmh: float | None = None
    """Engine speed over road speed in the pull [rpm/(km/h)]; tells gears apart even where their number is unknown."""
