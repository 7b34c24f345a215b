"""What is watched: one table of rules, each of which reads a log and gives what is held against a limit.

A rule that cannot read a log says why, and what to log so that it can.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from pullproof.analysis.watch.pressures import fuel_pressure_sag, oil_pressure_fall, oil_pressure_per_speed, rail_fall
from pullproof.analysis.watch.scene import Scene, Signal
from pullproof.arrays import Array
from pullproof.errors import CannotAnswer

__all__ = ["AT_THE_STOP", "PINNED", "RULES", "Rule"]

PINNED = "wastegate_pinned"
"""The rule whose limit is no matter of choice: a command at its stop cannot go further."""

AT_THE_STOP = 99.5
"""Duty at which nothing is left [%]."""

BLOWN_KPA = 10.0
"""Boost above which an engine counts as under load [kPa]: below it many run at lambda 1 on purpose. Common practice."""

HIGH_REVS = 0.6
"""Share of the redline from which mixture is judged: the comparison's window begins there too, and what an engine does
on the way to it is another matter. Common practice, no source."""

ARRIVED = 0.9
"""Share of a pull's highest pressure at which boost counts as built: until then a shut wastegate is as it should be."""

OVERRUN_S = 0.25
"""Mixture is read so long before the end of full load: a lambda sensor's next value may be the fuel cut's. [s]"""


@dataclass(frozen=True, slots=True)
class Rule:
    """One thing that is watched. `limit` is a key of the limits; `needs` says what to log, in words."""

    id: str
    label: str
    limit: str
    needs: str
    read: Callable[[Scene], tuple[Signal, ...]]


def _lacking(needs: str) -> CannotAnswer:
    return CannotAnswer(f"{needs} is not logged", advice=f"Log {needs}.")


def _anywhere(*channels: str, needs: str) -> Callable[[Scene], tuple[Signal, ...]]:
    """The first of the channels that is logged, all through the log."""

    def read(scene: Scene) -> tuple[Signal, ...]:
        for channel in channels:
            if scene.has(channel):
                return (scene.signal(channel),)
        raise _lacking(needs)

    return read


def _running(channel: str, needs: str) -> Callable[[Scene], tuple[Signal, ...]]:
    def read(scene: Scene) -> tuple[Signal, ...]:
        if not scene.has(channel):
            raise _lacking(needs)
        return (scene.running(scene.signal(channel)),)

    return read


def _at_load(*channels: str, needs: str) -> Callable[[Scene], tuple[Signal, ...]]:
    def read(scene: Scene) -> tuple[Signal, ...]:
        for channel in channels:
            if scene.has(channel):
                _has_load(scene)
                return (scene.at_load(scene.signal(channel)),)
        raise _lacking(needs)

    return read


def _has_load(scene: Scene) -> None:
    if not len(scene.load):
        raise CannotAnswer("there is no full load in the log", advice="Log a pull, with pedal or throttle.")


def _knock(scene: Scene) -> tuple[Signal, ...]:
    """Every cylinder by itself, else the worst as logged."""
    cylinders = sorted(name for name in scene.log.traces if name.startswith("knock_retard_") and name[13:].isdigit())
    names = cylinders or ["knock_retard"]
    found = tuple(scene.running(scene.signal(name)) for name in names if scene.has(name))
    if not found:
        raise _lacking("knock retard")
    return tuple(
        replace(signal, doubts=(f"it reads 0 throughout {scene.log.file}: no knock, or a channel that nobody fills",))
        if signal.values.size and not signal.values.any()
        else signal
        for signal in found
    )


def _lean(scene: Scene) -> tuple[Signal, ...]:
    """Lambda at full load, from 60 % of the redline on and under boost: below that engines may still be near 1."""
    if not scene.has("lambda"):
        raise _lacking("lambda")
    _has_load(scene)
    signal = _mixture(scene, scene.signal("lambda"))
    if scene.redline is not None and scene.has("engine_speed"):
        signal = signal.where(scene.at("engine_speed", signal.time) >= HIGH_REVS * scene.redline)
    pressure = _pressure_channel(scene)
    if pressure is None or float(scene.samples(pressure).values.max()) <= _ambient(scene, pressure) + BLOWN_KPA:
        return (signal,)
    return (signal.where(scene.at(pressure, signal.time) - _ambient(scene, pressure) > BLOWN_KPA),)


