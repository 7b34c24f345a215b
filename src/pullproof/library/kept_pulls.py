"""Pulls as the catalogue keeps them, and the user's word on them."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from sqlalchemy import select
from sqlalchemy.orm import Session

from pullproof.library.schema import OverrulingRow, PullRow
from pullproof.pulls import Pull

__all__ = ["pull_rows", "pulls_by_log", "used_pulls"]

_SAME_PULL = 0.5
"""Share of the span of both together that an overruling and a pull have in common when they mean the same."""


def pull_rows(log_id: int, pulls: Iterable[Pull]) -> list[PullRow]:
    """Pulls as rows of the catalogue."""
    return [
        PullRow(
            log_id=log_id,
            start_s=pull.start_s,
            end_s=pull.end_s,
            gear=pull.gear,
            rpm_start=pull.rpm_start,
            rpm_end=pull.rpm_end,
            used=pull.used,
            reason=pull.reason,
            assumptions=list(pull.assumptions),
            rpm_per_kmh=pull.rpm_per_kmh,
        )
        for pull in pulls
    ]


def used_pulls(session: Session, log_ids: Sequence[int]) -> dict[int, tuple[int, int]]:
    """Log to its pulls as they were last found, and how many of them are used, the user's word applied."""
    found = pulls_by_log(session, dict.fromkeys(log_ids, ""))
    return {log_id: (len(pulls), sum(pull.used for pull in pulls)) for log_id, pulls in found.items()}


def pulls_by_log(session: Session, names: Mapping[int, str]) -> dict[int, tuple[Pull, ...]]:
    """Pulls by log, the user's word applied. `names` says what each log is called."""
    found: dict[int, list[Pull]] = {log_id: [] for log_id in names}
    said: dict[int, list[OverrulingRow]] = {log_id: [] for log_id in names}
    of_these = select(PullRow).where(PullRow.log_id.in_(names)).order_by(PullRow.log_id, PullRow.start_s)
    for row in session.scalars(of_these):
        found[row.log_id].append(
            Pull(
                log=names[row.log_id],
                start_s=row.start_s,
                end_s=row.end_s,
                gear=row.gear,
                rpm_start=row.rpm_start,
                rpm_end=row.rpm_end,
                used=row.used,
                reason=row.reason,
                assumptions=tuple(row.assumptions),
                rpm_per_kmh=row.rpm_per_kmh,
            )
        )
    words = select(OverrulingRow).where(OverrulingRow.log_id.in_(names), OverrulingRow.deleted_at.is_(None))
    for word in session.scalars(words.order_by(OverrulingRow.id)):
        said[word.log_id].append(word)
    return {log_id: tuple(_overruled(pull, said[log_id]) for pull in pulls) for log_id, pulls in found.items()}


def _overruled(pull: Pull, said: Sequence[OverrulingRow]) -> Pull:
    """The pull as the user wants it; the last word counts."""
    for word in said:
        common = min(pull.end_s, word.end_s) - max(pull.start_s, word.start_s)
        both = max(pull.end_s, word.end_s) - min(pull.start_s, word.start_s)
        if common < _SAME_PULL * both:
            continue
        if word.use:
            by_hand = f"used although it was refused ({pull.reason}): {word.reason}" if pull.reason else ""
            pull = replace(
                pull, used=True, reason=None, assumptions=(*pull.assumptions, *([by_hand] if by_hand else []))
            )
        else:
            pull = replace(pull, used=False, reason=f"set aside by hand: {word.reason}")
    return pull
