"""The table `limits.toml` and the owner's own figures, as typed values."""

import functools
import importlib.resources
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Any, Final

from pullproof.analysis.watch.result import Limit
from pullproof.car import Car

__all__ = ["FUELS", "Limits", "TrendPrior", "limits_of", "trend_priors"]

FUELS: Final = ("petrol", "e85", "diesel")
"""Fuels that the table has figures for."""

_STANDS_FOR: Final = {
    "petrol": "petrol", "e10": "petrol", "e85": "e85", "ethanol": "e85", "methanol": "e85", "diesel": "diesel",
    "lpg": "petrol", "cng": "petrol",
}  # fmt: skip
_BORROWED: Final = ("ethanol", "methanol", "lpg", "cng")


@dataclass(frozen=True, slots=True)
class Limits:
    """What holds for one car: a limit by its key, and why a key has none."""

    by_key: Mapping[str, Limit]
    without: Mapping[str, str]
    doubts: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class TrendPrior:
    """Usual scatter of a pull's worst reading, and what warmer air does to it: in its unit, and per kelvin."""

    day: float
    run: float
    air_mean: float
    air_doubt: float
    worse: str


@functools.cache
def _table() -> dict[str, Any]:
    text = importlib.resources.files("pullproof.analysis.watch").joinpath("limits.toml").read_text("utf-8")
    return tomllib.loads(text)


@functools.cache
def trend_priors() -> Mapping[str, TrendPrior]:
    """What is believed of each trend before any log, by rule."""
    return MappingProxyType(
        {
            rule: TrendPrior(row["day"], row["run"], row["air"]["mean"], row["air"]["doubt"], row["worse"])
            for rule, row in _table()["trend"].items()
        }
    )


def limits_of(car: Car) -> Limits:
    """Limits for a car: the sheet's own, else the usual ones for its fuel.

    Where the sheet names no fuel, the strictest figure of all fuels holds, and a doubt says so.
    """
    doubts = []
    fuel = None if car.engine.fuel is None else _STANDS_FOR[car.engine.fuel]
    if car.engine.fuel is None:
        doubts.append("the car sheet names no fuel: of the usual limits the strictest of all fuels is taken")
    elif car.engine.fuel in _BORROWED:
        doubts.append(f"there are no usual limits for {car.engine.fuel}: those for {fuel} are taken")
    found: dict[str, Limit] = {}
    without: dict[str, str] = {}
    for key, row in _table()["limit"].items():
        usual = _usual(row, fuel, turbo=car.engine.aspiration != "none")
        if key == "engine_speed_rpm":
            usual = car.engine.redline_rpm
        value = car.limits.get(key, usual)
        if value is None:
            without[key] = _why_none(key, row, fuel)
            continue
        own = key in car.limits
        origin = f"car sheet, limits.{key}" if own else row["origin"]
        found[key] = Limit(key, row["unit"], row["side"], value, origin, own, row["for_s"])
    return Limits(MappingProxyType(found), MappingProxyType(without), tuple(doubts))


def _usual(row: Mapping[str, Any], fuel: str | None, *, turbo: bool) -> float | None:
    figures = [row[name] for name in ((fuel,) if fuel else FUELS) if name in row]
    if not figures:
        return None
    if not turbo and "no_turbo" in row:
        return float(row["no_turbo"])
    return float(min(figures) if row["side"] == "above" else max(figures))


def _why_none(key: str, row: Mapping[str, Any], fuel: str | None) -> str:
    if fuel is not None and any(name in row for name in FUELS):
        return f"there is no usual limit for {fuel}"
    if key == "engine_speed_rpm":
        return "the car sheet has no redline"
    return f"no limit is known: {row['origin']}"
