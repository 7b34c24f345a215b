"""From physics to what one kelvin, one kilopascal or one rpm does to a measure, each with its doubt.

Read `AirState` first, then the families: air flow, power, time, spool, ignition, duty. What has no physics behind it
that we would defend stands as plain numbers in `priors.toml`. Every doubt is a standard deviation: a fifth of the mean
where only filling counts, half and more where turbine, actuator or control unit have a say. Real ones differ that much
from their textbooks, and the car's own repeats narrow it down.
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from types import MappingProxyType

import numpy as np

from pullproof.analysis.comparison.priors import Effect, MeasurePrior

__all__ = ["GATE_AREA", "USUAL_PRESSURE_KPA", "AirState", "effects", "mixture_effects"]


USUAL_PRESSURE_KPA = 99.0
USUAL_AIR_C = 15.0
"""Middle of what is driven in, where nobody wrote pressure or temperature down."""


@dataclass(frozen=True, slots=True)
class AirState:
    """Mean state of all the pulls compared, at which effects are taken.

    The same for both sides, so that swapping them only turns the sign of the answer.
    """

    ambient_pressure_kpa: float = USUAL_PRESSURE_KPA
    boost_kpa: float = 0.0
    """Above ambient; 0 for an engine without a charger."""
    fuel_limited: bool = False
    """A diesel: its fuel decides the power, whatever the air does, and air decides lambda."""
    boost_follows: tuple[float, float] = (0.0, 0.0)
    """Kilopascals of charge pressure per kilopascal of barometer that no covariate shows, mean and doubt: 0 where the
    charge pressure achieved is one itself."""
    air_c: float = USUAL_AIR_C
    start_rpm: float | None = None
    """Engine speed at which full load was reached."""

    @property
    def blown(self) -> bool:
        """Whether there is boost."""
        return self.boost_kpa > 0.0

    @property
    def charge_kpa(self) -> float:
        """Absolute pressure that the engine breathes."""
        return self.ambient_pressure_kpa + self.boost_kpa


CHARGE_KELVIN = 310.0
"""Charge temperature at full load behind an air cooler [K]. Common practice, no source."""

TEMPERATURE_EXPONENT, EXPONENT_DOUBT = 0.75, 0.3
CHARGED_EXPONENT, CHARGED_DOUBT = 0.85, 0.18
"""Air flow goes with charge temperature to minus this power: 1 by density alone, 0.5 where heat transfer in the ports
evens it out [Heywood 6.2]. The middle is taken; a charged engine sends twice the air over the same hot ports and
lies nearer to density. A cooler passes a kelvin of warmer air on whole. The doubts are shares of the effect."""

USUAL_CLIMB, SHORTEST_CLIMB = 700.0, 200.0
"""Engine speed from the start of a pull to boost, where it is not known, and at least. [rpm] Common practice, no
source."""

FOLLOWS_START = 0.4
"""Share of a warmer start that is left on the mean of a pull. Common practice, no source."""

ORDER_DOUBT = 0.8
"""What a session's heat may do to any measure between its first pull and its end, in scatters between pulls.
Common practice, no source."""

KNOCK_TAKES = 0.75
"""Share of more filling that reaches the wheels of a charged engine: knock takes ignition for the rest.
Common practice, no source."""

MECHANICAL_EFFICIENCY = 0.85
"""Friction takes its part whatever the air does, so brake power changes by more per cent than indicated power.
Source: the share that SAE J1349 takes where it is not measured."""

FUEL_LIMITED = 0.2
"""Share of the air's effect on power that is left where fuel is metered, not air. Common practice, no source."""

TIME_PER_POWER = -1.1
"""Per cent of time through the revs per per cent of power at the wheels. -1 without drag; drag adds to it."""

GATE_AREA: Mapping[str, float] = MappingProxyType(
    {
        "charge_loss_kpa": -0.88,
        "inlet_kelvin": -0.555,
        "exhaust_kelvin": 11.43 / 50.0,
        "flow_percent": 2.25,
    }
)
"""Per cent of wastegate flow area needed, per unit, at one worked point.

Shaft balance of compressor and turbine with 98 kPa before and 240 kPa behind the compressor, 0.25 kg/s, 1223 K before
the turbine; `pullproof.physics.turbine` gives them again, and a test holds the two together.
"""

DUTY_PER_GATE_AREA = -0.3
"""Points of duty per per cent of gate area. A property of the actuator. Common practice, no source."""

KEPT_OF_INLET_WORK = 0.6
"""Share of the compressor's part that exhaust temperature and ignition leave. Common practice, no source."""

EXHAUST_KELVIN_PER_DEGREE = -12.0
"""Exhaust temperature per degree of ignition advance [K/deg]. Common practice, no source."""

EXHAUST_KELVIN_PER_LAMBDA = 800.0
"""Exhaust temperature per unit of lambda on the rich side [K]. Common practice, no source."""

ORIGIN_FLOW = "filling by pressure over temperature to the power 0.75"
ORIGIN_DUTY = "shaft balance at a worked point times the slope of the actuator"