def _mixture(scene: Scene, signal: Signal) -> Signal:
    """The part at full load, without its very end."""
    place = np.searchsorted(scene.load[:, 0], signal.time, "right") - 1
    until = scene.load[np.maximum(place, 0), 1] - OVERRUN_S
    return scene.at_load(signal.where(signal.time <= until))


def _lean_of_target(scene: Scene) -> tuple[Signal, ...]:
    for channel, words in (("lambda", "lambda"), ("lambda_target", "the target of lambda")):
        if not scene.has(channel):
            raise _lacking(words)
    _has_load(scene)
    signal = scene.signal("lambda")
    beyond = signal.values - scene.at("lambda_target", signal.time)
    return (_known(_mixture(scene, replace(signal, values=beyond))),)


def _known(signal: Signal) -> Signal:
    return signal.where(np.isfinite(signal.values))


def _pressure(scene: Scene) -> Signal:
    for channel in ("charge_pressure", "manifold_pressure"):
        if scene.has(channel):
            return scene.signal(channel)
    raise _lacking("charge pressure or manifold pressure")


def _boost(scene: Scene) -> tuple[Signal, ...]:
    signal = _pressure(scene)
    ambient = scene.log.gauge_reference_kpa.get(signal.channel)
    if ambient is not None:
        return (replace(signal, values=signal.values - ambient),)
    if scene.has("ambient_pressure"):
        there = float(np.median(scene.samples("ambient_pressure").values))
        return (replace(signal, values=signal.values - there),)
    doubt = "ambient pressure is not logged: 101.3 kPa was taken for it"
    return (replace(signal, values=signal.values - 101.325, doubts=(doubt,)),)


def _over_target(scene: Scene) -> tuple[Signal, ...]:
    signal = _pressure(scene)
    if not scene.has("charge_pressure_target"):
        raise _lacking("the target of charge pressure")
    _has_load(scene)
    doubts: tuple[str, ...] = ()
    if signal.channel == "manifold_pressure":
        doubts = ("manifold pressure is held against the target of charge pressure: the throttle's loss hides a part",)
    gauge = {name in scene.log.gauge_reference_kpa for name in (signal.channel, "charge_pressure_target")}
    if len(gauge) > 1:
        doubts += ("one of pressure and target is logged as gauge, the other as absolute: see the ambient pressure",)
    beyond = signal.values - scene.at("charge_pressure_target", signal.time)
    return (_known(scene.at_load(replace(signal, values=beyond, doubts=doubts))),)


def _pinned(scene: Scene) -> tuple[Signal, ...]:
    """Duty at full load once boost is built; before that it is shut as it should be."""
    if not scene.has("wastegate_duty"):
        raise _lacking("wastegate duty")
    _has_load(scene)
    signal = scene.at_load(scene.signal("wastegate_duty"))
    return (signal.where(_once_built(scene, signal.time)),)


def _pressure_channel(scene: Scene) -> str | None:
    return next((name for name in ("charge_pressure", "manifold_pressure") if scene.has(name)), None)


def _ambient(scene: Scene, pressure: str) -> float:
    """What boost is counted from. [kPa]"""
    return scene.log.gauge_reference_kpa.get(pressure, 101.325)


def _once_built(scene: Scene, time: Array) -> NDArray[np.bool_]:
    """Which instants lie in a stretch of full load after boost has arrived in it."""
    pressure = _pressure_channel(scene)
    built = np.zeros(time.shape, dtype=bool)
    for start, end in scene.load:
        built |= (time >= _built_at(scene, pressure, start, end)) & (time <= end) & (time >= start)
    return built


def _built_at(scene: Scene, pressure: str | None, start: float, end: float) -> float:
    """When boost has arrived in a stretch of full load; its middle, where no pressure is logged. [s]"""
    middle = 0.5 * (start + end)
    if pressure is None:
        return middle
    samples = scene.samples(pressure)
    inside = (samples.time >= start) & (samples.time <= end)
    time, boost = samples.time[inside], samples.values[inside] - _ambient(scene, pressure)
    return float(time[boost >= ARRIVED * boost.max()][0]) if boost.size else middle


