"""Numbers with an interval, and how the interval of a result follows from those of its inputs.

Every doubt has an origin: a sensor, or an assumption. A number remembers what each origin would make of it, so that
one that enters twice counts once, and so that two pulls with the same sensor are known to be off together.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple, TypeAlias

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.air_system.result import Curve
from pullproof.arrays import Array, Numbers

__all__ = ["Known", "Moved", "Origin", "between", "known", "propagate", "spread", "within"]


class Origin(NamedTuple):
    """Where a doubt comes from. `assumed` says that nobody measured it: it may differ between two builds."""

    name: str
    assumed: bool = False


Moved: TypeAlias = Mapping[object, tuple[Array, Array]]
"""For each origin what a number is with that origin alone at its low and at its high end, (m,) each."""


@dataclass(frozen=True, slots=True)
class Known:
    """Something that is known with an interval, in SI units; arrays (m,), NaN where it is not known.

    `lower` and `upper` hold 95 % and need not lie alike on both sides: a heat-soaked sensor reads high, not low. A
    number without any origin of doubt is one whose sensor nobody knows: it has no interval.
    """

    value: Array
    moved: Moved
    source: str = "computed"
    doubts: tuple[str, ...] = ()

    @property
    def lower(self) -> Array:
        """Lower end of the interval, (m,)."""
        return spread(self.value, self.moved.values())[0] if self.moved else np.full(self.value.shape, np.nan)

    @property
    def upper(self) -> Array:
        """Upper end of the interval, (m,)."""
        return spread(self.value, self.moved.values())[1] if self.moved else np.full(self.value.shape, np.nan)

    def also(self, origin: Origin, low: Array, high: Array) -> "Known":
        """The same with one more origin of doubt, at whose ends it would be `low` and `high`."""
        return replace(self, moved={**self.moved, origin: (low, high)})

    def noting(self, *doubts: str) -> "Known":
        """The same with more said of it."""
        return replace(self, doubts=(*self.doubts, *doubts))

    def curve(self, name: str, label: str, unit: str, rpm: Array, *, factor: float = 1.0, offset: float = 0.0) -> Curve:
        """As a curve in another unit: value times `factor` plus `offset`."""
        value, lower, upper = (part * factor + offset for part in (self.value, self.lower, self.upper))
        return Curve(name, label, unit, rpm, value, lower, upper, self.source, self.doubts)


def known(
    value: Numbers, less: Numbers, more: Numbers, source: str = "computed", *doubts: str, origin: Origin | None = None
) -> Known:
    """A value that may be lower by `less` or higher by `more`; without an origin it shares its doubt with none."""
    values = np.asarray(value, dtype=np.float64)
    key: object = object() if origin is None else origin
    return Known(values, {key: (values - less, values + more)}, source, doubts)


def between(part: Known, lowest: float, highest: float) -> Known:
    """The same with the interval cut to what is possible at all."""
    cut = {origin: (np.maximum(low, lowest), np.minimum(high, highest)) for origin, (low, high) in part.moved.items()}
    return replace(part, moved=cut)


def within(part: Known, keep: NDArray[np.bool_]) -> Known:
    """The same with NaN where `keep` is false."""
    moved = {
        origin: (np.where(keep, low, np.nan), np.where(keep, high, np.nan))
        for origin, (low, high) in part.moved.items()
    }
    return replace(part, value=np.where(keep, part.value, np.nan), moved=moved)


def propagate(function: Callable[..., Array], inputs: Sequence[Known], source: str = "computed") -> Known:
    """A function of inputs with the interval that follows from theirs.

    Parameters
    ----------
    function : callable
        Takes one array for each input and gives an array.
    inputs : sequence of Known
        Each origin of doubt is moved to the ends of its interval while the others stay, in all the inputs that it
        enters; what the result moves by adds up in squares, upwards and downwards each on its own.
    source : str
        Of the result.

    Source: [GUM] 5.1.2 with note 2, differences in place of derivatives, and 5.2.2 for what enters twice; one-sided
    for uneven intervals.
    """
    middle = np.asarray(function(*(part.value for part in inputs)), dtype=np.float64)
    moved = {
        origin: (
            np.asarray(function(*(part.moved.get(origin, (part.value,))[0] for part in inputs)), dtype=np.float64),
            np.asarray(function(*(part.moved.get(origin, (part.value,))[-1] for part in inputs)), dtype=np.float64),
        )
        for origin in dict.fromkeys(origin for part in inputs for origin in part.moved)
    }
    return Known(middle, moved, source, tuple(dict.fromkeys(text for part in inputs for text in part.doubts)))


def spread(middle: Array, moved: Iterable[Sequence[Array]]) -> tuple[Array, Array]:
    """Lower and upper end of a result, from what it is with each origin in turn at the two ends of its interval."""
    up, down = np.zeros(middle.shape), np.zeros(middle.shape)
    for low, high in moved:
        up += np.maximum(np.maximum(low, high) - middle, 0.0) ** 2
        down += np.minimum(np.minimum(low, high) - middle, 0.0) ** 2
    return middle - np.sqrt(down), middle + np.sqrt(up)
