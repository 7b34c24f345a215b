"""The air system of the pulls that a comparison used; slower than the comparison, so a part of its own."""

from collections.abc import Sequence

from pullproof.analysis.air_system import AirComparison, compare_air
from pullproof.analysis.comparison.result import Comparison
from pullproof.computed_channels import PullRecord
from pullproof.library import Library, catalogue
from pullproof.library.catalogue import Selection
from pullproof.library.readings import conditions_of, records_of
from pullproof.library.schema import CarRow
from pullproof.pulls import Pull
from pullproof.web.remembered import remembered

__all__ = ["air_of"]


def air_of(library: Library, car: CarRow, comparison: Comparison, before: Selection, after: Selection) -> AirComparison:
    """What the air system did before and after, in the window and at the level of the comparison."""

    def make() -> AirComparison:
        early = _used(records_of(library, car.id, before).records, comparison.before)
        late = _used(records_of(library, car.id, after).records, comparison.after)
        said = conditions_of(library, car.id).logs
        moments = {file: entry.when for file, entry in said.items() if entry.when is not None}
        return compare_air(comparison, early, late, catalogue.car_of(car), moments=moments)

    return remembered(library, car, ("air", before, after, comparison.window_rpm, comparison.level), make)


def _used(records: Sequence[PullRecord], pulls: Sequence[Pull]) -> tuple[PullRecord, ...]:
    counted = {(pull.log, pull.start_s) for pull in pulls if pull.used}
    return tuple(record for record in records if (record.pull.log, record.pull.start_s) in counted)
