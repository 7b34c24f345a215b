"""Ask the package: three levels of one comparison, as plain rows. The only place that calls the analysis.

`ask` takes an asker, so that the tests can put a stand-in there.
"""

import importlib
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pullproof.car import Car
from pullproof.conditions import ConditionsSheet
from pullproof.errors import PullproofError
from pullproof.reading.log import Log

__all__ = ["LEVELS", "Answer", "Asked", "Asker", "ask", "package", "scaled_scatter_priors", "three_calls"]

LEVELS = (0.95, 0.8, 0.5)
Intervals = dict[float, dict[str, tuple[float, float]]]
Asker = Callable[..., "tuple[Any, Intervals]"]
"""Takes before, after, car and conditions; gives the 95 % comparison, and intervals by level and measure."""


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
    bands: tuple[tuple[str, bool], ...]
    """Each curve's channel, and whether its band holds zero at every engine speed."""
    window: tuple[float, float]
    warned: tuple[str, ...]
    """Fairness checks that did not pass and were not accounted for."""
    pulls_used: int
    refusal: str | None = None


def three_calls(compare: Callable[..., Any]) -> Asker:
    """Ask a function that takes what `pullproof.compare` takes, once a level."""

    def asker(
        before: Sequence[Log | Path], after: Sequence[Log | Path], car: Car, conditions: ConditionsSheet
    ) -> tuple[Any, Intervals]:
        found = {
            level: compare(before, after, car=car, conditions=conditions, window=None, level=level, main=None)
            for level in LEVELS
        }
        return found[LEVELS[0]], {level: _intervals(result.measures) for level, result in found.items()}

    return asker


def package() -> Asker:
    """The package's own `compare` at 95 %; the other levels are read off inside the same call, to save time."""
    public = importlib.import_module("pullproof")
    comparing = importlib.import_module("pullproof.analysis.comparison.comparing")
    differences = importlib.import_module("pullproof.analysis.comparison.differences")
    plain_read, plain_difference = differences.read_pulls, comparing.measure_difference

    def asker(
        before: Sequence[Log | Path], after: Sequence[Log | Path], car: Car, conditions: ConditionsSheet
    ) -> tuple[Any, Intervals]:
        kept: dict[str, Any] = {}
        others: Intervals = {level: {} for level in LEVELS}

        def read_once(measure: str, *pulls: Any) -> Any:  # noqa: ANN401  # the package's own types
            if measure not in kept:
                kept[measure] = plain_read(measure, *pulls)
            return kept[measure]

        def every_level(measure: str, pulls: Any, level: float) -> Any:  # noqa: ANN401
            for other in LEVELS[1:]:
                found = plain_difference(measure, pulls, other)
                if hasattr(found, "interval"):
                    others[other][measure] = found.interval
            return plain_difference(measure, pulls, level)

        differences.read_pulls, comparing.measure_difference = read_once, every_level
        try:
            result = public.compare(before, after, car=car, conditions=conditions, level=LEVELS[0])
        finally:
            differences.read_pulls, comparing.measure_difference = plain_read, plain_difference
        others[LEVELS[0]] = _intervals(result.measures)
        return result, others

    return asker


def _intervals(measures: Sequence[Any]) -> dict[str, tuple[float, float]]:
    return {row.id: row.interval for row in measures}


def ask(
    asker: Asker, before: Sequence[Log | Path], after: Sequence[Log | Path], car: Car, conditions: ConditionsSheet
) -> Asked:
    """All three levels; a refusal that the package states in a sentence is an answer too."""
    try:
        first, others = asker(before, after, car, conditions)
    except PullproofError as error:
        return Asked((), (), (0.0, 0.0), (), 0, str(error))
    except Exception as error:  # noqa: BLE001  # a crash is a finding to report, not a reason to stop the run
        return Asked((), (), (0.0, 0.0), (), 0, f"CRASH {type(error).__name__}: {error}")
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
    bands = tuple((curve.channel, bool(((curve.lower <= 0) & (curve.upper >= 0)).all())) for curve in first.curves)
    warned = tuple(check.id for check in first.checks if check.status != "pass" and not check.accounted_for)
    used = sum(pull.used for pull in (*first.before, *first.after))
    return Asked(answers, bands, first.window_rpm, warned, used)


@contextmanager
def scaled_scatter_priors(factor: float) -> Iterator[None]:
    """Within this context the package expects `factor` times the scatter that it ships with."""
    if factor == 1.0:
        yield
        return
    differences: Any = importlib.import_module("pullproof.analysis.comparison.differences")
    original = differences.model

    def scaled(pulls: Any, rows: Any, prior: Any, *rest: Any) -> Any:  # noqa: ANN401  # the package's own types
        return original(pulls, rows, prior.widened(factor), *rest)

    differences.model = scaled
    try:
        yield
    finally:
        differences.model = original
