"""Ask the package: three levels of one comparison, as plain rows. The only place that calls the analysis.

`ask` takes the function to call, so that the tests can put a stand-in there.
"""

import importlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any

from pullproof.car import Car
from pullproof.conditions import ConditionsSheet
from pullproof.errors import PullproofError
from pullproof.reading.log import Log

__all__ = ["LEVELS", "Answer", "Asked", "Compare", "ask", "package_compare", "scaled_scatter_priors"]

LEVELS = (0.95, 0.8, 0.5)
Compare = Callable[..., Any]
"""Takes what `pullproof.compare` takes and returns a `Comparison`, or something that has its fields."""


@dataclass(frozen=True, slots=True)
class Answer:
    """What the package said of one measure: the intervals by level, and what stands beside them."""

    measure: str
    difference: float
    raw_difference: float
    intervals: dict[float, tuple[float, float]]
    verdict: str
    smallest: float
    censored: bool
    run_to_run: float
    day_to_day: float
    adjusted_for: tuple[tuple[str, float], ...]
    is_main: bool


@dataclass(frozen=True, slots=True)
class Asked:
    """A comparison's answers; `refusal` is the sentence where it was refused."""

    answers: tuple[Answer, ...]
    window: tuple[float, float]
    warned: tuple[str, ...]
    """Fairness checks that did not pass and were not accounted for."""
    pulls_used: int
    refusal: str | None = None


def package_compare() -> Compare:
    """The package's `compare`."""
    module = importlib.import_module("pullproof")
    compare: Compare = module.compare
    return compare


def ask(
    compare: Compare,
    before: Sequence[Log],
    after: Sequence[Log],
    car: Car,
    conditions: ConditionsSheet,
) -> Asked:
    """All three levels; a refusal that the package states in a sentence is an answer too."""
    try:
        found = {
            level: compare(before, after, car=car, conditions=conditions, window=None, level=level, main=None)
            for level in LEVELS
        }
    except PullproofError as error:
        return Asked((), (0.0, 0.0), (), 0, str(error))
    except Exception as error:  # noqa: BLE001  # a crash is a finding to report, not a reason to stop the run
        return Asked((), (0.0, 0.0), (), 0, f"CRASH {type(error).__name__}: {error}")
    first = found[LEVELS[0]]
    others = {level: {row.id: row.interval for row in result.measures} for level, result in found.items()}
    answers = tuple(
        Answer(
            row.id,
            row.difference,
            row.raw_difference,
            {level: others[level][row.id] for level in LEVELS},
            row.verdict,
            row.smallest_worth_having,
            row.censored,
            row.run_to_run,
            row.day_to_day,
            row.adjusted_for,
            row.id == first.main,
        )
        for row in first.measures
    )
    warned = tuple(check.id for check in first.checks if check.status != "pass" and not check.accounted_for)
    used = sum(pull.used for pull in (*first.before, *first.after))
    return Asked(answers, first.window_rpm, warned, used)


@contextmanager
def scaled_scatter_priors(factor: float) -> Iterator[None]:
    """Within this context the package expects `factor` times the scatter that it ships with."""
    module: Any = importlib.import_module("pullproof.analysis.comparison.priors")
    original = module.load_priors
    try:
        module.load_priors = lambda *arguments, **words: _scaled(original(*arguments, **words), factor)
        yield
    finally:
        module.load_priors = original


def _scaled(priors: Any, factor: float) -> Any:  # noqa: ANN401  # the package's own type, not ours to name
    raise NotImplementedError((priors, factor))
