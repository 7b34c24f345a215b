"""What is believed of a standard deviation before any data: four kinds of prior, each on its own grid.

A prior is asked for nodes on a logarithmic axis. The model weights the nodes by how well they explain the data,
so that no sampling is needed and the same data always give the same answer.
"""

import math
from dataclasses import dataclass
from typing import Protocol

import numpy as np

from pullproof.arrays import Array

__all__ = ["EvenLogScatter", "EvenScatter", "KnownScatter", "ScatterPrior", "TypicalScatter"]

TAIL_FREEDOM = 4.0
"""Degrees of freedom of Student's distribution that a typical scatter's logarithm follows above its median.

The heavier tail lets a car twice as scattered as usual be believed after a few repeats:
`tests/stats/test_mixed_model_coverage.py` holds the figures. Below the median the logarithm is normal: repeats that
agree to the last digit speak of a coarse logger more often than of a car without scatter.
"""


class ScatterPrior(Protocol):
    """A distribution of a standard deviation s."""

    @property
    def span(self) -> tuple[float, float]:
        """Lowest and highest ln s that is considered."""

    def log_density(self, log_s: Array) -> Array:
        """Logarithm of the density per unit of ln s, up to a constant."""


@dataclass(frozen=True, slots=True)
class TypicalScatter:
    """A value that is typical of the trade, and how far it may be off.

    `median` has the unit of the data. `doubt` is the spread of ln s: 0.4 says that one car in three lies
    outside a factor of 1.5 either way.
    """

    median: float
    doubt: float

    def __post_init__(self) -> None:
        if not (self.median > 0.0 and self.doubt > 0.0):
            raise ValueError(f"median {self.median} and doubt {self.doubt} must be positive")

    @property
    def span(self) -> tuple[float, float]:
        """Eight spreads either way, which leaves out less than one part in ten thousand."""
        centre, reach = math.log(self.median), 8.0 * self.doubt
        return centre - reach, centre + reach

    def log_density(self, log_s: Array) -> Array:
        """Normal in ln s below the median, Student's t above."""
        z = (log_s - math.log(self.median)) / self.doubt
        tail = (TAIL_FREEDOM + 1.0) * np.log1p(z * z / TAIL_FREEDOM)
        return -0.5 * np.where(z < 0.0, z * z, tail)


@dataclass(frozen=True, slots=True)
class EvenScatter:
    """Every s between two limits is equally credible. The mode of the posterior is then the REML estimate."""

    low: float
    high: float

    @property
    def span(self) -> tuple[float, float]:
        """The two limits."""
        return math.log(self.low), math.log(self.high)

    def log_density(self, log_s: Array) -> Array:
        """Even in s is exp(ln s) per unit of ln s."""
        return log_s


@dataclass(frozen=True, slots=True)
class EvenLogScatter:
    """Every ln s between two limits is equally credible. Contrasts of a regression then follow Student's t."""

    low: float
    high: float

    @property
    def span(self) -> tuple[float, float]:
        """The two limits."""
        return math.log(self.low), math.log(self.high)

    def log_density(self, log_s: Array) -> Array:
        """Even."""
        return np.zeros_like(log_s)


@dataclass(frozen=True, slots=True)
class KnownScatter:
    """The standard deviation is known. Zero means that there is no such scatter."""

    value: float

    @property
    def span(self) -> tuple[float, float]:
        """One point."""
        log_s = math.log(self.value) if self.value > 0.0 else -math.inf
        return log_s, log_s

    def log_density(self, log_s: Array) -> Array:
        """One point holds all."""
        return np.zeros_like(log_s)
