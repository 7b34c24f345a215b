"""Find full-load runs through the revs, judge each, and give the reason."""

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
