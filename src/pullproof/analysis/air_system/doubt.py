"""Numbers with an interval, and how the interval of a result follows from those of its inputs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.air_system.result import Curve
from pullproof.arrays import Array, Numbers

__all__ = ["Known", "between", "known", "propagate", "spread", "within"]


@dataclass(frozen=True, slots=True)
class Known:
    """Something that is known with an interval, in SI units; arrays (m,), NaN where it is not known.

    `lower` and `upper` hold 95 % and need not lie alike on both sides: a heat-soaked sensor reads high, not low.
    """

    value: Array
    lower: Array
    upper: Array
    source: str = "computed"
    doubts: tuple[str, ...] = ()

    def curve(self, name: str, label: str, unit: str, rpm: Array, *, factor: float = 1.0, offset: float = 0.0) -> Curve:
        """As a curve in another unit: value times `factor` plus `offset`."""
        value, lower, upper = (part * factor + offset for part in (self.value, self.lower, self.upper))
        return Curve(name, label, unit, rpm, value, lower, upper, self.source, self.doubts)


def known(value: Numbers, less: Numbers, more: Numbers, source: str = "computed", *doubts: str) -> Known:
    """A value that may truly be lower by `less` or higher by `more`."""
    values = np.asarray(value, dtype=np.float64)
    return Known(values, values - less, values + more, source, doubts)


def between(part: Known, lowest: float, highest: float) -> Known:
    """The same with the interval cut to what is possible at all."""
    return Known(part.value, np.maximum(part.lower, lowest), np.minimum(part.upper, highest), part.source, part.doubts)


def within(part: Known, keep: NDArray[np.bool_]) -> Known:
    """The same with NaN where `keep` is false."""
    value, lower, upper = (np.where(keep, values, np.nan) for values in (part.value, part.lower, part.upper))
    return Known(value, lower, upper, part.source, part.doubts)


def propagate(function: Callable[..., Array], inputs: Sequence[Known], source: str = "computed") -> Known:
    """A function of independent inputs with the interval that follows from theirs.

    Parameters
    ----------
    function : callable
        Takes one array for each input and gives an array.
    inputs : sequence of Known
        Each is moved to the ends of its interval while the others stay; what the result moves by adds up in squares,
        upwards and downwards each on its own.
    source : str
        Of the result.

    Source: [GUM] 5.1.2 with note 2, differences in place of derivatives; one-sided for uneven intervals.
    """
    values = [part.value for part in inputs]
    middle = np.asarray(function(*values), dtype=np.float64)
    moved = [
        [function(*values[:place], end, *values[place + 1 :]) for end in (part.lower, part.upper)]
        for place, part in enumerate(inputs)
    ]
    lower, upper = spread(middle, moved)
    return Known(middle, lower, upper, source, tuple(dict.fromkeys(text for part in inputs for text in part.doubts)))


def spread(middle: Array, moved: Sequence[Sequence[Array]]) -> tuple[Array, Array]:
    """Lower and upper end of a result, from what it is with each input in turn at the two ends of its interval."""
    up, down = np.zeros(middle.shape), np.zeros(middle.shape)
    for low, high in moved:
        up += np.maximum(np.maximum(low, high) - middle, 0.0) ** 2
        down += np.minimum(np.minimum(low, high) - middle, 0.0) ** 2
    return middle - np.sqrt(down), middle + np.sqrt(up)
