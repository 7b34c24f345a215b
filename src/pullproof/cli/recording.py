"""From log files to recorded pulls, for the commands that look at one set of them."""

from collections.abc import Sequence
from dataclasses import dataclass

from pullproof.car import Car
from pullproof.computed_channels import PullRecord, record_pull
from pullproof.conditions import ConditionsSheet
from pullproof.errors import CannotAnswer
from pullproof.pulls import find_pulls
from pullproof.reading import read_log

__all__ = ["Recorded", "record_logs"]


@dataclass(frozen=True, slots=True)
class Recorded:
    """The pulls that can be used, and a sentence on each of the others."""

    records: tuple[PullRecord, ...]
    refused: tuple[str, ...]


def record_logs(paths: Sequence[str], car: Car, sheet: ConditionsSheet) -> Recorded:
    """Read logs and gather their pulls.

    Raises
    ------
    CannotAnswer
        No pull can be used.
    CannotRead
        A file is not there or not a log.
    """
    records: list[PullRecord] = []
    refused: list[str] = []
    for path in paths:
        log = read_log(path, car)
        for pull in find_pulls(log, car):
            if pull.used:
                records.append(record_pull(log, pull, car, sheet.of(log.file)))
            else:
                refused.append(f"{pull.log} from {pull.start_s:.1f} s to {pull.end_s:.1f} s: {pull.reason}")
    if not records:
        reason = f": {refused[0]}" if refused else ""
        raise CannotAnswer(
            f"no pull that can be used in {', '.join(paths)}{reason}",
            advice="`pullproof pulls` shows what was found, and why it is not used.",
        )
    return Recorded(tuple(records), tuple(refused))