def _table() -> tuple[Rule, ...]:
    charge = ("charge_air_temperature", "intake_air_temperature")
    rows = [
        Rule("knock_retard", "knock retard", "knock_retard_deg", "knock retard", _knock),
        Rule("lambda_full_load", "lambda at full load", "lambda_full_load", "lambda", _lean),
        Rule(
            "lambda_over_target", "lambda above its target", "lambda_over_target", "lambda and its target",
            _lean_of_target,
        ),
        Rule("boost", "boost", "boost_kpa", "charge pressure", _boost),
        Rule(
            "boost_over_target", "boost over its target", "boost_over_target_kpa", "charge pressure and its target",
            _over_target,
        ),
        Rule(PINNED, "wastegate duty once boost is built", PINNED, "wastegate duty", _pinned),
        Rule(
            "charge_temperature", "charge temperature at full load", "charge_temperature_c",
            "charge air temperature or intake air temperature", _at_load(*charge, needs="charge air temperature"),
        ),
        Rule(
            "compressor_outlet_temperature", "compressor outlet temperature", "compressor_outlet_temperature_c",
            "compressor outlet temperature",
            _anywhere("compressor_outlet_temperature", needs="compressor outlet temperature"),
        ),
        Rule(
            "exhaust_gas_temperature", "exhaust gas temperature", "exhaust_gas_temperature_c",
            "exhaust gas temperature", _anywhere("exhaust_gas_temperature", needs="exhaust gas temperature"),
        ),
        Rule(
            "coolant_temperature", "coolant temperature", "coolant_temperature_c", "coolant temperature",
            _anywhere("coolant_temperature", needs="coolant temperature"),
        ),
        Rule(
            "coolant_cold", "cold coolant at full load", "coolant_temperature_least_c",
            "coolant temperature", _at_load("coolant_temperature", needs="coolant temperature"),
        ),
        Rule(
            "oil_temperature", "oil temperature", "oil_temperature_c", "oil temperature",
            _anywhere("oil_temperature", needs="oil temperature"),
        ),
        Rule(
            "oil_cold", "cold oil at full load", "oil_temperature_least_c", "oil temperature",
            _at_load("oil_temperature", needs="oil temperature"),
        ),
        Rule(
            "oil_pressure", "oil pressure for each 1000 rpm", "oil_pressure_kpa_per_1000_rpm",
            "oil pressure and engine speed", oil_pressure_per_speed,
        ),
        Rule(
            "oil_pressure_fall", "fall of oil pressure in a pull", "oil_pressure_fall_kpa",
            "oil pressure", oil_pressure_fall,
        ),
        Rule(
            "fuel_pressure_sag", "sag of fuel pressure with flow", "fuel_pressure_sag_pct",
            "fuel pressure and air mass flow, injector duty or manifold pressure", fuel_pressure_sag,
        ),
        Rule(
            "fuel_rail_pressure_fall", "fall of fuel rail pressure in a pull", "fuel_rail_pressure_fall_pct",
            "fuel rail pressure", rail_fall,
        ),
        Rule(
            "injector_duty", "injector duty", "injector_duty_pct", "injector duty",
            _running("injector_duty", "injector duty"),
        ),
        Rule(
            "battery_low", "low battery voltage", "battery_voltage_least_v", "battery voltage",
            _running("battery_voltage", "battery voltage"),
        ),
        Rule(
            "battery_high", "high battery voltage", "battery_voltage_v", "battery voltage",
            _running("battery_voltage", "battery voltage"),
        ),
        Rule(
            "over_speed", "engine speed", "engine_speed_rpm", "engine speed",
            _anywhere("engine_speed", needs="engine speed"),
        ),
        Rule(
            "turbo_speed", "turbocharger speed", "turbo_speed_rpm", "turbocharger speed",
            _anywhere("turbo_speed", needs="turbocharger speed"),
        ),
    ]  # fmt: skip
    return tuple(rows)


RULES = _table()
"""All rules, in the order in which they are shown."""
