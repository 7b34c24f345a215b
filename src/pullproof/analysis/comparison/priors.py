"""The table `priors.toml` as typed values: what is believed of each measure and covariate before any pull."""

import functools
import importlib.resources
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType
from typing import Any

from pullproof.stats.scatter import TypicalScatter

__all__ = ["CovariatePrior", "CurvePrior", "Effect", "MeasurePrior", "Priors", "load_priors"]


@dataclass(frozen=True, slots=True)
class Effect:
    """What one unit of a covariate does to a measure: mean and standard deviation, measure's unit per covariate's."""

    mean: float
    doubt: float
    origin: str


@dataclass(frozen=True, slots=True)
class CovariatePrior:
    """Something that may differ between pulls, and by how much it does where nobody wrote it down.

    `day` is the standard deviation of the difference between two days, `pull` that between pulls of one day, both in
    `unit`.
    """

    unit: str
    label: str
    day: float
    pull: float
    origin: str


@dataclass(frozen=True, slots=True)
class MeasurePrior:
    """Usual scatter of a measure, the smallest difference worth having, and where its effects are read from.

    `relative` says that scatter and smallest difference are percentages of the measure's own level.
    """

    relative: bool
    run: TypicalScatter
    day: TypicalScatter
    smallest: float
    covers: str
    effect: Mapping[str, Effect]
    origin: str

    def in_unit(self, amount: float, level: float) -> float:
        """Turn an amount of this table into the measure's unit, for a measure whose mean is `level`."""
        return amount * abs(level) / 100.0 if self.relative else amount

    def widened(self, factor: float) -> "MeasurePrior":
        """The same with `factor` times the scatter."""
        run, day = (replace(scatter, median=factor * scatter.median) for scatter in (self.run, self.day))
        return replace(self, run=run, day=day)


@dataclass(frozen=True, slots=True)
class CurvePrior:
    """A curve: whose effects and scatter it takes, and how much wider a single engine speed scatters."""

    measure: str
    wider: float


@dataclass(frozen=True, slots=True)
class Priors:
    """The whole table."""

    measures: Mapping[str, MeasurePrior]
    covariates: Mapping[str, CovariatePrior]
    curves: Mapping[str, CurvePrior]


@functools.cache
def load_priors() -> Priors:
    """The table that ships with the package."""
    text = importlib.resources.files("pullproof.analysis.comparison").joinpath("priors.toml").read_text("utf-8")
    table = tomllib.loads(text)
    return Priors(
        measures=MappingProxyType({name: _measure(entry) for name, entry in table["measure"].items()}),
        covariates=MappingProxyType({name: CovariatePrior(**entry) for name, entry in table["covariate"].items()}),
        curves=MappingProxyType({name: CurvePrior(**entry) for name, entry in table["curve"].items()}),
    )


def _measure(entry: dict[str, Any]) -> MeasurePrior:
    return MeasurePrior(
        relative=entry.get("relative", False),
        run=_scatter(entry["run"]),
        day=_scatter(entry["day"]),
        smallest=entry["smallest"],
        covers=entry["covers"],
        effect=MappingProxyType({name: Effect(**effect) for name, effect in entry.get("effect", {}).items()}),
        origin=entry["origin"],
    )


def _scatter(entry: dict[str, float]) -> TypicalScatter:
    return TypicalScatter(median=entry["typical"], doubt=entry["doubt"])
