"""Tell outings of one date apart where nobody wrote down what the air did between them.

A date counts as one test day: what differs between its pulls is taken for run-to-run scatter. From a cold morning to
a hot afternoon that is not so, and a model which believes it draws certain conclusions from the difference of the
two. Where temperature and pressure are known the difference is taken out; where they are not, the two outings can
only be counted as two days.
"""

import datetime
from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import pairwise
from types import MappingProxyType

from pullproof.computed_channels import PullRecord
from pullproof.conditions import ConditionsSheet

__all__ = ["part_outings"]

APART = datetime.timedelta(hours=2)
"""Between logs; the air can change by several kelvins in that time. Common practice, no source."""


def part_outings(records: Sequence[PullRecord], sheet: ConditionsSheet) -> tuple[PullRecord, ...]:
    """The same pulls, with a day label of its own for each outing that nothing ties to the others of its date.

    A label that the user gave is kept. So is the date where the air is known of all its logs.
    """
    labels = _labels(records, sheet)
    return tuple(
        replace(
            record,
            day=labels[record.log.file],
            doubts=MappingProxyType({**record.doubts, "outing": labels[record.log.file]}),
        )
        if record.log.file in labels
        else record
        for record in records
    )


def _labels(records: Sequence[PullRecord], sheet: ConditionsSheet) -> dict[str, str]:
    """New label by file, for the dates that fall apart."""
    starts: dict[str, dict[str, datetime.datetime]] = {}
    air_known: dict[str, bool] = {}
    for record in records:
        said = sheet.of(record.log.file)
        if said.day is None and said.when is not None:
            starts.setdefault(record.day, {})[record.log.file] = said.when
            known = record.air.temperature_c is not None and record.air.pressure_kpa is not None
            air_known[record.day] = air_known.get(record.day, True) and known
    labels: dict[str, str] = {}
    for day, files in starts.items():
        if not air_known[day]:
            labels.update(_parted(day, files))
    return labels


def _parted(day: str, files: Mapping[str, datetime.datetime]) -> dict[str, str]:
    in_order = sorted(files.items(), key=lambda entry: entry[1])
    outing = in_order[0][1]
    labels = {in_order[0][0]: outing}
    for (_, earlier), (file, later) in pairwise(in_order):
        outing = later if later - earlier > APART else outing
        labels[file] = outing
    if len(set(labels.values())) == 1:
        return {}
    return {file: f"{day} {start:%H:%M}" for file, start in labels.items()}
