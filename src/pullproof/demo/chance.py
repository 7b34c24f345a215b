"""Random numbers one at a time, drawn in blocks; or none at all, for the true effect."""

import numpy as np

__all__ = ["Chance"]

BLOCK = 2048


class Chance:
    """Noise from a generator. Without one every normal number is 0 and every uniform number 1: nothing happens."""

    def __init__(self, rng: np.random.Generator | None) -> None:
        self._rng = rng
        self._normal: list[float] = []
        self._uniform: list[float] = []

    def normal(self) -> float:
        """A standard normal number."""
        if self._rng is None:
            return 0.0
        if not self._normal:
            self._normal = self._rng.standard_normal(BLOCK).tolist()
        return self._normal.pop()

    def uniform(self) -> float:
        """A number between 0 and 1."""
        if self._rng is None:
            return 1.0
        if not self._uniform:
            self._uniform = self._rng.random(BLOCK).tolist()
        return self._uniform.pop()
