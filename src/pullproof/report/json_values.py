"""Numbers as JSON has them: plain floats, and null for what is not known."""

import math
from collections.abc import Iterable
from typing import Any

__all__ = ["Document", "number", "numbers"]

Document = dict[str, Any]


def number(value: float | None) -> float | None:
    """A plain float; null for None, NaN and infinity."""
    return float(value) if value is not None and math.isfinite(value) else None


def numbers(values: Iterable[float]) -> list[float | None]:
    """A list of `number`."""
    return [number(value) for value in values]