def effects(measure: str, prior: MeasurePrior, state: AirState, level: float) -> Mapping[str, Effect]:
    """What one unit of each covariate does to a measure, in the measure's own unit.

    Parameters
    ----------
    measure : str
        Its id, for the message.
    prior : MeasurePrior
        Its row of the table.
    state : AirState
        Mean state of all the pulls.
    level : float
        Mean of the measure over all the pulls, for effects that are percentages. [unit of the measure]

    Raises
    ------
    ValueError
        The table names a family that does not exist.
    """
    if state.fuel_limited and measure.startswith("lambda."):
        found = _scaled(_air_flow(state), level / 100.0)
    elif prior.covers == "table":
        found = dict(prior.effect)
    elif prior.covers in _LOOSENESS:
        found = _spool(state, level, _LOOSENESS[prior.covers])
    elif prior.covers in _FAMILIES:
        found = _scaled(_FAMILIES[prior.covers](state), prior.in_unit(1.0, level))
    else:
        raise ValueError(f'{measure}: no family of effects is called "{prior.covers}"')
    if "boost" in found and "air_pressure" in found:
        found["air_pressure"] = _with_boost(found["air_pressure"], found["boost"], state.boost_follows)
    soaking = ORDER_DOUBT * prior.in_unit(prior.run.median, level)
    return found | {"order": Effect(0.0, soaking, "a session warms the car; common practice, no source")}


def _with_boost(pressure: Effect, boost: Effect, follows: tuple[float, float]) -> Effect:
    """What a kilopascal of barometer does where charge pressure goes with it unseen."""
    mean, doubt = follows
    variance = pressure.doubt**2 + (boost.doubt * mean) ** 2 + (boost.mean * doubt) ** 2
    return Effect(pressure.mean + boost.mean * mean, variance**0.5, pressure.origin)


def _scaled(found: Mapping[str, Effect], factor: float) -> dict[str, Effect]:
    return {
        name: Effect(factor * effect.mean, abs(factor) * effect.doubt, effect.origin) for name, effect in found.items()
    }


def _air_flow(state: AirState) -> dict[str, Effect]:
    """Per cent of air mass flow at a given engine speed, per unit of covariate."""
    per_kpa = 100.0 / state.charge_kpa
    exponent, share = (CHARGED_EXPONENT, CHARGED_DOUBT) if state.blown else (TEMPERATURE_EXPONENT, EXPONENT_DOUBT)
    per_kelvin = -100.0 * exponent / CHARGE_KELVIN
    start = per_kelvin * FOLLOWS_START
    # Moist air is lighter than dry air by 0.378 of its vapour's share (molar masses of water and air).
    vapour = -37.8 / state.ambient_pressure_kpa
    return {
        "air_temperature": Effect(per_kelvin, share * abs(per_kelvin), ORIGIN_FLOW),
        "air_pressure": Effect(
            0.05 if state.blown else 0.0, 0.1, "at equal charge pressure the turbine works less and holds back less"
        ),
        "humidity": Effect(vapour, 0.3 * abs(vapour), "water vapour is lighter than air"),
        "charge_temperature_start": Effect(start, 0.4 * abs(start), ORIGIN_FLOW),
        "boost": Effect(per_kpa, 0.2 * per_kpa, "filling goes with charge pressure"),
        "start_speed": Effect(0.0, 0.0005, "a late start costs filling at the foot of the window only"),
    }


def _power(state: AirState) -> dict[str, Effect]:
    """Per cent of wheel power, per unit of covariate: the air flow's, of dry air, over what friction leaves."""
    found = _scaled(_air_flow(state), 1.0 / MECHANICAL_EFFICIENCY)
    # Vapour takes the place of air, and a control unit that meters pressure does not see it.
    vapour = -100.0 / state.ambient_pressure_kpa / MECHANICAL_EFFICIENCY
    found["humidity"] = Effect(vapour, 0.4 * abs(vapour), "water vapour takes the place of oxygen")
    if state.blown:
        found["boost"] = replace(found["boost"], mean=KNOCK_TAKES * found["boost"].mean)
        warm, knock = found["air_temperature"], 0.06
        found["air_temperature"] = replace(warm, doubt=(warm.doubt**2 + knock**2) ** 0.5)
    if state.fuel_limited:
        found = {name: replace(effect, mean=FUEL_LIMITED * effect.mean) for name, effect in found.items()}
    found["direction"] = Effect(0.0, 2.5, "a grade of 0.5 % either way is 2.5 % of power between the directions")
    return found


def _time(state: AirState) -> dict[str, Effect]:
    """Per cent of the time through the window, per unit of covariate."""
    return _scaled(_power(state), TIME_PER_POWER)


