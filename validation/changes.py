"""Changes that are made to a car between the sets, each a kind and a size.

`apply` returns the changed cars. The boost map, feed-forward and ignition map are not adapted to a new part, as on a
car whose owner bolts something on.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from validation.batches import Array, join, take
from validation.cars import Car

__all__ = ["KINDS", "Change", "apply", "draw_change"]


@dataclass(frozen=True, slots=True)
class Change:
    """A kind of `KINDS` and how much of it; size 0 is nothing at all."""

    kind: str
    size: float


def _path(car: Car, **factors: Array) -> Car:
    values = {name: getattr(car.path, name) * factor for name, factor in factors.items()}
    return replace(car, path=replace(car.path, **values))


def _nothing(car: Car, size: Array) -> Car:  # noqa: ARG001  # one signature for every kind
    return car


def _restriction(car: Car, size: Array) -> Car:
    factor = np.maximum(1.0 + size, 0.1)
    return _path(car, hot_loss=factor, cooler_loss=factor, cold_loss=factor)


def _pipes(car: Car, size: Array) -> Car:
    factor = np.maximum(1.0 - 0.35 * size, 0.1)
    return _path(car, volume=np.maximum(1.0 + 0.5 * size, 0.3), hot_loss=factor, cold_loss=factor)


def _cooler(car: Car, size: Array) -> Car:
    return _path(
        car,
        core_inside=1.0 + 0.25 * size,
        core_outside=1.0 + 0.4 * size,
        core_capacity=np.maximum(1.0 + 0.5 * size, 0.3),
        cooler_loss=np.maximum(1.0 + 0.2 * size, 0.3),
        volume=1.0 + 0.2 * size,
    )


def _compressor(car: Car, size: Array) -> Car:
    turbo = replace(
        car.turbo,
        efficiency=car.turbo.efficiency * (1.0 + 0.04 * size),
        flow_choke=car.turbo.flow_choke * (1.0 + 0.06 * size),
        inertia=car.turbo.inertia * (1.0 + 0.1 * size),
    )
    return replace(car, turbo=turbo)


def _boost(car: Car, size: Array) -> Car:
    return replace(car, control=replace(car.control, target=car.control.target + 1e3 * size))


def _ignition(car: Car, size: Array) -> Car:
    return replace(car, engine=replace(car.engine, map_margin=car.engine.map_margin - size))


def _leak(car: Car, size: Array) -> Car:
    hole = 0.7 * np.pi / 4 * (1e-3 * np.abs(size)) ** 2
    return replace(car, path=replace(car.path, leak_area=car.path.leak_area + hole))


def _mass(car: Car, size: Array) -> Car:
    return replace(car, vehicle=replace(car.vehicle, mass=car.vehicle.mass + size))


def _filter(car: Car, size: Array) -> Car:
    return _path(car, filter_loss=np.maximum(1.0 + size, 0.1))


def _exhaust(car: Car, size: Array) -> Car:
    return _path(car, exhaust_loss=np.maximum(1.0 + size, 0.1))


KINDS: dict[str, tuple[Callable[[Car, Array], Car], float, str]] = {
    "nothing": (_nothing, 0.0, "nothing at all"),
    "restriction": (_restriction, 0.5, "loss of the charge path"),
    "pipes": (_pipes, 1.0, "wider pipes of more volume"),
    "cooler": (_cooler, 1.0, "charge cooler"),
    "compressor": (_compressor, 1.0, "compressor wheel"),
    "boost target": (_boost, 8.0, "boost target, kPa"),
    "ignition": (_ignition, 1.5, "ignition map, degrees"),
    "leak": (_leak, 5.0, "a hole in the charge path, mm"),
    "mass": (_mass, 60.0, "mass aboard, kg"),
    "air filter": (_filter, 0.6, "loss of the air filter"),
    "exhaust": (_exhaust, 0.4, "loss of the exhaust"),
}
"""Function, usual size and meaning of every kind."""


def draw_change(rng: np.random.Generator, kind: str) -> Change:
    """A change of a kind with a random size and sign."""
    usual = KINDS[kind][1]
    sign = -1.0 if rng.random() < 0.5 and kind != "leak" else 1.0
    return Change(kind, float(sign * usual * rng.uniform(0.3, 1.3)))


def apply(car: Car, changes: list[Change]) -> Car:
    """The cars, each with its own change made."""
    rows = []
    for row, change in enumerate(changes):
        function = KINDS[change.kind][0]
        rows.append(function(take(car, slice(row, row + 1)), np.array([change.size])))
    return join(rows)
