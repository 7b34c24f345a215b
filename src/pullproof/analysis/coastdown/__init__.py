"""Rolling resistance and drag area from coast-downs.

In reading order: `runs` finds where the car slows down by itself; `fit` takes the two coefficients from the speeds;
`checks` holds the conditions against the standards; `evaluate` puts the answer together; `sheet` writes it down.
"""

from pullproof.analysis.coastdown.evaluate import coast_down
from pullproof.analysis.coastdown.result import CoastDown, ConditionCheck, Estimate
from pullproof.analysis.coastdown.runs import Run, find_runs
from pullproof.analysis.coastdown.sheet import write_into_car_sheet

__all__ = ["CoastDown", "ConditionCheck", "Estimate", "Run", "coast_down", "find_runs", "write_into_car_sheet"]
