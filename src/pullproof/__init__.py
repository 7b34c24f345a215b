"""Says whether a part changed a turbocharged car, by how much, and how sure that is.

    car = pullproof.load_car("car.toml")
    comparison = pullproof.compare(["before.csv"], ["after.csv"], car=car)
    print(comparison.sentence)

This is the public face: names from below, gathered in one place. Each is imported when it is first used, so that
the command line answers `--help` without loading numerical libraries.
"""

import importlib
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from pullproof.analysis.comparison import compare, compare_records
    from pullproof.analysis.comparison.result import Comparison
    from pullproof.car import Car, load_car
    from pullproof.channels import CHANNELS, Trace
    from pullproof.computed_channels import PullRecord, record_pull
    from pullproof.conditions import ConditionsSheet, load_conditions
    from pullproof.errors import CannotAnswer, CannotRead, PullproofError, WrongUse
    from pullproof.measures import MEASURES, read_measure
    from pullproof.pulls import Pull, find_pulls
    from pullproof.reading import Log, read_log
    from pullproof.report.figures import plot

__all__ = [
    "CHANNELS",
    "MEASURES",
    "CannotAnswer",
    "CannotRead",
    "Car",
    "Comparison",
    "ConditionsSheet",
    "Log",
    "Pull",
    "PullRecord",
    "PullproofError",
    "Trace",
    "WrongUse",
    "compare",
    "compare_records",
    "find_pulls",
    "load_car",
    "load_conditions",
    "plot",
    "read_log",
    "read_measure",
    "record_pull",
]

_HOME = {
    "CHANNELS": "channels",
    "MEASURES": "measures",
    "CannotAnswer": "errors",
    "CannotRead": "errors",
    "Car": "car",
    "Comparison": "analysis.comparison.result",
    "ConditionsSheet": "conditions",
    "Log": "reading",
    "Pull": "pulls",
    "PullRecord": "computed_channels",
    "PullproofError": "errors",
    "Trace": "channels",
    "WrongUse": "errors",
    "compare": "analysis.comparison",
    "compare_records": "analysis.comparison",
    "find_pulls": "pulls",
    "load_car": "car",
    "load_conditions": "conditions",
    "plot": "report.figures",
    "read_log": "reading",
    "read_measure": "measures",
    "record_pull": "computed_channels",
}


def __getattr__(name: str) -> object:
    if name not in _HOME:
        raise AttributeError(f"module {__name__!r} has no attribute {name!r}")
    value = getattr(importlib.import_module(f"{__name__}.{_HOME[name]}"), name)
    globals()[name] = value
    return value


def __dir__() -> list[str]:
    return __all__
