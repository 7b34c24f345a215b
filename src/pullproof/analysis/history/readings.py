"""One measure of every pull of a season."""

from pullproof.analysis.comparison.readings import Readings, read_pulls
from pullproof.analysis.comparison.result import LeftOut
from pullproof.analysis.history.gathering import SeasonPulls

__all__ = ["read_season"]


def read_season(measure: str, pulls: SeasonPulls) -> Readings | LeftOut:
    """Read a measure from every pull, or say why it cannot be had from enough of them."""
    found = read_pulls(measure, [pull.record for pull in pulls.pulls], pulls.window)
    if not found.rows.size:
        return LeftOut(measure, "; ".join(dict.fromkeys(found.refusals)))
    if found.censored.all():
        return LeftOut(measure, "it sat at its stop in every pull, where it cannot move")
    if len({pulls.pulls[row].build for row in found.rows}) < 2:
        why = f": {found.refusals[0]}" if found.refusals else ""
        return LeftOut(measure, f"it was read with one build only{why}")
    return found