def _spool(state: AirState, level: float, looseness: float) -> dict[str, Effect]:
    """Engine speed at which boost is there or the wastegate opens [rpm], per unit of covariate.

    What slows the turbocharger down does so all the way from the start of the pull: its cost in engine speed is a
    share of that climb. And the longer the climb, the less it matters where it began.
    """
    climb = USUAL_CLIMB if state.start_rpm is None else max(level - state.start_rpm, SHORTEST_CLIMB)
    share = climb / 1000.0
    later = float(np.clip(0.5 - 0.65 * (share - 0.7), 0.1, 0.85))
    practice = "share of the climb since the start of the pull; common practice, no source"

    def effect(mean: float, doubt: float) -> Effect:
        return Effect(mean * share, looseness * doubt * share, practice)

    return {
        "air_temperature": effect(6.4, 1.7),
        "air_pressure": effect(-12.5, 4.0),
        "humidity": effect(7.0, 10.0),
        "charge_temperature_start": effect(1.5, 1.6),
        "boost": effect(8.0, 3.5),
        "start_speed": Effect(later, looseness * 0.16, "a later start leaves less time to spool; the less, the longer"),
    }


def _ignition(state: AirState) -> dict[str, Effect]:
    """Degrees of ignition per unit of covariate.

    In cool air less filling lets the map advance; in warm air knock control takes more than that back. The turn lies
    at about 10 degC. Common practice, no source.
    """
    warm = float(np.clip(0.02 - 0.007 * (state.air_c - 8.0), -0.1, 0.03))
    practice = "common practice, no source"
    return {
        "air_temperature": Effect(warm, 0.06, "knock control gives way in warm air, in cool air less filling advances"),
        "air_pressure": Effect(-0.01, 0.03, "at equal charge pressure only the exhaust feels it"),
        "humidity": Effect(0.4, 0.3, f"water vapour holds off knock; {practice}"),
        "charge_temperature_start": Effect(-0.01, 0.035, "as air temperature"),
        "boost": Effect(-0.1, 0.05, f"more filling, less advance; {practice}"),
    }


def _duty(state: AirState) -> dict[str, Effect]:
    """Points of wastegate duty, per unit of covariate.

    Warm air needs more compressor work, at the worked point 0.17 points of duty per kelvin. It also leaves less exhaust
    to do it with and makes that exhaust hotter, and the control unit answers with ignition: these pull both ways, so
    part of the mean is kept and all of it doubted. A warm start works by them alone. Boost itself is set apart: in the
    balance its extra work and its extra exhaust nearly cancel, and what a controller needs for one more kilopascal is
    a property of the car.
    """
    air = KEPT_OF_INLET_WORK * DUTY_PER_GATE_AREA * GATE_AREA["inlet_kelvin"]
    start = DUTY_PER_GATE_AREA * GATE_AREA["flow_percent"] * _air_flow(state)["charge_temperature_start"].mean
    return {
        "air_temperature": Effect(air, 1.15 * air, ORIGIN_DUTY),
        "air_pressure": Effect(-0.8, 0.4, "a higher barometer asks for a lower pressure ratio; size doubtful"),
        "humidity": Effect(0.3, 0.35, "damp air burns cooler and leaves the turbine less; common practice, no source"),
        "charge_temperature_start": Effect(-start, start, "flow and exhaust temperature pull both ways: no safe sign"),
        "boost": Effect(0.7, 0.35, "one point of duty moves boost by about 1.5 kPa; common practice, no source"),
        "start_speed": Effect(0.0, 0.0005, "control settles later after a late start; common practice, no source"),
    }


_FAMILIES: Mapping[str, Callable[[AirState], dict[str, Effect]]] = MappingProxyType(
    {"air flow": _air_flow, "power": _power, "time": _time, "duty": _duty, "ignition": _ignition}
)

_LOOSENESS: Mapping[str, float] = MappingProxyType({"spool": 1.0, "gate": 1.3})
"""How much more doubtful than the arrival of boost a measure of spooling up is. Control decides when a gate opens."""


def mixture_effects(prior: MeasurePrior, level: float) -> Mapping[str, Effect]:
    """What a degree of ignition or a hundredth of lambda does: not adjusted for, but it can explain a difference.

    A degree of retard counts as a degree of ignition the other way. Keys `ignition` [per deg of advance] and `lambda`
    [per 0.01].
    """
    degree = DUTY_PER_GATE_AREA * GATE_AREA["exhaust_kelvin"] * EXHAUST_KELVIN_PER_DEGREE
    hundredth = DUTY_PER_GATE_AREA * GATE_AREA["exhaust_kelvin"] * EXHAUST_KELVIN_PER_LAMBDA / 100.0
    practice = "common practice, no source"
    table = {
        "duty": (Effect(degree, 0.5 * degree, ORIGIN_DUTY), Effect(hundredth, 0.6 * abs(hundredth), ORIGIN_DUTY)),
        "power": (Effect(1.0, 0.5, practice), Effect(0.0, 0.3, practice)),
        "time": (Effect(TIME_PER_POWER, 0.5, practice), Effect(0.0, 0.3, practice)),
    }
    if prior.covers not in table:
        return {}
    found = dict(zip(("ignition", "lambda"), table[prior.covers], strict=True))
    return _scaled(found, prior.in_unit(1.0, level))
