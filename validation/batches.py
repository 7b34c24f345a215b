"""Dataclasses of equally long arrays: a batch of cars, of pulls, of anything."""

import dataclasses
from collections.abc import Sequence
from typing import Any, TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = ["Array", "join", "length", "take"]

Array = NDArray[np.float64]
B = TypeVar("B")


def _rebuilt(batch: B, values: dict[str, Any]) -> B:
    return dataclasses.replace(batch, **values)  # type: ignore[type-var]


def take(batch: B, index: "slice | NDArray[np.int64] | NDArray[np.bool_]") -> B:
    """Rows `index` of every array in a batch; batches inside a batch are taken likewise."""
    values = {}
    for field in dataclasses.fields(batch):  # type: ignore[arg-type]
        value = getattr(batch, field.name)
        values[field.name] = value[index] if isinstance(value, np.ndarray) else take(value, index)
    return _rebuilt(batch, values)


def join(batches: Sequence[B]) -> B:
    """Batches of one kind, one after the other."""
    first = batches[0]
    values: dict[str, Any] = {}
    for field in dataclasses.fields(first):  # type: ignore[arg-type]
        parts = [getattr(batch, field.name) for batch in batches]
        values[field.name] = np.concatenate(parts) if isinstance(parts[0], np.ndarray) else join(parts)
    return _rebuilt(first, values)


def length(batch: object) -> int:
    """How many rows a batch has."""
    value = getattr(batch, dataclasses.fields(batch)[0].name)  # type: ignore[arg-type]
    return len(value) if isinstance(value, np.ndarray) else length(value)
